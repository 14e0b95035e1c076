"""Windows: against DE421, against brute force over the sky, and at their edges."""

import datetime
import re

import numpy as np
import pytest
from astropy import units as u
from astropy.time import Time
from numpy.testing import assert_allclose
from visibility import jpl
from visibility.rising import rise_set
from visibility.test_night import random_nights, site_of

from planner.errors import InvalidInputError
from planner.rig import HorizonProfile, Mount, Site
from planner.visibility import Target, night, night_windows, places, skyline, target_window, target_windows
from planner.visibility.earth_rotation import mjd_tt
from planner.visibility.kernels.air import air_at

RIDGE = HorizonProfile(azimuth=[20, 60, 60, 100, 100, 200, 300] * u.deg, altitude=[10, 15, 55, 55, 5, 20, 0] * u.deg)


def hours(windows):
    return sum((end - start).to_value(u.h) for start, end in windows)


def windows_against_jpl(count):
    """Hold so many random windows and transits against DE421."""
    # Asked for: windows within 10 s, transit within 2 s. Held to 1 arcsec of altitude at each edge (0.3 s where the
    # target changes by 0.8 deg a quarter of an hour) and 0.3 s in transit: 0.1 s is the difference of two UT1 tables.
    rng = np.random.default_rng(12)
    edges, transits, seen = [], [], 0
    for site, date in random_nights(count, 12):
        target = Target("t", rng.uniform(0, 360) * u.deg, np.degrees(np.arcsin(rng.uniform(-1, 1))) * u.deg)
        lowest = rng.uniform(5, 60)
        tonight = night(site, date)
        found = target_window(target, site, tonight, minimum_altitude=lowest * u.deg)
        star, true = jpl.star(target), air_at(site).true(lowest)
        expected = jpl.transits(site, star, found.transit - 0.2 * u.day, found.transit + 0.2 * u.day)
        transits += [jpl.seconds(found.transit, jd) * np.cos(target.dec) for jd in expected]
        if tonight.dark is None:
            assert found.windows == ()
            continue
        # The dark sampled every 4 min: up where the window says so, but for one sample at each edge.
        jd = np.arange(*(mjd_tt(time) + 2400000.5 for time in tonight.dark), 4 / 1440)
        up = jpl.altitude_deg(site, star, jd) > true
        assert abs(np.sum(up) / 15 - hours(found.windows)) <= (1 + len(found.windows)) / 15, (site, date, target)
        seen += bool(found.windows)
        for time in np.ravel(found.windows):
            if min(abs((time - edge).sec) for edge in tonight.dark) > 1e-3:
                around = mjd_tt(time) + 2400000.5 + np.array([-5, 5]) / 86400
                before, after = jpl.altitude_deg(site, star, around)
                edges.append(((before + after) / 2 - true) / (after - before) * 10)
    assert len(transits) == count
    assert seen > 0.36 * count
    assert len(edges) > 0.32 * count
    assert np.max(np.abs(transits)) < 0.3
    assert np.max(np.abs(edges)) < 2
    assert np.percentile(np.abs(edges), 90) < 0.3


def test_windows_and_transits_against_jpl():
    windows_against_jpl(80)


def test_two_targets_of_equal_right_ascension_get_different_answers():
    site = site_of(45, 7)
    tonight = night(site, "2026-11-25")
    found = night_windows([83.8, 83.8, 83.8] * u.deg, [-5.4, 40, -60] * u.deg, site, tonight,
                          minimum_altitude=20 * u.deg)
    assert found.hours[0] < found.hours[1] - 1 * u.h
    assert found.hours[2] == 0 * u.h
    assert len(set(found.maximum_altitude.value)) == 3
    # Precession since 2000 differs by 1.34 s a year times tan(dec): 27 years, tan 40 deg and tan -60 deg.
    assert_allclose((found.transit - found.transit[0]).sec, 27 * 1.34 * (np.tan(np.radians([-5.4, 40, -60])) + 0.09),
                    atol=6)


def test_many_targets_agree_with_one_at_a_time():
    rng = np.random.default_rng(5)
    ra, dec = rng.uniform(0, 360, 40) * u.deg, rng.uniform(-80, 80, 40) * u.deg
    site = Site(name="s", latitude=45 * u.deg, longitude=7 * u.deg, horizon=RIDGE)
    tonight, mount = night(site, "2026-11-25"), Mount(name="m", zenith_keep_out=4 * u.deg)
    many = night_windows(ra, dec, site, tonight, minimum_altitude=25 * u.deg, mount=mount)
    for at in range(40):
        one = target_window(Target("t", ra[at], dec[at]), site, tonight, minimum_altitude=25 * u.deg, mount=mount)
        assert_allclose(one.hours.value, many.hours[at].value, atol=1e-9)
        assert len(one.windows) == np.sum(many.index == at)
        assert one.reason == many.reason(at)
        assert bool(one.windows) == (one.reason == "")
        for (start, end), (first, last) in zip(one.windows, one.hour_angle, strict=True):
            place = places([one.target], site, Time([start, end]))
            turn = (place.hour_angle[0].value - [first.value, last.value]) % 360
            assert_allclose(np.minimum(turn, 360 - turn), 0, atol=2e-4)


