"""The sweep of a catalogue: fit, hours, time needed, and the order that follows from them."""

import numpy as np
import pytest
from astropy import units as u
from exposure.parts import recommend_sub_exposure
from exposure.rigs import GREEN, HYDROGEN, rig
from numpy.testing import assert_allclose
from session.year.test_season import PLACE, SOUTH

from planner.errors import InvalidInputError
from planner.exposure import integration_time, observing_scene
from planner.files.targets.catalogue import all_objects
from planner.session.worth.usefulness import usefulness
from planner.session.year.objects import fit_in_field, fitting_objects, hours_needed
from planner.session.year.season import season
from planner.visibility import Target
from planner.visibility.target import SkyObjects

RIG = rig(filters=(GREEN, HYDROGEN))  # field 1.35 x 0.90 deg


def objects(*rows):
    """Return made-up objects: name, kind, ra, dec, size, magnitude."""
    name, kind, ra, dec, size, magnitude = (np.array(column) for column in zip(*rows, strict=True))
    return SkyObjects(name=name, common_name=np.array([""] * len(rows)), kind=kind, ra=ra * u.deg, dec=dec * u.deg,
                      size_major=size * u.arcmin, size_minor=size / 2 * u.arcmin, magnitude=magnitude * u.mag,
                      surface_brightness=np.full(len(rows), np.nan) * u.mag / u.arcsec**2,
                      line_brightness=np.full(len(rows), np.nan) * u.R)


@pytest.mark.parametrize(("major", "minor", "fit"), [
    (24, 12, 24 / 80 / 0.3),  # a third of the way: 0.3 of the field's longer side fills it
    (12, 6, 0.5), (40, 10, 1), (72, 10, 1), (10, 54, 1), (160, 10, (0.9 / 2) ** 2), (40, np.nan, 1),
    (60, 60, (0.9 / 1) ** 2), (0.1, 0.1, 0.1 / 60 / 0.3)])
def test_fit_in_a_field_of_80_by_60_arcmin(major, minor, fit):
    both = (np.array([major]) * u.arcmin, np.array([minor]) * u.arcmin)
    if minor == 54:  # the catalogue's larger size is always named first
        both = both[::-1]
    for sides in ((80, 60), (60, 80)):
        found = fit_in_field(*both, *(sides * u.arcmin))
        assert_allclose(found, min(fit, 1))


def test_time_needed_is_that_of_the_integration():
    # Independent route: the scene and CCD equation of `integration_time`, at the zenith, on a perfect mount.
    measure = usefulness(RIG, PLACE, GREEN)
    table = objects(("a", "galaxy", 0.0, 45.0, 10.0, 8.5), ("b", "galaxy", 0.0, 45.0, 10.0, 12.0))
    time, assumed = hours_needed(table, measure, 10.0)
    assert not assumed.any()
    for at in range(2):
        # m + 2.5 lg(area), an ellipse of 10 by 5 arcmin
        brightness = table.magnitude[at].value + 2.5 * np.log10(np.pi / 4 * 600 * 300)
        scene = observing_scene(RIG, PLACE, GREEN, declination=45 * u.deg, hour_angle=[-0.01, 0.01] * u.hourangle,
                                brightness=brightness * u.mag / u.arcsec**2)
        sub = recommend_sub_exposure(scene)
        expected = integration_time(scene, sub, signal_to_noise=10.0, area=25 * u.arcsec**2)
        whole = expected.clock_time.to_value(u.h) / expected.frames
        # One frame: it comes in whole ones. 3 %: the best sub of a brighter source is another.
        assert_allclose(time[at].to_value(u.h), expected.clock_time.to_value(u.h), rtol=0.03, atol=whole)


def test_a_cluster_makes_its_nebula_no_fainter_than_a_typical_one():
    # Stars of magnitude 6.5 spread over two degrees are 25 mag/arcsec2: the gas that is photographed is not.
    table = objects(("a", "cluster with nebula", 0.0, 45.0, 120.0, 6.5), ("b", "nebula", 0.0, 45.0, 120.0, np.nan),
                    ("c", "cluster with nebula", 0.0, 45.0, 80.0, 3.0))
    time, assumed = hours_needed(table, usefulness(RIG, PLACE, GREEN), 10.0)
    assert list(assumed) == [True, True, False]
    assert time[0] == time[1] > time[2]


