"""What a night's frames count for, and that night, year and record count in one measure."""

import dataclasses
import datetime
from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from astropy.time import Time
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.exposure.scene import over_window
from planner.files.equipment import load_equipment
from planner.files.targets import find_target
from planner.rig.site import HorizonProfile
from planner.session.night.done_worth import counted_hours
from planner.session.night.motion import mount_motion
from planner.session.night.plan import plan_night
from planner.session.night.slots.slot_worth import (
    area_growth,
    filter_worths,
    kept_of_useful,
    sky_over_night,
    zenith_speed,
)
from planner.session.projects.request import Need, Request
from planner.session.worth.usefulness import usefulness

OWNED = load_equipment(None)
RIG, SITE = OWNED.rig("nebulae"), OWNED.site("hill")
TARGET = find_target("NGC 7331")
DARK, MOONLIT = "2026-11-10", "2026-11-24"  # Moon 3 % and 100 % lit


def band_of(name):
    return next(band for band in RIG.filters if band.name == name)


@pytest.mark.parametrize("name", ["L", "Ha"])
@pytest.mark.parametrize("night", [DARK, MOONLIT])
def test_useful_hours_times_the_zenith_speed_are_the_equivalent_hours_of_a_plan(night, name):
    band = band_of(name)
    times = Time(f"{night}T18:00:00") + np.linspace(0, 5, 21) * u.h
    sky = sky_over_night([TARGET], SITE, times)
    motion = mount_motion(TARGET, RIG, SITE, band, np.linspace(*sky.hour_angle[0][[0, -1]], 9))
    (worth,) = filter_worths([TARGET], [motion], RIG, SITE, band, sky, area_growth(RIG, SITE, sky))
    useful = usefulness(RIG, SITE, band).of(
        sky.altitude[0], moon_altitude=sky.moon.apparent_altitude, moon_separation=sky.moon_separation[0],
        moon_phase_angle=sky.moon.phase_angle, sun_altitude=sky.sun_altitude)
    # 7 %: a plan shortens the subs when the sky is bright, a useful hour keeps those of the dark zenith.
    equivalent, kept = useful.value * zenith_speed(RIG, SITE, band, motion), motion.at(sky.hour_angle[0])[0].max((0, 1))
    assert_allclose(equivalent[kept > 0.9], worth.best[kept > 0.9], rtol=0.07)
    (share,) = kept_of_useful(usefulness(RIG, SITE, band), [motion])
    assert 0.8 < share <= 1
    if night == DARK:  # without Moon, of all hours together
        assert_allclose(over_window(equivalent) * share, over_window(worth.best), rtol=0.03)


def test_no_slot_brings_more_than_the_dark_zenith():
    """In good seeing the air draws stars out low down, where the mount adds too much: the mean is no zenith."""
    site = dataclasses.replace(SITE, seeing=1.1 * u.arcsec)
    times, band = Time(f"{DARK}T18:00:00") + np.linspace(0, 6, 25) * u.h, band_of("L")
    sky = sky_over_night([TARGET], SITE, times)
    motion = mount_motion(TARGET, RIG, site, band, np.linspace(*sky.hour_angle[0][[0, -1]], 9))
    (worth,) = filter_worths([TARGET], [motion], RIG, site, band, sky, area_growth(RIG, site, sky))
    at_most = zenith_speed(RIG, site, band, motion, over=np.max)
    assert zenith_speed(RIG, site, band, motion) < 0.9 * worth.best.max() <= at_most
    plan = plan_night((Request(target=TARGET, needs=(Need(band=band, hours=2 * u.h),)),), RIG, site, DARK)
    assert 0.8 < plan.dark_shares["broad bands"] <= 1


def test_frames_of_a_plan_count_for_what_the_plan_counted():
    band = band_of("L")
    plan = plan_night((Request(target=TARGET, needs=(Need(band=band, hours=2 * u.h),)),), RIG, SITE, DARK)
    block = max(plan.blocks, key=lambda one: one.sub_count)
    found = counted_hours(TARGET, RIG, SITE, band, plan.date, (block.sub_count * block.sub_exposure).to(u.h),
                          sub_exposure=block.sub_exposure, start=block.start)
    # All frames kept are a little more than the plan expects to keep.
    assert 1 <= (found.hours / block.equivalent_hours).to_value(u.one) < 1.06
    assert abs((found.end - block.end).to_value(u.min)) < 0.06 * (block.end - block.start).to_value(u.min) + 1