def brute_force(target, site, tonight, lowest_deg, mount):
    """Decide every half minute of the dark from altitude, azimuth and hour angle alone."""
    start, end = tonight.dark
    times = start + np.arange(0, (end - start).to_value(u.s), 30) * u.s
    place = places([target], site, times)
    altitude, angle = place.apparent_altitude[0].to_value(u.deg), place.hour_angle[0].to_value(u.deg)
    up = (altitude >= lowest_deg) & (altitude <= 90 - mount.zenith_keep_out.to_value(u.deg))
    if site.horizon is not None:
        up &= altitude >= skyline(site.horizon, place.azimuth[0]).to_value(u.deg)
    past, before = mount.tracks_past_meridian.to_value(u.deg), mount.starts_before_meridian.to_value(u.deg)
    west = (angle + 180 + before) % 360 <= 180 + before + past
    east = (angle + before) % 360 <= 180 + before + past
    return np.sum(up & (west | east)) * 30 / 3600


@pytest.mark.parametrize("latitude", [47, -33, 3, 66, -78])
@pytest.mark.parametrize("over_travel", [-6, 0, 10])
def test_skyline_keep_out_and_sides_against_brute_force(latitude, over_travel):
    site = Site(name="s", latitude=latitude * u.deg, longitude=15 * u.deg, horizon=RIDGE)
    mount = Mount(name="m", zenith_keep_out=3 * u.deg, tracks_past_meridian=over_travel * u.deg,
                  starts_before_meridian=-2 * u.deg)
    tonight = night(site, "2026-03-10" if latitude > 0 else "2026-08-10")
    rng = np.random.default_rng(6)
    for _ in range(25):
        target = Target("t", rng.uniform(0, 360) * u.deg, np.degrees(np.arcsin(rng.uniform(-1, 1))) * u.deg)
        found = target_window(target, site, tonight, minimum_altitude=12 * u.deg, mount=mount)
        # 30 s per edge sampled; what a target passes in less than 2 min may be missed.
        expected = brute_force(target, site, tonight, 12, mount)
        assert abs(hours(found.windows) - expected) < (2 * len(found.windows) + 5) / 120, target


@pytest.mark.parametrize(("latitude", "dec"), [(66, 64), (66, 70), (48, 50), (48, 45), (-60, -58), (89, 88)])
def test_keep_out_under_a_level_horizon_against_brute_force(latitude, dec):
    site, mount = site_of(latitude, 15), Mount(name="m", zenith_keep_out=5 * u.deg, tracks_past_meridian=180 * u.deg)
    tonight = night(site, "2026-12-20" if latitude > 0 else "2026-06-20")
    for ra in range(0, 360, 45):
        target = Target("t", ra * u.deg, dec * u.deg)
        found = target_window(target, site, tonight, minimum_altitude=20 * u.deg, mount=mount)
        assert abs(hours(found.windows) - brute_force(target, site, tonight, 20, mount)) < 3 / 120


def test_a_wall_splits_the_night_in_two():
    # A tree from 60 to 100 deg of azimuth, 55 deg high: an eastern target is seen before and after it.
    site = Site(name="s", latitude=45 * u.deg, longitude=7 * u.deg, horizon=RIDGE)
    tonight = night(site, "2026-11-25")
    found = target_window(Target("t", 100 * u.deg, 42 * u.deg), site, tonight)
    assert len(found.windows) == 2
    walls = places([found.target], site, Time([found.windows[0][1], found.windows[1][0]])).azimuth[0].value
    assert walls[0] == pytest.approx(60, abs=0.01)
    assert 60 < walls[1] <= 100.01


def test_the_skyline_is_straight_between_points_and_closes_over_north():
    found = skyline(RIDGE, [20, 40, 59.999, 60, 60.001, 150, 340, 380, -40] * u.deg)
    # Between 300 deg (0) and 20 deg (10 deg high) over north: 340 deg is half way.
    assert_allclose(found.value, [10, 12.5, 15, 55, 55, 12.5, 5, 10, 2.5], atol=1e-3)


