"""Visibility against astroplan and astropy: same targets, times and limits in one run, accuracy beside."""

import time
import warnings

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import AltAz, SkyCoord, get_sun
from astropy.time import Time
from visibility.rising import rise_set
from visibility.seasons import season_hours

from planner.rig import HorizonProfile, Site
from planner.visibility import moon_events, night, night_windows
from planner.visibility.adapters import earth_location, observer
from planner.visibility.earth_rotation import mjd_tt, utc_time
from planner.visibility.kernels.ephemeris import altitudes_on_grid, apparent_directions, unit_vectors
from planner.visibility.kernels.local_frame import local_frame

from astroplan import AltitudeConstraint, AtNightConstraint, FixedTarget, observability_table  # isort: skip

SITE = Site(name="s", latitude=45 * u.deg, longitude=7 * u.deg, height=1200 * u.m)
LOWEST = 30 * u.deg
DATE = "2026-11-25"


def sky(count, seed=1):
    rng = np.random.default_rng(seed)
    return rng.uniform(0, 360, count) * u.deg, np.degrees(np.arcsin(rng.uniform(-0.7, 1, count))) * u.deg


def timed(function, rounds=1):
    """Return the shortest time of a few rounds [s], and the result."""
    best = np.inf
    for _ in range(rounds):
        start = time.perf_counter()
        result = function()
        best = min(best, time.perf_counter() - start)
    return best, result


def report(benchmark, baseline, name, **more):
    """Note the ratio of the baseline to our shortest time."""
    ratio = baseline / benchmark.stats.stats.min
    benchmark.extra_info.update({"baseline_s": baseline, "ratio": ratio, **more})
    print(f"\n{name}: {benchmark.stats.stats.min * 1e3:.3g} ms, {ratio:.0f}x, {more}")
    return ratio


@pytest.mark.parametrize("count", [100, 1000])
def test_a_night_against_observability_table(benchmark, count):
    ra, dec = sky(count)

    def ours():
        tonight = night(SITE, DATE)
        moon_events(SITE, tonight.start, tonight.end)
        return night_windows(ra, dec, SITE, tonight, minimum_altitude=LOWEST)

    tonight = night(SITE, DATE)
    times = tonight.start + np.arange(0, 24, 0.5) * u.h
    found = benchmark.pedantic(ours, rounds=20, warmup_rounds=2)
    table, _ = timed(lambda: astroplan_table(ra, dec, times), rounds=3)
    events, (sun, _) = timed(lambda: astroplan_events(tonight.middle), rounds=3)
    windows, _ = timed(lambda: night_windows(ra, dec, SITE, tonight, minimum_altitude=LOWEST), rounds=20)
    assert abs((sun[0] - tonight.sunset).sec) < 60  # astroplan interpolates over 150 points of the day
    # Accuracy: the hours from astropy's altitudes, every minute of the dark, for 50 of the targets.
    minutes = tonight.dark[0] + np.arange(0, tonight.dark_hours.to_value(u.min)) * u.min
    altitude = SkyCoord(ra[:50, np.newaxis], dec[:50, np.newaxis]).transform_to(
        AltAz(obstime=minutes, location=earth_location(SITE))).alt
    expected = np.sum(altitude > true_limit(LOWEST), axis=1) / 60
    assert np.max(np.abs(expected - found.hours[:50].value)) < 2.5 / 60
    report(benchmark, table + events, f"night of {count} targets, Sun and Moon", table_alone_s=table,
           windows_alone=table / windows)


def true_limit(apparent):
    """Return the true altitude of an apparent one at the site, which knows refraction."""
    from planner.visibility.kernels.air import air_at

    return float(air_at(SITE).true(apparent.to_value(u.deg))) * u.deg


def astroplan_table(ra, dec, times):
    """Answer "which are up in the dark, for how long" with astroplan's table, half-hour samples (its default)."""
    targets = [FixedTarget(coord) for coord in SkyCoord(ra, dec)]
    constraints = [AltitudeConstraint(min=true_limit(LOWEST)), AtNightConstraint.twilight_astronomical()]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return observability_table(constraints, observer(SITE), targets, times=times)


def astroplan_events(middle):
    """Find the events of Sun and Moon that a `Night` and `MoonEvents` hold."""
    place = observer(SITE)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        horizon = -0.8333 * u.deg
        sun = [place.sun_set_time(middle, which="previous", horizon=horizon),
               place.sun_rise_time(middle, which="next", horizon=horizon)]
        sun += [getattr(place, f"twilight_{side}_{kind}")(middle, which=which)
                for side, which in (("evening", "previous"), ("morning", "next"))
                for kind in ("civil", "nautical", "astronomical")]
        moon = [place.moon_rise_time(middle, which="nearest", horizon=horizon),
                place.moon_set_time(middle, which="nearest", horizon=horizon)]
    return sun, moon


