"""Figures set to another value: the same as if the equipment file said so."""

import dataclasses

import pytest
from astropy import units as u

from planner.errors import InvalidInputError
from planner.files.equipment import load_equipment
from planner.files.equipment.what_if import with_changes
from planner.files.own_files import packaged_data

OWNED = load_equipment(packaged_data("equipment.toml"))
RIG, SITE = OWNED.rig("nebulae"), OWNED.site()
BAND = RIG.filters[0]


def test_each_part_is_changed_where_it_stands_and_nothing_else():
    rig, site, band = with_changes(RIG, SITE, BAND, [
        "mount.polar_altitude_error=1arcmin", "mount.polar_azimuth_error = -90 arcsec", "site.seeing=1.8",
        "telescope.obstruction=0.1", "camera.colour=bayer", "rig.binning=2", "filter.width=7 nm"])
    assert site == dataclasses.replace(SITE, seeing=1.8 * u.arcsec)
    assert band == dataclasses.replace(BAND, width=7 * u.nm)
    assert rig.mount.polar_altitude_error == 1 * u.arcmin
    assert rig.mount.polar_azimuth_error == -1.5 * u.arcmin
    assert (rig.telescope.obstruction, rig.camera.colour, rig.binning) == (0.1, "bayer", 2)
    assert rig.filters[0] == band
    assert rig.filters[1:] == RIG.filters[1:]
    assert rig.guider == RIG.guider
    assert with_changes(RIG, SITE, BAND, []) == (RIG, SITE, BAND)


def test_the_periodic_error_is_the_one_peak_to_peak_that_is_told():
    amplitudes = [term.amplitude.value for term in RIG.mount.periodic]
    rig, site, band = with_changes(RIG, SITE, BAND, ["mount.periodic_error=5arcsec"])
    assert 2 * sum(term.amplitude.value for term in rig.mount.periodic) == pytest.approx(5)
    assert [term.amplitude.value * 2 * sum(amplitudes) / 5 for term in rig.mount.periodic] == pytest.approx(amplitudes)
    assert dataclasses.replace(rig, mount=RIG.mount) == RIG
    assert (site, band) == (SITE, BAND)
    even = dataclasses.replace(RIG, mount=dataclasses.replace(RIG.mount, periodic=()))
    with pytest.raises(InvalidInputError, match="has no periodic term to scale"):
        with_changes(even, SITE, BAND, ["mount.periodic_error=5arcsec"])


@pytest.mark.parametrize(("change", "match"), [
    ("mount.periodic=5", "Did you mean periodic_error"), ("mount.periodic_error=-1", "must be at least 0 arcsec"),
    ("mount.periodic_error=5 kg", "must have a unit like arcsec"), ("site.periodic_error=5", "is no figure of a site"),
    ("mount.jiter=1", "Did you mean jitter"), ("mout.jitter=1", "Did you mean mount"),
    ("mount.jitter", "must be a table"),
    ("=1", "must be a table"), ("mount.jitter=", "must be a table"), ("mount.jitter=-1", "must be at least 0 arcsec"),
    ("mount.jitter=1 kg", "must have a unit like arcsec"), ("site.seeing=2,5", "Write a decimal point"),
    ("rig.binning=2.5", "must be a whole number"), ("rig.binning=nan", "must be a finite number"),
    ("telescope.obstruction=x", "must be a finite number"), ("rig.filters=L", "is no figure of a rig"),
    ("mount.name=x", "is no figure"), ("guider.off_axis=maybe", "must be true or false"),
    ("camera.columns=1e999", "must be a finite number"),
])
def test_what_is_no_figure_is_one_line(change, match):
    with pytest.raises(InvalidInputError, match=match):
        with_changes(RIG, SITE, BAND, [change])


def test_a_part_that_the_rig_lacks_is_named():
    with pytest.raises(InvalidInputError, match="has no guider"):
        with_changes(dataclasses.replace(RIG, guider=None), SITE, BAND, ["guider.aperture=60"])