def test_one_point_is_a_level_horizon():
    level = HorizonProfile(azimuth=[77] * u.deg, altitude=[12] * u.deg)
    assert_allclose(skyline(level, [0, 77, 359] * u.deg).value, 12)
    site = Site(name="s", latitude=45 * u.deg, longitude=7 * u.deg, horizon=level)
    tonight = night(site, "2026-11-25")
    with_skyline = night_windows([10, 200] * u.deg, [20, 60] * u.deg, site, tonight)
    plain = night_windows([10, 200] * u.deg, [20, 60] * u.deg, site_of(45, 7), tonight, minimum_altitude=12 * u.deg)
    assert_allclose(with_skyline.hours.value, plain.hours.value, atol=1e-4)


def test_circumpolar_and_never_rising():
    site = site_of(60, 10)
    tonight = night(site, "2026-12-20")
    found = night_windows([0, 0] * u.deg, [85, -40] * u.deg, site, tonight, minimum_altitude=30 * u.deg)
    assert_allclose(found.hours[0].value, tonight.dark_hours.value, atol=1e-6)
    assert np.sum(found.index == 0) == 1  # one window, not cut at the lower transit
    assert found.reason(1) == "Never rises at this site."


def test_the_pole_star_from_the_pole_never_moves():
    found = target_window(Target("t", 10 * u.deg, 90 * u.deg), site_of(90, 0), night(site_of(90, 0), "2026-12-20"),
                          minimum_altitude=80 * u.deg)
    assert_allclose(found.hours.value, 24, atol=0.1)


def test_a_day_long_night_meets_every_transit():
    # 88 N in December: 24 h of dark, so every target passes its upper transit, 90 - 88 + dec deg high.
    site = site_of(88, 0)
    found = night_windows(np.arange(0, 360, 15) * u.deg, np.full(24, 40.0) * u.deg, site, night(site, "2026-12-21"))
    # 0.15 deg of precession since 2000, 0.02 deg of refraction, 0.006 deg of aberration.
    assert_allclose(found.maximum_altitude.value, 42, atol=0.18)
    assert np.ptp(found.maximum_altitude.value - places(
        [Target("t", ra * u.deg, 40 * u.deg) for ra in range(0, 360, 15)], site, found.night.middle
    ).declination.value) < 1e-3


def test_two_windows_in_one_long_night():
    # 60 N in December, 15 h of dark: what sets in the evening rises again before dawn.
    site = site_of(60, 10)
    found = target_window(Target("t", 260 * u.deg, 25 * u.deg), site, night(site, "2026-12-20"),
                          minimum_altitude=5 * u.deg)
    assert len(found.windows) == 2
    (_, evening_end), (morning_start, _) = found.windows
    assert evening_end < morning_start


def test_across_the_date_line_and_midnight_nothing_happens():
    target, answers = Target("t", 60 * u.deg, -20 * u.deg), []
    for longitude, zone in ((179.99, "Pacific/Auckland"), (-179.99, "Pacific/Auckland")):
        site = Site(name="s", latitude=-40 * u.deg, longitude=longitude * u.deg, time_zone=zone)
        tonight = night(site, "2026-12-24")
        answers.append(target_window(target, site, tonight, minimum_altitude=30 * u.deg))
    assert_allclose(answers[0].hours.value, answers[1].hours.value, atol=0.01)
    assert abs((answers[0].transit - answers[1].transit).sec) < 6


def test_the_highest_altitude_is_the_transit_s_or_that_of_an_edge():
    site = site_of(45, 7)
    tonight = night(site, "2026-11-25")
    through = target_window(Target("t", 60 * u.deg, 20 * u.deg), site, tonight, minimum_altitude=30 * u.deg)
    # Upper transit: 90 - (45 - 20) deg, less 0.08 deg of precession in 27 years, refraction 0.5 arcmin.
    assert_allclose(through.maximum_altitude.value, 65, atol=0.12)
    setting = target_window(Target("t", 290 * u.deg, 20 * u.deg), site, tonight, minimum_altitude=10 * u.deg)
    start = places([setting.target], site, setting.windows[0][0])
    assert_allclose(setting.maximum_altitude.value, start.apparent_altitude[0, 0].value, atol=1e-3)


