"""How quickly the sky is computed: nanoseconds per entry of a grid, and against an outside implementation.

Run with ``pytest tests/benchmarks/test_sky.py --benchmark-only -o addopts=``; `extra_info` holds ns per entry.
"""

import numpy as np
import pytest
from astropy import units as u
from specsim.atmosphere import krisciunas_schaefer

from planner.sky import moonlight, sky_brightness
from planner.sky.total import _sky_brightness

ENTRIES = 1_000_000


@pytest.fixture(scope="module")
def grid():
    random = np.random.default_rng(7)
    return {"altitude": random.uniform(10, 90, ENTRIES), "moon_altitude": random.uniform(-60, 90, ENTRIES),
            "separation": random.uniform(10, 170, ENTRIES), "phase": random.uniform(0, 180, ENTRIES),
            "sun": random.uniform(-60, -6, ENTRIES)}


def per_entry(benchmark):
    if benchmark.stats:
        benchmark.extra_info["ns_per_entry"] = round(benchmark.stats.stats.median / ENTRIES * 1e9, 1)


@pytest.mark.parametrize("lights", ["dark", "moon", "moon and sun"])
def test_kernel(benchmark, grid, lights):
    moon = (grid["moon_altitude"], grid["separation"], grid["phase"]) if "moon" in lights else (None,) * 3
    sun = grid["sun"] if "sun" in lights else None
    found = benchmark(_sky_brightness, 21.5, 550.0, grid["altitude"], 1000.0, *moon, sun)
    assert np.isfinite(found).all()
    per_entry(benchmark)


def test_public_function(benchmark, grid):
    angles = {name: grid[key] * u.deg for name, key in (
        ("altitude", "altitude"), ("moon_altitude", "moon_altitude"), ("moon_separation", "separation"),
        ("moon_phase_angle", "phase"))}
    benchmark(sky_brightness, zenith_brightness=21.5 * u.mag / u.arcsec**2, wavelength=550 * u.nm, height=1000 * u.m,
              **angles)
    per_entry(benchmark)


def test_one_direction(benchmark):
    benchmark(_sky_brightness, 21.5, 550.0, 50.0, 1000.0, 30.0, 60.0, 20.0, -15.0)


@pytest.mark.parametrize("code", ["ours", "specsim"])
def test_moonlight(benchmark, grid, code):
    if code == "ours":
        angles = {name: grid[key] * u.deg for name, key in (
            ("altitude", "altitude"), ("moon_altitude", "moon_altitude"), ("separation", "separation"),
            ("phase_angle", "phase"))}
        benchmark(moonlight, **angles, extinction=0.15 * u.mag)
    else:
        benchmark(krisciunas_schaefer, (90 - grid["altitude"]) * u.deg, (90 - np.abs(grid["moon_altitude"])) * u.deg,
                  grid["separation"] * u.deg, grid["phase"] / 180, 0.15)
    per_entry(benchmark)
