"""How fast the one curve is, beside a Monte-Carlo that is as accurate, in one run.

Run with `pytest tests/benchmarks/test_exposure.py`. The reference is the mean of 20,000 random subs per length. The
closed form's rms error over the ladder, the reference's own noise included, says how many random subs would be as
accurate; the Monte-Carlo runs with a share of them and its time is scaled.
"""

import time

import numpy as np
import pytest
from astropy import units as u
from exposure.monte_carlo import monte_carlo_kept
from exposure.parts import kept
from exposure.rigs import FRICTION_MOUNT, GREEN, GUIDER, SITE, WORM_MOUNT, rig

from planner.exposure import SUB_LADDER, guide_need, observing_scene, unguided_motion
from planner.exposure.share_grid import kept_share

WINDOW = np.linspace(-4, 2, 13) * u.hourangle
MOUNTS = {"one periodic term": {"periodic": WORM_MOUNT.periodic[:1]}, "two periodic terms": {}}


def scene_of(mount):
    return observing_scene(rig(mount=mount, guider=GUIDER), SITE, GREEN, declination=40 * u.deg, hour_angle=WINDOW)


def monte_carlo(scene, motion, subs, seed):
    return np.array([monte_carlo_kept(scene, motion, length, subs=subs, samples=60, seed=seed)
                     for length in SUB_LADDER.value])


@pytest.mark.parametrize("name", MOUNTS)
def test_kept_over_the_whole_ladder(benchmark, name):
    from dataclasses import replace

    scene = scene_of(replace(WORM_MOUNT, **MOUNTS[name]))
    motion = unguided_motion(scene)
    ours = benchmark(lambda: kept_share(scene, motion).at(SUB_LADDER.value)[0])
    truth = monte_carlo(scene, motion, 20_000, 1)
    error = np.sqrt(np.mean((ours - truth) ** 2))
    equal = np.mean(truth * (1 - truth)) / max(error, 1e-3) ** 2  # random subs per length with the same rms error
    begun = time.perf_counter()
    monte_carlo(scene, motion, 1000, 99)
    drawn = (time.perf_counter() - begun) * equal / 1000
    ratio = drawn / benchmark.stats.stats.median
    benchmark.extra_info.update(rms_error=float(error), equal_subs=float(equal), times_faster=float(ratio))
    print(f"\n{name}: rms error {error:.4f} = {equal:.0f} random subs per length; {ratio:.0f} times faster than those")
    assert error < 0.02
    assert np.allclose(kept(scene), ours)


@pytest.mark.parametrize("mount", [FRICTION_MOUNT, WORM_MOUNT], ids=lambda mount: mount.name)
def test_one_guide_need(benchmark, mount):
    scene = scene_of(mount)
    need = benchmark(lambda: guide_need(scene, galactic_latitude=40 * u.deg))
    assert need.guided is not None


def test_one_scene(benchmark):
    scene = benchmark(lambda: scene_of(WORM_MOUNT))
    assert scene.sky_rate > 0