@pytest.mark.parametrize(("change", "reason"), [
    ({"dec": -50}, r"Never rises at this site\."),
    ({"dec": -30}, r"Never gets above 30\.0°: its highest apparent altitude here is 15\.\d°\."),
    ({"ra": 240}, r"Within the limits only when it is not dark: from \d\d:\d\d CET to \d\d:\d\d CET\."),
    ({"date": "2026-06-20", "latitude": 52}, r"No dark time at 18°: .* nautical dark from"),
    ({"keep_out": 30, "dec": 80, "latitude": 80}, "Never leaves the mount's zenith keep-out while it is high enough"),
    ({"skyline": 85}, "Stands behind the skyline all the time"),
])
def test_a_reason_in_plain_words(change, reason):
    chosen = {"ra": 60, "dec": 20, "date": "2026-11-25", "latitude": 45, "keep_out": 0, "floor": 30, "skyline": None}
    chosen |= change
    level = chosen["skyline"]
    horizon = None if level is None else HorizonProfile(azimuth=[0] * u.deg, altitude=[level] * u.deg)
    site = Site(name="s", latitude=chosen["latitude"] * u.deg, longitude=7 * u.deg, time_zone="Europe/Rome",
                horizon=horizon)
    found = target_window(Target("t", chosen["ra"] * u.deg, chosen["dec"] * u.deg), site, night(site, chosen["date"]),
                          minimum_altitude=chosen["floor"] * u.deg,
                          mount=Mount(name="m", zenith_keep_out=chosen["keep_out"] * u.deg))
    assert found.windows == ()
    assert found.hours == 0 * u.h
    assert re.match(reason, found.reason), found.reason
    assert found.never == (not {"ra", "date"} & set(change))  # another season or night has it
    assert found.absence == f"{'Never here' if found.never else 'Not tonight'}: {found.reason}"


@pytest.mark.parametrize(("limits", "message"), [
    ({"minimum_altitude": 90 * u.deg}, "minimum_altitude = 90.0 deg: must be less than 90 deg"),
    ({"minimum_altitude": -1 * u.deg}, "must be at least 0 deg"),
    ({"minimum_altitude": 30}, "must carry a unit"),
    ({"minimum_altitude": 60 * u.deg, "mount": Mount(name="m", zenith_keep_out=40 * u.deg)}, "zenith keep-out"),
])
def test_bad_limits_are_refused(limits, message):
    site = site_of(45, 7)
    with pytest.raises(InvalidInputError, match=message):
        target_window(Target("t", 1 * u.deg, 1 * u.deg), site, night(site, "2026-11-25"), **limits)


def test_lists_of_different_length_are_refused():
    site = site_of(45, 7)
    with pytest.raises(InvalidInputError, match="must match ra"):
        night_windows([1, 2] * u.deg, [1] * u.deg, site, night(site, "2026-11-25"))


def test_no_targets_no_windows():
    site = site_of(45, 7)
    found = night_windows([] * u.deg, [] * u.deg, site, night(site, "2026-11-25"))
    assert len(found.index) == len(found.hours) == 0


def test_rise_and_set_against_jpl():
    # 34.5 arcmin of refraction on the horizon at the standard air (Bennett), so the same true altitude there.
    rng = np.random.default_rng(8)
    ra, dec = rng.uniform(0, 360, 30) * u.deg, rng.uniform(-85, 85, 30) * u.deg
    site = site_of(-33, 18, height=400)
    tonight = night(site, datetime.date(2011, 8, 1))
    found, true = rise_set(ra, dec, site, tonight), air_at(site).true(0.0)
    for at in range(30):
        star = jpl.star(Target("t", ra[at], dec[at]))
        if found.always_up[at] or found.never_up[at]:
            around = mjd_tt(found.transit[at]) + 2400000.5 + np.linspace(-0.5, 0.5, 50)
            assert set(jpl.altitude_deg(site, star, around) > true) == {found.always_up[at]}
            continue
        half = 0.1 * u.day
        for search, time in ((jpl.risings, found.rise[at]), (jpl.settings, found.set[at])):
            (jd,) = search(site, star, time - half, time + half, horizon_degrees=true)
            assert abs(jpl.seconds(time, jd)) < 1


def test_windows_of_a_list_are_those_of_each():
    site, targets = site_of(50, 10), [Target("a", 10 * u.deg, 42 * u.deg), Target("b", 80 * u.deg, -60 * u.deg),
                                      Target("c", 150 * u.deg, 69 * u.deg)]
    tonight = night(site, "2026-12-05")
    for one, found in zip(targets, target_windows(targets, site, tonight, minimum_altitude=30 * u.deg), strict=True):
        alone = target_window(one, site, tonight, minimum_altitude=30 * u.deg)
        assert (found.target, found.reason, len(found.windows)) == (alone.target, alone.reason, len(alone.windows))
        for mine, theirs in zip(found.windows, alone.windows, strict=True):
            assert all(abs((ours - other).sec) < 1e-4 for ours, other in zip(mine, theirs, strict=True))
