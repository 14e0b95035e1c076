"""What a loop leaves within subs of a few of its cycles, against a loop that runs in time."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import GREEN, GUIDER, SITE, WORM_MOUNT, rig

from planner.exposure import observing_scene
from planner.exposure.star_motion import guided_motion
from planner.rig import PeriodicTerm
from planner.tracking import guide_loops

TICK = 0.05  # s
PERIOD, AMPLITUDE, LATENCY = 410.0, 19.4, 0.9  # s, arcsec, s


def star_in_time(exposure: float, gain: float) -> np.ndarray:
    """Return where the star stands every tick over 60 turns of a worm, the correction held from cycle to cycle."""
    seen, cycle = round(exposure / TICK), round((exposure + LATENCY) / TICK)
    free = AMPLITUDE * np.sin(2 * np.pi / PERIOD * TICK * np.arange(round(60 * PERIOD / TICK) // cycle * cycle))
    rows = free.reshape(-1, cycle)
    correction, star = 0.0, np.empty_like(rows)
    for cycle_number, row in enumerate(rows):
        star[cycle_number] = row - correction
        correction += gain * star[cycle_number, :seen].mean()
    return star[len(star) // 10:].ravel()


def within_subs(star: np.ndarray, seconds: float) -> float:
    """Return the median rms about the mean within subs that begin anywhere."""
    count = round(seconds / TICK)
    begin = np.random.default_rng(3).integers(0, star.size - count, 1500)
    return float(np.median([star[one:one + count].std() for one in begin]))


@pytest.mark.parametrize(("exposure", "gain"), [(6, 0.3), (2, 0.5)])
@pytest.mark.parametrize("cycles", [1, 1.5, 3, 6, 15])
def test_a_short_sub_meets_the_free_drive_between_corrections(exposure, gain, cycles):
    loop = guide_loops(centroid_rms=0.01 * u.arcsec, exposures=[exposure] * u.s, gains=[gain], latency=LATENCY * u.s,
                       periods=[PERIOD] * u.s, amplitudes=[AMPLITUDE] * u.arcsec).best()
    mount = replace(WORM_MOUNT, periodic=(PeriodicTerm(period=PERIOD * u.s, amplitude=AMPLITUDE * u.arcsec),))
    scene = observing_scene(rig(mount=mount, guider=GUIDER), SITE, GREEN, declination=0 * u.deg,
                            hour_angle=[-1, 1] * u.hourangle)
    motion = guided_motion(scene, loop, guide_star_offset=[0, 0.2] * u.deg)
    length = cycles * (exposure + LATENCY)
    of_a_unit = np.sqrt((1 - np.sinc(length / PERIOD) ** 2) / 2)  # rms over all phases
    assert motion.amplitudes_in(np.array([length]))[0, 0] * of_a_unit == pytest.approx(
        within_subs(star_in_time(exposure, gain), length), rel=0.06)
