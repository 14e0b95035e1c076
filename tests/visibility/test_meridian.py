"""Pier sides and flips: cases worked by hand in hour angle (15.041 deg per hour)."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose
from visibility.rising import pier_sides
from visibility.test_night import site_of

from planner.errors import InvalidInputError
from planner.rig import Mount
from planner.visibility import Target, meridian_plan, night, target_window

SITE = site_of(45, 7, "Europe/Rome")
TONIGHT = night(SITE, "2026-11-25")
DEGREES_PER_HOUR = 15.04107  # IERS Conventions (2010): one turn in 86164.0905 s


def mount_of(past=0, before=0, **more):
    return Mount(name="m", tracks_past_meridian=past * u.deg, starts_before_meridian=before * u.deg,
                 flip=4 * u.min, **more)


def window_of(mount, ra=60, dec=20, lowest=30, tonight=TONIGHT, site=SITE):
    return target_window(Target("t", ra * u.deg, dec * u.deg), site, tonight, minimum_altitude=lowest * u.deg,
                         mount=mount)


def minutes(later, earlier):
    return (later - earlier).to_value(u.min)


def test_telescope_east_of_the_pier_looks_west():
    west, east = pier_sides([-60, -1, 0, 1, 60, 179, -179] * u.deg, mount_of())
    assert west.tolist() == [True, True, True, False, False, False, True]
    assert east.tolist() == [False, False, True, True, True, True, False]


def test_over_travel_holds_at_the_lower_transit_too():
    # 10 deg past and 5 before: west from -185 to 10, east from -5 to 190.
    west, east = pier_sides([-4, 6, 11, -6, 176, 174, -171, -169] * u.deg, mount_of(past=10, before=5))
    assert west.tolist() == [True, True, False, True, True, False, True, True]
    assert east.tolist() == [True, True, True, False, True, True, True, False]


def test_a_flip_at_the_meridian_without_any_slack():
    window = window_of(mount_of())
    plan = meridian_plan(window, mount_of())
    (flip,) = plan.flips
    assert plan.needed
    assert flip.side == "east"
    for moment in (flip.earliest, flip.latest, flip.planned):
        assert abs(minutes(moment, window.transit)) < 1e-3
    assert_allclose(flip.lost.value, 4)
    assert "turns by 180 deg" in plan.reason


def test_earliest_and_latest_are_the_mount_s_hour_angles():
    mount = mount_of(past=10, before=5)
    window = window_of(mount)
    (flip,) = meridian_plan(window, mount).flips
    assert_allclose(minutes(flip.latest, window.transit), 10 / DEGREES_PER_HOUR * 60, atol=1e-3)
    assert_allclose(minutes(flip.earliest, window.transit), -5 / DEGREES_PER_HOUR * 60, atol=1e-3)
    assert abs(minutes(flip.planned, window.transit)) < 1e-3


@pytest.mark.parametrize(("sub", "overhead"), [(60, 2), (300, 10), (600, 0), (1200, 5)])
def test_the_flip_is_on_a_sub_boundary_when_there_is_slack(sub, overhead):
    mount = mount_of(past=10, before=5)
    window = window_of(mount)
    (flip,) = meridian_plan(window, mount, sub_exposure=sub * u.s, overhead=overhead * u.s).flips
    count = (flip.planned - window.windows[0][0]).to_value(u.s) / (sub + overhead)
    assert_allclose(count, round(count), atol=1e-4)
    assert flip.earliest <= flip.planned <= flip.latest
    assert flip.planned == flip.last_sub_ends
    assert_allclose(flip.lost.value, 4, atol=1e-6)
    # No boundary is nearer the meridian, of those allowed.
    assert abs((flip.planned - window.transit).to_value(u.s)) <= (sub + overhead) / 2 + 0.01 or sub > 600


def test_without_slack_the_telescope_waits_from_the_last_boundary():
    window = window_of(mount_of())
    (flip,) = meridian_plan(window, mount_of(), sub_exposure=600 * u.s).flips
    wait = minutes(flip.planned, flip.last_sub_ends)
    assert 0 < wait < 10
    assert_allclose(flip.lost.value, wait + 4, atol=1e-6)
    assert abs(minutes(flip.planned, window.transit)) < 1e-3
    count = minutes(flip.last_sub_ends, window.windows[0][0]) / 10
    assert_allclose(count, round(count), atol=1e-4)


@pytest.mark.parametrize(("change", "words"), [
    ({"past": 100}, "far enough"), ({"before": 100}, "far enough"), ({"design": "fork"}, "fork")])
def test_a_mount_that_needs_no_flip(change, words):
    mount = mount_of(**change)
    plan = meridian_plan(window_of(mount), mount)
    assert plan.flips == ()
    assert not plan.needed
    assert words in plan.reason


@pytest.mark.parametrize(("ra", "words", "side"), [
    (330, "after the meridian: no flip, telescope east of the pier", "east"),
    (170, "before the meridian: no flip, telescope west of the pier", "west")])
def test_a_target_on_one_side_all_night(ra, words, side):
    plan = meridian_plan(window_of(mount_of(), ra=ra), mount_of())
    assert plan.flips == ()
    assert words in plan.reason
    assert {stretch.side for stretch in plan.stretches} == {side}


def test_the_sides_share_the_window():
    window = window_of(mount_of())
    hours = [stretch.hours.value for stretch in meridian_plan(window, mount_of()).stretches]
    assert_allclose(sum(hours), window.hours.value, atol=1e-6)


def test_sides_that_do_not_meet_leave_a_gap():
    # The mount stops 5 deg before the meridian and begins 3 deg after it: 8 deg are 32 min, and only then it turns.
    mount = mount_of(past=-5, before=-3)
    window = window_of(mount)
    (_, first_end), (second_start, _) = window.windows
    assert_allclose(minutes(second_start, first_end), 8 / DEGREES_PER_HOUR * 60, atol=1e-3)
    (flip,) = meridian_plan(window, mount).flips
    assert flip.planned == second_start
    assert flip.last_sub_ends == first_end
    assert_allclose(flip.lost.value, 4 + 8 / DEGREES_PER_HOUR * 60, atol=1e-3)


def test_a_window_found_without_the_mount_is_planned_over_its_gap():
    window = window_of(None)
    (flip,) = meridian_plan(window, mount_of(past=-5, before=-3)).flips
    assert_allclose(minutes(flip.planned, flip.last_sub_ends), 8 / DEGREES_PER_HOUR * 60, atol=1e-3)
    assert flip.latest < flip.earliest


def test_a_long_polar_night_flips_at_both_transits():
    site = site_of(80, 0)
    tonight = night(site, "2026-12-20")
    mount = mount_of(past=2, before=2)
    window = window_of(mount, ra=330, dec=70, tonight=tonight, site=site)
    assert_allclose(window.hours.value, tonight.dark_hours.value, atol=1e-6)
    plan = meridian_plan(window, mount)
    assert len(plan.flips) == 2
    assert {flip.side for flip in plan.flips} == {"west", "east"}
    apart = (plan.flips[1].planned - plan.flips[0].planned).to_value(u.h)
    assert_allclose(apart, 180 / DEGREES_PER_HOUR, atol=1e-3)


def test_stretches_cover_the_windows_and_respect_the_sides():
    rng = np.random.default_rng(3)
    for _ in range(40):
        mount = mount_of(past=rng.uniform(-10, 30), before=rng.uniform(-10, 30))
        window = window_of(mount, ra=rng.uniform(0, 360), dec=rng.uniform(-20, 89))
        plan = meridian_plan(window, mount, sub_exposure=300 * u.s)
        ends = sorted((stretch.start.mjd, stretch.end.mjd) for stretch in plan.stretches)
        covered, reach = 0.0, -np.inf
        for start, end in ends:
            covered += max(0.0, end - max(start, reach))
            reach = max(reach, end)
        assert_allclose(covered * 24, window.hours.value, atol=1e-4)
        for flip in plan.flips:
            assert flip.lost >= 0 * u.min
            assert flip.last_sub_ends <= flip.planned
            assert flip.last_sub_ends.mjd <= flip.latest.mjd + 1e-8


def test_in_the_south_the_sides_are_the_same():
    site = site_of(-33, 18)
    window = window_of(mount_of(past=10), dec=-50, tonight=night(site, "2026-11-25"), site=site)
    (flip,) = meridian_plan(window, mount_of(past=10)).flips
    assert flip.side == "east"
    assert flip.latest > window.transit


def test_no_window_no_flip():
    plan = meridian_plan(window_of(mount_of(), dec=-60), mount_of())
    assert (plan.needed, plan.flips, plan.stretches) == (False, (), ())
    assert plan.reason == "No window, so no flip."


@pytest.mark.parametrize(("options", "message"), [
    ({"sub_exposure": 0 * u.s}, "sub_exposure = 0.0 s: must be more than 0 s"),
    ({"sub_exposure": 60 * u.s, "overhead": -1 * u.s}, "overhead = -1.0 s: must be at least 0 s")])
def test_bad_options_are_refused(options, message):
    with pytest.raises(InvalidInputError, match=message):
        meridian_plan(window_of(mount_of()), mount_of(), **options)
