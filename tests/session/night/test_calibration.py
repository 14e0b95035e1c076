"""Calibration frames: flats in the light that each filter needs, narrowest first; darks by the observer's list."""

import datetime
import itertools
from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import AltAz, EarthLocation, get_sun
from astropy.time import Time

from planner.errors import InvalidInputError
from planner.files.equipment import load_equipment
from planner.files.forms.session import calibration_frames
from planner.files.own_files import packaged_data
from planner.files.targets import find_targets
from planner.session.night.calibration import Calibration, flat_turns
from planner.session.night.plan import plan_night
from planner.session.night.report.words import good_text
from planner.session.projects.default_request import default_request
from planner.visibility import night

DEMO = load_equipment(packaged_data("equipment.toml"))
RIG, HILL = DEMO.rig("nebulae"), DEMO.site("hill")
DATE = datetime.date(2026, 12, 5)
WHERE = EarthLocation.from_geodetic(HILL.longitude, HILL.latitude, HILL.height)


def turns(count=20, site=HILL, rig=RIG):
    return flat_turns(rig.filters, night(site, DATE), rig, site, count)


def sun(mjd_tt):
    """Return the Sun's altitude by a library [deg]."""
    times = Time(mjd_tt, format="mjd", scale="tt")
    return get_sun(times).transform_to(AltAz(obstime=times, location=WHERE)).alt.deg


def test_flats_wait_for_the_sun_and_the_narrowest_filter_is_first():
    found = turns()
    names = [turn.band.name for turn in found]
    assert sorted(names) == sorted(band.name for band in RIG.filters)
    assert {names[0], names[1], names[2]} == {"Ha", "OIII", "SII"}
    assert names[-1] == "L"
    for turn in found:
        # Sunset is at -0.83 deg (USNO, Rise, Set and Twilight Definitions).
        assert sun(turn.start) < -0.82
        assert min(turn.lengths) * 1.001 >= 1
        assert max(turn.lengths) <= 30
    for before, after in itertools.pairwise(found):
        assert after.start >= before.end - 1e-9


def test_lengths_grow_as_twilight_fades_by_the_published_slope():
    # F. Patat et al. 2006, A&A 455, 385, table 1: zenith brightness in V, a1 + 2 a2 x mag/deg from 5 deg on, x the
    # depth beyond it; before that the first slope is carried on.
    for turn in turns():
        if turn.band.name != "G":
            continue
        depths = -sun(np.array([turn.start, turn.end]))
        middle = max(depths.mean() - 5, 0)
        magnitudes = (1.518 - 2 * 0.057 * middle) * (depths[1] - depths[0])
        # 15 %: the band is not V; the last frame begins one frame before the end.
        assert turn.lengths[1] / turn.lengths[0] == pytest.approx(10 ** (0.4 * magnitudes), rel=0.15)
        return
    raise AssertionError("G has no flats")


def test_the_level_is_that_of_the_published_twilight():
    # The same table: 11.84 mag/arcsec2 in V at 5 deg of depression. V at magnitude 0: 3.64e-20 erg s-1 cm-2 Hz-1
    # (Bessell 1979, PASP 91, 589), 3.64e-20 / 6.626e-27 / 545 nm = 1.0e8 photons s-1 m-2 nm-1.
    slow = replace(RIG, camera=replace(RIG.camera, full_well=1.2e5 * u.electron))
    turn = next(turn for turn in turns(rig=slow) if turn.band.name == "G")
    depth = -sun(turn.start)
    magnitude = 11.84 + 1.518 * (depth - 5)
    telescope, camera = slow.telescope, slow.camera
    area = np.pi / 4 * telescope.aperture.to_value(u.m)**2 * (1 - telescope.obstruction**2)
    scale = 206265 * (camera.pixel_pitch / telescope.focal_length).to_value(u.one)
    rate = (1.0e8 * 10 ** (-0.4 * magnitude) * turn.band.width.to_value(u.nm) * area * scale**2
            * telescope.transmission * turn.band.transmission * camera.quantum_efficiency)
    # 25 %: G is bluer than V (table 1: B and V differ by 0.1 mag per deg), the zero point in round figures.
    assert turn.lengths[0] == pytest.approx(0.5 * 1.2e5 / rate, rel=0.25)


def test_what_does_not_fit_at_dusk_is_left_to_the_dawn_in_reverse():
    found, middle = turns(60), Time(night(HILL, DATE).middle).tt.mjd
    dusk, dawn = ([turn for turn in found if (turn.start < middle) == side] for side in (True, False))
    assert dusk
    assert dawn
    assert {turn.band.name for turn in dusk}.isdisjoint({turn.band.name for turn in dawn})
    for turn in dawn:
        assert sun(turn.end) < -0.82
    widths = [turn.band.width.value for turn in dawn]
    assert widths == sorted(widths, reverse=True)


def test_under_the_midnight_sun_there_are_none():
    north = replace(HILL, latitude=75 * u.deg)
    assert flat_turns(RIG.filters, night(north, datetime.date(2026, 6, 21)), RIG, north, 20) == ()


def test_the_observer_says_what_is_taken():
    requests = [default_request(target, RIG) for target in find_targets(["NGC 7331"])]
    frames = calibration_frames("--calibration", "flats=30, Dark-Flats=25, bias=50")
    assert frames == Calibration(flats=30, darks=20, dark_flats=25, bias=50)
    found = plan_night(requests, RIG, HILL, DATE, calibration=frames)
    texts = {kind: " ".join(event.text for event in found.events if event.kind == kind) for kind in ("flats", "darks")}
    assert "30 flats of L" in texts["flats"]
    assert "25 dark flats each as long as the flats of" in texts["darks"]
    assert "50 bias" in texts["darks"]
    bare = plan_night(requests, RIG, HILL, DATE, calibration=Calibration(flats=0, darks=0))
    assert not {"flats", "darks"} & {event.kind for event in bare.events}
    assert "every length is a set of darks" in good_text(found)
    assert "no darks are taken" in good_text(bare)
    assert "set of darks" not in good_text(bare)


@pytest.mark.parametrize(("text", "message"), [
    ("flat=20", "must be numbers of flats, darks, dark-flats, bias"), ("flats", "must be numbers"),
    ("flats=-1", "must be numbers"), ("flats=2000", "must be at most 1000")])
def test_lists_that_are_none(text, message):
    with pytest.raises(InvalidInputError, match=message):
        calibration_frames("--calibration", text)
