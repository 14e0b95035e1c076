"""Altitude, azimuth and hour angle against astropy's AltAz, Sun and Moon against DE421."""

import erfa
import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import SkyCoord, get_body
from astropy.time import Time
from numpy.testing import assert_allclose
from visibility import jpl
from visibility.rising import alt_az

from planner.rig import Site
from planner.visibility import Target, altitude_factors, lit_share, moon, moon_events, parallactic_angle, places
from planner.visibility.adapters import fixed_target, observer, sky_coord
from planner.visibility.earth_rotation import mjd_tt, pole_xy
from planner.visibility.kernels.air import air_at
from planner.visibility.kernels.ephemeris import (
    altitudes_on_grid,
    apparent_at_moments,
    apparent_directions,
    sun_track,
    unit_vectors,
)
from planner.visibility.kernels.local_frame import local_frame

CASES = [(45.1, 6.6, 1450, "2026-11-25"), (-30.2, -70.7, 2700, "2012-03-03"), (64.8, 179.9, 0, "2020-07-01"),
         (-65.0, 20.0, 100, "1999-12-31"), (0.0, -179.5, 0, "2025-09-22"), (89.9, 0.0, 0, "2024-02-29")]


def site_of(latitude, longitude, height):
    return Site(name="s", latitude=latitude * u.deg, longitude=longitude * u.deg, height=height * u.m)


def random_sky(count, seed):
    rng = np.random.default_rng(seed)
    return rng.uniform(0, 360, count) * u.deg, np.degrees(np.arcsin(rng.uniform(-1, 1, count))) * u.deg


@pytest.mark.parametrize("case", CASES)
def test_altitude_and_azimuth_within_an_arcsecond_of_astropy(case):
    site, times = site_of(*case[:3]), Time(case[3]) + np.linspace(0, 12, 25) * u.h
    ra, dec = random_sky(200, 1)
    targets = [Target(f"t{at}", a, d) for at, (a, d) in enumerate(zip(ra, dec, strict=True))]
    found = places(targets, site, times)
    expected = SkyCoord(ra[:, np.newaxis], dec[:, np.newaxis]).transform_to(alt_az(site, times))
    assert_allclose(found.altitude.to_value(u.arcsec), expected.alt.to_value(u.arcsec), rtol=0, atol=1.0)
    across = (found.azimuth - expected.az).wrap_at(180 * u.deg) * np.cos(expected.alt)
    assert np.max(np.abs(across.to_value(u.arcsec))) < 1.0
    directions, zeniths = altitude_factors(ra, dec, site, times)
    assert_allclose(np.degrees(np.arcsin(directions @ zeniths.T)), found.altitude.value, rtol=0, atol=1e-9)


def test_hour_angle_and_parallactic_angle_are_sofa_s():
    site, times = site_of(45.1, 6.6, 1450), Time("2026-11-25") + np.linspace(0, 12, 25) * u.h
    found = places([Target("t", 83.8 * u.deg, -5.4 * u.deg)], site, times)
    latitude = local_frame(site, *mjd_tt(times)[[0, -1]]).latitude
    angle, declination = found.hour_angle.to_value(u.rad), found.declination.to_value(u.rad)[:, np.newaxis]
    azimuth, altitude = erfa.hd2ae(angle, declination, latitude)
    assert_allclose(found.altitude.to_value(u.rad), altitude, atol=1e-9)
    # 0.6 arcsec: azimuth counts from the north of the map, the pole of date is off it by polar motion.
    assert_allclose(found.azimuth.to_value(u.rad), azimuth, rtol=0, atol=3e-6)
    expected = erfa.hd2pa(angle, declination, latitude)
    assert_allclose(found.parallactic_angle.to_value(u.rad), expected, atol=1e-12)