def test_hours_are_those_of_the_season():
    table = objects(("a", "galaxy", 339.3, 34.4, 40.0, 9.0))
    found = fitting_objects(table, RIG, PLACE, "2026-09-12", nights=30)
    row = season([Target("a", 339.3 * u.deg, 34.4 * u.deg)], RIG, PLACE, "2026-09-12", nights=30).targets[0]
    assert_allclose(found.useful[0].value, row.total.value, rtol=0.01)
    assert_allclose(found.up[0].value, row.up.sum().value, rtol=1e-4)


def test_the_figure_is_what_it_says_and_orders():
    found = fitting_objects(all_objects(), RIG, PLACE, "2026-11-25", count=50)
    hours, time = found.useful.value, found.time.value
    best = hours / (found.figure / found.fit * (hours + time) / hours)
    assert_allclose(best, best[0])  # one and the same best placed object for all
    assert np.all(best >= hours - 1e-9)
    assert np.all(np.diff(found.figure) <= 1e-12)
    assert len(found.objects) == 50
    assert found.considered > 12000
    assert found.considered >= 50 + sum(found.left_out.values())


def test_what_everybody_images_in_its_season_is_found():
    # Common practice, no source: the great galaxies and nebulae of an autumn and a winter sky, of 13,000 objects. (NGC
    # 7000 and 1976 fill or overflow this field at their true size, hence not among the first 40.)
    wide = rig(filters=(GREEN, HYDROGEN), telescope__focal_length=400 * u.mm, telescope__aperture=80 * u.mm)
    autumn = set(fitting_objects(all_objects(), wide, PLACE, "2026-10-10", count=100).objects.name)
    assert {"NGC 224", "NGC 7000"} <= autumn
    winter = set(fitting_objects(all_objects(), wide, PLACE, "2027-01-08", count=100).objects.name)
    assert {"NGC 1976", "Mel 22"} <= winter
    south = set(fitting_objects(all_objects(), wide, SOUTH, "2026-05-15", count=100).objects.name)
    assert "NGC 3372" in south
    assert not south & {"NGC 7000", "Mel 22"}


def test_a_narrow_band_shows_glowing_gas_only_and_says_where_it_assumes():
    found = fitting_objects(all_objects(), RIG, PLACE, "2026-09-26", band=HYDROGEN, count=100)
    assert set(found.objects.kind) <= {"emission nebula", "cluster with nebula", "planetary nebula",
                                       "supernova remnant", "nebula"}
    known = np.isfinite(found.objects.line_brightness.value)
    assert known.any()
    assert np.array_equal(found.assumed, ~known)
    assert found.left_out["without glowing gas"] > 8000


def test_a_kind_alone():
    found = fitting_objects(all_objects(), RIG, PLACE, "2026-11-25", count=5, kind="galaxy")
    assert set(found.objects.kind) == {"galaxy"}


def test_nothing_suits_is_an_answer():
    found = fitting_objects(all_objects(), RIG, PLACE, "2026-06-21", kind="planetary", lowest_altitude=89.9 * u.deg)
    assert len(found.objects) == 0
    assert sum(found.left_out.values()) == found.considered


@pytest.mark.parametrize(("changes", "message"), [
    ({"kind": "teapot"}, "kind = teapot: is not in the catalogue"),
    ({"count": 0}, "count = 0: must be at least 1"), ({"count": 1001}, "must be at most 1000"),
    ({"signal_to_noise": 0.0}, "must be more than 0"), ({"nights": 400}, "must be at most 366")])
def test_silly_sweeps_are_refused(changes, message):
    with pytest.raises(InvalidInputError, match=message):
        fitting_objects(all_objects(), RIG, PLACE, "2026-11-25", **changes)


def test_what_one_frame_shows_takes_one_row():
    # Half of the field's shorter side is 27': 20' beside the best and small it is in its frames, 40' beside it is not.
    table = objects(("best", "galaxy", 20.0, 45.0, 40.0, 8.5), ("beside", "galaxy", 20.0, 45.0 + 20 / 60, 16.0, 9.0),
                    ("apart", "galaxy", 20.0, 45.0 + 40 / 60, 16.0, 9.0))
    found = fitting_objects(table, RIG, PLACE, "2026-11-10", band=GREEN)
    assert found.objects.name.tolist() == ["best", "apart"]
    assert found.in_field == (("beside",), ())
    assert (found.also(0), found.also(1)) == ("with beside", "")
    assert found.left_out["in the field of one that is listed"] == 1
    alone = fitting_objects(table, RIG, PLACE, "2026-11-10", band=GREEN, count=1)
    assert alone.objects.name.tolist() == ["best"]
