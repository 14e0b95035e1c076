"""Speed of the tracking room: the whole ladder of exposures against a Monte Carlo of equal accuracy, in one run."""

import time

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.tracking import (
    exposure_motion,
    guide_loops,
    image_motion,
    motion_budget,
    smooth_track,
    track_hour_angles,
)

LADDER = [1, 2, 3, 5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 300, 420, 600, 900, 1200, 1800] * u.s
STARTS = np.linspace(-60, 60, 9) * u.deg
MOUNT = {"latitude": 45 * u.deg, "declination": 30 * u.deg, "polar_altitude_error": 2 * u.arcmin,
         "polar_azimuth_error": -3 * u.arcmin}
PERIODS, AMPLITUDES = [480.0, 157.0, 13.3] * u.s, [4.0, 1.5, 0.6] * u.arcsec
PLACES = [[0, 0], [0.5, 0.3], [-0.5, 0.3], [0.5, -0.3], [-0.5, -0.3]] * u.deg


@pytest.fixture(scope="module")
def track():
    return smooth_track(**MOUNT, hour_angle=track_hour_angles(STARTS, LADDER[-1]))


def whole_ladder(track, places=PLACES):
    return exposure_motion(track, duration=LADDER, hour_angle=STARTS, phases=32, periods=PERIODS,
                           amplitudes=AMPLITUDES, declination=30 * u.deg, offsets=places)


def test_smooth_track(benchmark):
    benchmark(smooth_track, **MOUNT, hour_angle=np.linspace(-60, 68, 129) * u.deg)


def test_whole_ladder(benchmark, track):
    benchmark(whole_ladder, track)


def test_motion_budget(benchmark):
    benchmark(motion_budget, **MOUNT, hour_angle=STARTS, duration=120 * u.s, periods=PERIODS, amplitudes=AMPLITUDES)


def test_guide_loops(benchmark):
    air = image_motion(seeing_fwhm=2.5 * u.arcsec, wavelength=550 * u.nm, aperture=60 * u.mm)
    benchmark(guide_loops, centroid_rms=0.3 * u.arcsec, image_motion=air, periods=PERIODS, amplitudes=AMPLITUDES,
              wander=0.2 * u.arcsec / u.min**0.5)


def monte_carlo(track, draws, rng):
    """Return the mean variances (t,) in right ascension and declination from drawn starts and phases, one a second."""
    known, speed = track.hour_angle.value, 360 / 86164.0905
    means = []
    for seconds in LADDER.value:
        moments = (np.arange(max(int(seconds), 60)) + 0.5) / max(int(seconds), 60) * seconds
        start = rng.choice(STARTS.value, size=(draws, 1))
        h = start + speed * moments
        ra, dec = np.interp(h, known, track.ra.value), np.interp(h, known, track.dec.value)
        for period, amplitude in zip(PERIODS.value, AMPLITUDES.value, strict=True):
            phase = rng.uniform(0, 2 * np.pi, (draws, 1))
            ra = ra + np.cos(np.radians(30)) * amplitude * np.sin(2 * np.pi * moments / period + phase)
        means.append([ra.var(axis=1).mean(), dec.var(axis=1).mean()])
    return np.array(means).T


def test_against_a_monte_carlo_of_equal_accuracy(benchmark, track):
    """One place of the field: mean variance per duration to 1 %, the Monte Carlo with as many draws as that takes."""
    exact = whole_ladder(track, PLACES[:1])
    centre = np.array([exact.variance_ra.value.mean(axis=(0, 2, 3)), exact.variance_dec.value.mean(axis=(0, 2, 3))])
    begin = time.perf_counter()
    drawn = monte_carlo(track, 10000, np.random.default_rng(4))
    slow = time.perf_counter() - begin
    # 10 000 draws of a quantity whose spread is about its mean: 1 %, so 4 % at worst among 40.
    assert_allclose(centre, drawn, rtol=0.04, atol=1e-4)
    benchmark(whole_ladder, track, PLACES[:1])
    benchmark.extra_info["monte_carlo_over_closed_form"] = slow / benchmark.stats.stats.median