def test_parallactic_angle_is_zero_on_the_meridian_and_odd_about_it():
    assert parallactic_angle(0 * u.deg, 10 * u.deg, 45 * u.deg) == 0
    east, west = parallactic_angle([-30, 30] * u.deg, 10 * u.deg, 45 * u.deg)
    assert_allclose(east, -west)
    assert west > 0


def test_the_pole_is_where_sofa_puts_it():
    # SOFA's apio and atioq on the meridian, where the observer's own aberration does not change altitude; polar motion
    # is 0.4 arcsec on this date and must not be lost.
    site, mjd = site_of(45.1, 6.6, 1450), 58300.0
    frame, declination = local_frame(site, mjd, mjd), np.radians([-30.0, 10.0, 40.0])
    x, y = pole_xy(mjd)
    angle = float(frame.angle(np.array([mjd]))[0])
    star = erfa.apio(erfa.sp00(2400000.5, mjd), angle, site.longitude.to_value(u.rad), site.latitude.to_value(u.rad),
                     site.height.value, x, y, 0.0, 0.0)
    ra = np.full(3, angle + frame.longitude)
    _, zenith_distance, *_ = erfa.atioq(ra, declination, star)
    found = altitudes_on_grid(unit_vectors(ra, declination), frame, np.array([mjd]))[:, 0]
    assert np.hypot(x, y) > np.radians(0.3 / 3600)
    assert_allclose(found * 3600, np.degrees(np.pi / 2 - zenith_distance) * 3600, rtol=0, atol=0.01)


def test_many_moments_agree_with_one():
    # 15 mas: the second order of aberration and the Sun's deflection, left out there, at more than 20 deg from the Sun.
    ra, dec = random_sky(300, 2)
    units = unit_vectors(ra.to_value(u.rad), dec.to_value(u.rad))
    mjd = np.array([61000.0, 61100.0])
    many = apparent_at_moments(units, mjd)
    many /= np.linalg.norm(many, axis=-1, keepdims=True)
    for at, moment in enumerate(mjd):
        sun = sun_track(moment, moment).at(np.array([moment]))[0]
        far = apparent_directions(units, moment) @ sun / np.linalg.norm(sun) < np.cos(np.radians(20))
        error = np.linalg.norm(many[at] - apparent_directions(units, moment), axis=-1)[far]
        assert np.degrees(error.max()) * 3600 < 0.03


# Dates for which both tables of UT1 are measured: a predicted one is off by 0.1 s, 1.5 arcsec, within a few years.
@pytest.mark.parametrize("case", [(45.1, 6.6, 1450, "2016-11-25"), *CASES[1:4], (0.0, -179.5, 0, "2019-09-22")])
def test_sun_and_moon_against_jpl(case):
    site, times = site_of(*case[:3]), Time(case[3]) + np.arange(0, 24, 3) * u.h
    tt = mjd_tt(times)
    sun = np.degrees(sun_track(tt[0], tt[-1]).altitude(local_frame(site, tt[0], tt[-1]), tt))
    bodies = jpl.ephemeris()
    # 1 arcsec: dates within DE421, UT1 of two tables, the observer's aberration.
    assert_allclose(sun, jpl.altitude_deg(site, bodies["sun"], tt + 2400000.5), atol=1 / 3600)
    found = moon(site, times)
    apparent = jpl.observer(site).at(jpl.at(times)).observe(bodies["moon"]).apparent()
    altitude, azimuth, distance = apparent.altaz()
    # The series of the Moon is good to 14 arcsec; parallax takes up to 1 deg more if wrong.
    assert_allclose(found.altitude, altitude.degrees * u.deg, rtol=0, atol=15 * u.arcsec)
    turn = (found.azimuth.value - azimuth.degrees + 180) % 360 - 180
    assert np.max(np.abs(turn * np.cos(np.radians(altitude.degrees)))) * 3600 < 15
    assert_allclose(found.distance.to_value(u.km), distance.km, atol=60)
    ra, dec, _ = apparent.radec()
    assert_allclose(found.dec.value, dec.degrees, atol=15 / 3600)
    assert_allclose(found.ra.value, ra._degrees, atol=17 / 3600)
    seen = bodies["earth"].at(jpl.at(times)).observe(bodies["moon"]).apparent()
    assert_allclose(lit_share(times), seen.fraction_illuminated(bodies["sun"]), atol=1e-3)
    star = jpl.star(Target("t", 83.8 * u.deg, -5.4 * u.deg))
    expected = jpl.observer(site).at(jpl.at(times)).observe(star).apparent().separation_from(apparent)
    assert_allclose(found.separation_from(Target("t", 83.8 * u.deg, -5.4 * u.deg)).value, expected.degrees,
                    atol=16 / 3600)


