"""What must hold for every night, site, target and mount."""

import datetime

import numpy as np
from astropy import units as u
from hypothesis import given, settings
from hypothesis import strategies as st
from visibility.rising import pier_sides

from planner.rig import HorizonProfile, Mount, Site
from planner.visibility import Target, local_time, meridian_plan, night, places, skyline, target_window
from planner.visibility.earth_rotation import tt_from_utc, utc_from_tt

latitudes = st.floats(-90, 90)
longitudes = st.floats(-180, 180)
dates = st.dates(datetime.date(1973, 1, 3), datetime.date(2098, 12, 31))
declinations = st.floats(-90, 90)
right_ascensions = st.floats(0, 359.999)
zones = st.sampled_from(["UTC", "Europe/Rome", "America/Santiago", "Australia/Lord_Howe", "Pacific/Apia",
                         "Asia/Kolkata"])


def site_of(latitude, longitude, zone="UTC", horizon=None):
    return Site(name="s", latitude=latitude * u.deg, longitude=longitude * u.deg, time_zone=zone, horizon=horizon)


@given(latitude=latitudes, longitude=longitudes, date=dates, zone=zones)
@settings(max_examples=150)
def test_a_night_is_in_order_or_has_a_reason(latitude, longitude, date, zone):
    found = night(site_of(latitude, longitude, zone), date)
    times = [found.start, found.sunset, *(twilight.dusk for twilight in found.twilights), found.middle,
             *(twilight.dawn for twilight in reversed(found.twilights)), found.sunrise, found.end]
    days = [time.mjd for time in times if time is not None]
    assert days == sorted(days)
    assert (found.dark is None) == bool(found.reason)
    assert 0 * u.h <= found.dark_hours <= 24.01 * u.h
    assert abs((found.end - found.start).to_value(u.h) - 24) < 1e-6
    evening = local_time(found.middle - 6 * u.h, found.site)
    assert abs((evening.date() - date).days) <= 1


@given(latitude=st.floats(-66, 66), date=dates)
@settings(max_examples=60)
def test_the_deeper_the_later(latitude, date):
    site, depths = site_of(latitude, 20), (6, 12, 18, 24)
    lengths = [night(site, date, depression=depth * u.deg).dark_hours.value for depth in depths]
    assert lengths == sorted(lengths, reverse=True)


@given(latitude=latitudes, date=dates, ra=right_ascensions, dec=declinations, lowest=st.floats(0, 60))
@settings(max_examples=150)
def test_windows_are_in_the_dark_in_order_and_up(latitude, date, ra, dec, lowest):
    site = site_of(latitude, 20)
    tonight = night(site, date)
    target = Target("t", ra * u.deg, dec * u.deg)
    found = target_window(target, site, tonight, minimum_altitude=lowest * u.deg)
    assert bool(found.windows) != bool(found.reason)
    days = [time.mjd for pair in found.windows for time in pair]
    assert days == sorted(days)
    if not found.windows:
        return
    assert days[0] >= tonight.dark[0].mjd - 1e-9
    assert days[-1] <= tonight.dark[1].mjd + 1e-9
    for start, end in found.windows:
        inside = places([target], site, start + (end - start) * np.linspace(0, 1, 9)).apparent_altitude.to_value(u.deg)
        # 5 arcsec: apparent place and pole are taken once, in the middle of the night.
        assert inside.min() >= lowest - 5 / 3600
        assert inside.max() <= found.maximum_altitude.to_value(u.deg) + 5 / 3600


@given(latitude=latitudes, dec=declinations, lowest=st.floats(0, 50), more=st.floats(0, 20))
@settings(max_examples=60)
def test_a_stricter_limit_never_adds_time(latitude, dec, lowest, more):
    site = site_of(latitude, 20)
    tonight, target = night(site, "2026-11-25"), Target("t", 60 * u.deg, dec * u.deg)
    loose = target_window(target, site, tonight, minimum_altitude=lowest * u.deg).hours
    strict = target_window(target, site, tonight, minimum_altitude=(lowest + more) * u.deg).hours
    assert strict <= loose + 1e-6 * u.h


@given(points=st.lists(st.tuples(st.floats(0, 360), st.floats(0, 80)), min_size=1, max_size=8),
       azimuth=st.floats(-720, 720))
@settings(max_examples=150)
def test_a_skyline_stays_between_its_points_and_repeats(points, azimuth):
    points.sort(key=lambda point: point[0])
    azimuths, altitudes = zip(*points, strict=True)
    profile = HorizonProfile(azimuth=azimuths * u.deg, altitude=altitudes * u.deg)
    found = skyline(profile, azimuth * u.deg)
    assert profile.altitude.min() - 1e-9 * u.deg <= found <= profile.altitude.max() + 1e-9 * u.deg


@given(past=st.floats(-20, 60), before=st.floats(-20, 60), ra=right_ascensions, dec=st.floats(-30, 90),
       sub=st.floats(1, 1800))
@settings(max_examples=100)
def test_each_stretch_is_on_a_side_that_reaches_it(past, before, ra, dec, sub):
    site = site_of(50, 20)
    mount = Mount(name="m", tracks_past_meridian=past * u.deg, starts_before_meridian=before * u.deg)
    target = Target("t", ra * u.deg, dec * u.deg)
    found = target_window(target, site, night(site, "2026-11-25"), minimum_altitude=20 * u.deg, mount=mount)
    plan = meridian_plan(found, mount, sub_exposure=sub * u.s)
    assert plan.needed == bool(plan.flips)
    for stretch in plan.stretches:
        middle = stretch.start + (stretch.end - stretch.start) / 2
        west, east = pier_sides(places([target], site, middle).hour_angle[0, 0], mount)
        assert west if stretch.side == "west" else east
    for flip in plan.flips:
        assert flip.lost >= 0 * u.min
        assert flip.planned >= flip.last_sub_ends


@given(mjd=st.floats(41684, 88000))
@settings(max_examples=200)
def test_universal_time_goes_and_comes_back(mjd):
    assert abs(utc_from_tt(tt_from_utc(mjd)) - mjd) * 86400 < 2e-6
