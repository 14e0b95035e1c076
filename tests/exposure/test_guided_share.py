"""The setting of the guide loop by what subs bring; simulated in `worlds.test_regret`."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import GREEN, GUIDER, SITE, WORM_MOUNT, rig

from planner.exposure import SUB_LADDER, observing_scene, unguided_motion
from planner.exposure.guide_star import GuideStar, loops_on_star
from planner.exposure.guided_share import guided_share
from planner.exposure.share_grid import kept_share
from planner.exposure.star_motion import guided_motion
from planner.exposure.sub_exposure import speed_curve
from planner.rig import PeriodicTerm

WINDOW = np.linspace(-3, 3, 9) * u.hourangle
STAR = GuideStar(magnitude=8 * u.mag, offset=[0, 0.2] * u.deg, source="")
GEARED = replace(WORM_MOUNT, periodic=(*WORM_MOUNT.periodic, PeriodicTerm(period=6 * u.s, amplitude=1 * u.arcsec)))


def speed_of(scene, shares):
    return speed_curve(scene, shares, SUB_LADDER.value).speed.max()


@pytest.mark.parametrize("mount", [WORM_MOUNT, GEARED])
def test_no_setting_on_the_grid_is_much_faster(mount):
    scene = observing_scene(rig(mount=mount, guider=GUIDER), SITE, GREEN, declination=10 * u.deg, hour_angle=WINDOW)
    motion = unguided_motion(scene)
    found = guided_share(scene, motion, STAR)
    loops = loops_on_star(scene, STAR, motion)
    speeds = [speed_of(scene, kept_share(scene, guided_motion(scene, loops.at(i, j), guide_star_offset=STAR.offset),
                                         nodes=SUB_LADDER))
              for i, j in np.argwhere(loops.stable)[::3]]  # every third setting
    assert speed_of(scene, found.shares) > 0.95 * max(speeds)


def test_without_a_star_there_is_no_guiding():
    scene = observing_scene(rig(mount=WORM_MOUNT, guider=GUIDER), SITE, GREEN, declination=10 * u.deg,
                            hour_angle=WINDOW)
    assert guided_share(scene, unguided_motion(scene), None) is None
    assert guided_share(scene, unguided_motion(scene), replace(STAR, magnitude=np.inf * u.mag)) is None