@pytest.mark.parametrize(("name", "least", "most"), [("L", 0.0, 0.2), ("Ha", 0.2, 0.8)])
def test_moonlight_counts_less_and_less_so_in_a_narrow_band(name, least, most):
    dark, lit = (counted_hours(TARGET, RIG, SITE, band_of(name), night, 2 * u.h).hours for night in (DARK, MOONLIT))
    assert dark < 2 * u.h
    assert least < (lit / dark).to_value(u.one) < most


def test_without_a_start_the_best_stretch_is_taken():
    band = band_of("L")
    best = counted_hours(TARGET, RIG, SITE, band, DARK, 1 * u.h)
    for hour in (18, 20, 22):
        other = counted_hours(TARGET, RIG, SITE, band, DARK, 1 * u.h, start=Time(f"{DARK}T{hour}:00:00"))
        assert other.hours <= best.hours * 1.001


def test_half_of_the_frames_count_for_half():
    band, start = band_of("L"), Time(f"{DARK}T18:30:00")
    whole, half = (counted_hours(TARGET, RIG, SITE, band, DARK, hours * u.h, sub_exposure=180 * u.s, start=start).hours
                   for hours in (1.0, 0.5))
    assert_allclose(half / whole, 0.5, rtol=0.02)  # the sky changes a little meanwhile


@pytest.mark.parametrize("start", [None, Time(f"{DARK}T18:30:00")])
def test_more_than_the_target_is_clear_counts_no_more(start):
    band, by_hours = band_of("L"), []
    site = replace(SITE, horizon=HorizonProfile(azimuth=[0, 250, 250, 359] * u.deg, altitude=[0, 0, 80, 80] * u.deg))
    for hours in (0.5, 1, 1.5, 14):
        by_hours.append(counted_hours(TARGET, RIG, site, band, DARK, hours * u.h, start=start))
    clear = by_hours[0].clear
    assert 0.5 * u.h < clear < 3 * u.h
    assert by_hours[-1].hours < clear  # a sky no better than the dark zenith
    assert (by_hours[-1].end - by_hours[-1].start) < clear + 6 * u.min
    counted = [found.hours.value for found in by_hours]
    assert counted == sorted(counted)
    at_all, beyond = (counted_hours(TARGET, RIG, site, band, DARK, share * clear, start=start).hours
                      for share in (0.999, 1.001))
    assert_allclose(beyond / at_all, 1, rtol=0.01)  # no step where it goes behind the skyline


def test_more_than_from_sunset_to_sunrise_is_refused():
    # 16:30 to 06:58 CET.
    with pytest.raises(InvalidInputError, match=r"open shutter = 15\.00 h: must be at most the 14\.5 h from sunset to"):
        counted_hours(TARGET, RIG, SITE, band_of("L"), DARK, 15 * u.h)


def test_a_mount_that_the_model_would_send_home_still_counts_what_was_kept():
    shaky = replace(RIG, guider=None, mount=replace(RIG.mount, jitter=10 * u.arcsec))
    found = counted_hours(TARGET, shaky, SITE, band_of("L"), DARK, 1 * u.h, sub_exposure=600 * u.s)
    assert np.isfinite(found.hours)
    assert found.hours > 0 * u.h


def test_a_target_that_is_not_up_has_no_count():
    assert counted_hours(find_target("NGC 3372"), RIG, SITE, band_of("L"), DARK, 1 * u.h) is None


def test_a_start_where_nothing_is_up_is_refused_with_the_time_that_was():
    with pytest.raises(InvalidInputError, match=r"start = 04:00 CET: must lie where the target is up in the dark\. "
                                                r"That was from 18:15 CET to"):
        counted_hours(TARGET, RIG, SITE, band_of("L"), datetime.date(2026, 11, 10), 1 * u.h,
                      start=Time("2026-11-11T03:00:00"))