def test_rise_transit_set_against_astroplan(benchmark):
    ra, dec = sky(100)
    tonight = night(SITE, DATE)
    found = benchmark.pedantic(lambda: rise_set(ra, dec, SITE, tonight, altitude=LOWEST), rounds=50, warmup_rounds=2)
    place, targets = observer(SITE), FixedTarget(SkyCoord(ra, dec))

    def theirs():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return [getattr(place, f"target_{event}_time")(tonight.middle, targets, which="nearest", **options)
                    for event, options in (("rise", {"horizon": true_limit(LOWEST)}), ("meridian_transit", {}),
                                           ("set", {"horizon": true_limit(LOWEST)}))]

    baseline, (_, transit, _) = timed(theirs, rounds=2)
    # astroplan interpolates over 150 points of the day: a minute or so. The altitude itself is the judge of ours.
    apart = (found.transit - transit).sec
    assert np.percentile(np.abs((apart + 43082) % 86164 - 43082), 90) < 120
    once = ~(found.always_up | found.never_up)
    frame = AltAz(obstime=found.rise[once], location=earth_location(SITE))
    altitude = SkyCoord(ra[once], dec[once]).transform_to(frame).alt
    assert np.max(np.abs((altitude - true_limit(LOWEST)).to_value(u.arcsec))) < 1.5
    report(benchmark, baseline, "rise, transit, set of 100 targets")


def test_altitude_grid_against_astropy(benchmark):
    ra, dec = sky(13000)
    times = Time("2026-11-25T18:00") + np.arange(144) * 5 * u.min
    tt = mjd_tt(times)

    def ours():
        directions = apparent_directions(unit_vectors(ra.to_value(u.rad), dec.to_value(u.rad)), tt.mean())
        return altitudes_on_grid(directions, local_frame(SITE, tt[0], tt[-1]), tt)

    found = benchmark.pedantic(ours, rounds=20, warmup_rounds=2)
    frame = AltAz(obstime=times, location=earth_location(SITE))
    baseline, expected = timed(lambda: SkyCoord(ra[:, np.newaxis], dec[:, np.newaxis]).transform_to(frame))
    error = np.max(np.abs(found * 3600 - expected.alt.to_value(u.arcsec)))
    assert error < 1.0
    report(benchmark, baseline, "alt-az grid 13,000 x 144", error_arcsec=error)


def test_a_year_against_astropy(benchmark):
    # A few nights of plain astropy, the dark found on a grid of 5 min and altitudes on the same grid, scaled to 365.
    ra, dec = sky(13000)
    found = benchmark.pedantic(lambda: season_hours(ra, dec, SITE, DATE, 365, minimum_altitude=LOWEST), rounds=7,
                               warmup_rounds=1)
    place, spent, nights = earth_location(SITE), 0.0, (0, 180)
    for at in nights:
        noon = utc_time(mjd_tt(night(SITE, found.dates[at]).start))

        def theirs(noon=noon):
            times = noon + np.arange(0, 288) * 5 * u.min
            frame = AltAz(obstime=times, location=place)
            times = times[get_sun(times).transform_to(frame).alt < -18 * u.deg]
            frame = AltAz(obstime=times, location=place)
            altitude = SkyCoord(ra[:, np.newaxis], dec[:, np.newaxis]).transform_to(frame).alt
            return np.sum(altitude > true_limit(LOWEST), axis=1) / 12

        seconds, hours = timed(theirs)
        spent += seconds
        # 5 min per edge sampled.
        assert np.max(np.abs(hours - found.hours[:, at].value)) < 11 / 60
    one = night_windows(ra, dec, SITE, night(SITE, found.dates[100]), minimum_altitude=LOWEST)
    error = np.percentile(np.abs((one.hours - found.hours[:, 100]).to_value(u.s)), 99)
    assert error < 0.3
    report(benchmark, spent / len(nights) * 365, "year of 13,000 targets", p99_s=error,
           ns_per_target_night=benchmark.stats.stats.min / 13000 / 365 * 1e9)


def test_a_year_with_a_skyline(benchmark):
    # No rival: what a skyline with walls adds to the year above.
    ra, dec = sky(13000)
    ridge = HorizonProfile(azimuth=[20, 60, 60, 100, 100, 200, 300] * u.deg,
                           altitude=[10, 15, 55, 55, 5, 20, 0] * u.deg)
    site = Site(name="s", latitude=45 * u.deg, longitude=7 * u.deg, height=1200 * u.m, horizon=ridge)
    season = benchmark.pedantic(lambda: season_hours(ra, dec, site, DATE, 365, minimum_altitude=LOWEST), rounds=3)
    one = night_windows(ra, dec, site, night(site, season.dates[100]), minimum_altitude=LOWEST)
    error = np.percentile(np.abs((one.hours - season.hours[:, 100]).to_value(u.s)), 99)
    assert error < 1
    benchmark.extra_info.update(p99_s=error)
    print(f"\nyear of 13,000 targets, skyline: {benchmark.stats.stats.min:.3g} s, p99 {error:.2g} s")