def test_the_moon_needs_the_observer():
    # Two sites that see the same Moon from opposite limbs of the Earth: nearly 2 deg apart.
    time = Time("2026-11-25T00:00")
    one, other = moon(site_of(0, -40, 0), time), moon(site_of(0, 100, 0), time)
    assert abs((one.ra - other.ra).to_value(u.deg)) > 1


def test_phase_angle_is_zero_at_full_moon():
    # USNO, phases of the Moon: full 1980 Mar 1, 21:00; new 1980 Mar 16, 18:56 (ephem/tests/usno/moon_phases.txt).
    full, new = moon(site_of(0, 0, 0), Time(["1980-03-01T21:00", "1980-03-16T18:56"])).phase_angle
    assert full < 5 * u.deg
    assert new > 174 * u.deg


def test_scalar_and_grid_of_times_keep_their_shape():
    site = site_of(45, 7, 0)
    assert moon(site, Time("2026-11-25T20:00")).altitude.shape == ()
    grid = Time("2026-11-25T20:00") + np.arange(6).reshape(2, 3) * u.h
    found = moon(site, grid)
    one, other = (Target("t", 10 * u.deg, dec * u.deg) for dec in (10, 20))
    assert found.altitude.shape == found.separation_from(one).shape == (2, 3)
    both = found.separations_from([one, other])
    assert both.shape == (2, 2, 3)
    assert_allclose(both[1].value, found.separation_from(other).value, rtol=1e-12)


def test_moon_events_tell_when_it_is_up():
    site = site_of(45, 7, 0)
    start = Time("2026-11-25T12:00")
    events = moon_events(site, start, start + 1 * u.day)
    for begin, end in events.up:
        middle = begin + (end - begin) / 2
        assert moon(site, middle).apparent_altitude > 0 * u.deg
    assert 0.9 < events.illumination <= 1


@pytest.mark.parametrize("days", [-1, 0, 500])
def test_moon_events_want_an_end_after_the_start(days):
    start = Time("2026-11-25T12:00")
    with pytest.raises(ValueError, match="must be after the start by at most 400 days"):
        moon_events(site_of(45, 7, 0), start, start + days * u.day)


def test_refraction_both_ways_is_one_formula():
    air = air_at(site_of(45, 7, 1000))
    apparent = np.linspace(-0.5, 90, 1000)
    # 0.2 arcsec of altitude on the horizon, where the iteration is slowest.
    assert_allclose(air.apparent(air.true(apparent)), apparent, atol=0.2 / 3600)


def test_adapters_give_the_same_sky():
    site, target = site_of(45.1, 6.6, 1450), Target("t", 83.8 * u.deg, -5.4 * u.deg)
    time = Time("2026-11-25T23:00")
    place = places([target], site, time)
    theirs = observer(site).altaz(time, fixed_target(target))
    assert_allclose(theirs.alt.to_value(u.arcsec), place.altitude[0, 0].to_value(u.arcsec), rtol=0, atol=1.0)
    assert sky_coord(target).ra == target.ra
    builtin = get_body("moon", time, alt_az(site, time).location).transform_to(alt_az(site, time))
    assert abs(builtin.alt - moon(site, time).altitude) < 1 * u.arcsec
