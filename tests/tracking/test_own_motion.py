"""A target that moves against the stars: a steady trail in every sub."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import FRICTION_MOUNT, GREEN, GUIDER, PERFECT_MOUNT, SITE, rig
from numpy.testing import assert_allclose

from planner.exposure.guide_need import guide_need
from planner.exposure.scene import observing_scene
from planner.exposure.share_grid import kept_share
from planner.exposure.speed import SUB_LADDER
from planner.exposure.star_motion import unguided_motion
from planner.tracking.own_motion import OWN_MOTION

PLACE = {"declination": 30 * u.deg, "hour_angle": np.linspace(-20, 20, 9) * u.deg}
GUIDED = rig(mount=FRICTION_MOUNT, guider=GUIDER)
PACE = [90.0, -120.0] * u.arcsec / u.h  # 2.5 arcsec a minute


def test_it_trails_like_a_mount_that_creeps_as_fast():
    steady = rig()
    creeping = replace(steady, mount=replace(PERFECT_MOUNT, flexure_ra=PACE[0], flexure_dec=PACE[1]))
    kept = []
    for one, motion in ((steady, PACE), (creeping, 0 * PACE)):
        scene = observing_scene(one, SITE, GREEN, motion=motion, **PLACE)
        kept.append(kept_share(scene, unguided_motion(scene)).at(SUB_LADDER.to_value(u.s))[0])
    assert kept[0].max() > 0.9
    assert kept[0].min() < 0.1
    assert_allclose(kept[0], kept[1], atol=1e-6)


def test_it_limits_the_sub_guided_and_not_and_is_named():
    scene = observing_scene(GUIDED, SITE, GREEN, motion=PACE, **PLACE)
    still, moving = guide_need(observing_scene(GUIDED, SITE, GREEN, **PLACE)), guide_need(scene)
    for way in ("unguided", "guided"):
        assert getattr(moving, way).recommended < getattr(still, way).recommended
    assert OWN_MOTION in moving.guided.limited_above_by
    # A straight trail of length L has an rms of L/√12 along it.
    trail = [row.rms.to_value(u.arcsec) for row in moving.budget if row.term == OWN_MOTION]
    length = (2.5 * u.arcsec / u.min * moving.budget_exposure).to_value(u.arcsec)
    assert np.hypot(*trail) == pytest.approx(length / np.sqrt(12))
