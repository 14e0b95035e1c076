"""Jitter within single subs, against a correlated noise made here step by step."""

import numpy as np
import pytest
from astropy import units as u

from planner.tracking.guiding import guide_loops
from planner.tracking.moments.even_draws import even_normals
from planner.tracking.moments.walk import shaken_covariance

MEMORY = 2.0  # s
STEP = 0.05


@pytest.fixture(scope="module")
def noise():
    """Return 400 paths of exponentially correlated noise of unit rms on two axes over 240 s, (2, 400, n)."""
    random = np.random.default_rng(8)
    keep = np.exp(-STEP / MEMORY)
    drawn = random.normal(size=(int(240 / STEP), 2, 400))
    path = np.empty_like(drawn)
    path[0] = drawn[0]
    for step in range(1, len(path)):
        path[step] = keep * path[step - 1] + np.sqrt(1 - keep**2) * drawn[step]
    return np.moveaxis(path, 0, -1)


@pytest.mark.parametrize("length", [4.0, 20.0, 120.0])
def test_a_sub_shows_part_of_it_and_not_quite_round(noise, length):
    window = noise[..., :int(length / STEP)]
    away = window - window.mean(axis=-1, keepdims=True)
    ra, dec = (away**2).mean(axis=-1)
    across = (away[0] * away[1]).mean(axis=-1)
    said = shaken_covariance(np.ones(2), MEMORY, np.array([length]), even_normals(233, 3).T)[:, 0]
    assert said[:2].mean() == pytest.approx(np.mean([ra, dec]), rel=0.06)
    assert np.std(said[0] - said[1]) == pytest.approx(np.std(ra - dec), rel=0.2)
    assert np.std(said[2]) == pytest.approx(np.std(across), rel=0.2)


def test_it_is_smooth_in_the_length_and_ends_as_the_whole():
    drawn = even_normals(89, 3).T
    found = shaken_covariance(np.array([1.0, 0.5]), MEMORY, np.geomspace(0.5, 1e6, 400), drawn)
    assert np.all(found[:2] > 0)
    assert np.all(np.abs(found[2]) < np.sqrt(found[0] * found[1]))
    assert np.max(np.abs(np.diff(found, axis=1))) < 0.1
    np.testing.assert_allclose(found[:, -1], np.array([1, 0.25, 0])[:, None] * np.ones(89), atol=0.01)


@pytest.mark.parametrize("gain", [0.2, 0.5])
def test_the_memory_of_a_loop_is_that_of_its_motion(gain):
    # The loop by hand: each cycle the measured error, white, times the gain moves the mount. About 1/gain cycles.
    loop = guide_loops(centroid_rms=1 * u.arcsec, exposures=[1] * u.s, gains=[gain], latency=0 * u.s).best()
    random = np.random.default_rng(2)
    place = np.zeros(200_000)
    for cycle in range(1, place.size):
        place[cycle] = place[cycle - 1] - gain * (place[cycle - 1] + random.normal())
    place -= place.mean()
    power = np.abs(np.fft.rfft(place, 2 * place.size)) ** 2
    rho = np.fft.irfft(power)[:100]
    rho /= rho[0]
    by_hand = 1 + 2 * np.sum(rho[1:] ** 2)  # cycles of a second
    assert loop.memory.to_value(u.s) == pytest.approx(by_hand, rel=0.25)
