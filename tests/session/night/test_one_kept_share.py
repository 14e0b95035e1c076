"""A night deals out subs by the kept share of an advice, hour by hour: within 0.02, for any drive."""

import dataclasses

import numpy as np
import pytest
from astropy import units as u

from planner.exposure import SUB_LADDER, unguided_motion
from planner.exposure.share_grid import kept_share
from planner.files.equipment import load_equipment
from planner.files.packaged import packaged_data
from planner.rig.mount import PeriodicTerm
from planner.session.night.motion import mount_motion
from planner.visibility import Target

DEMO = load_equipment(packaged_data("equipment.toml"))
BOUND = 0.02


def drive(seed, mount):
    """Return a mount with none to three periodic terms of up to 40 arcsec, a polar axis up to half a degree off."""
    dice = np.random.default_rng(seed)
    terms = tuple(PeriodicTerm(period=dice.uniform(60, 900) * u.s, amplitude=10 ** dice.uniform(-0.5, 1.6) * u.arcsec,
                               phase=dice.uniform(0, 360) * u.deg) for _ in range(seed % 4))
    axis = dice.normal(size=2) * 10 ** dice.uniform(0, 1.5) * u.arcmin
    return dataclasses.replace(
        mount, periodic=terms, polar_altitude_error=axis[0], polar_azimuth_error=axis[1], errors={},
        rate_error_ppm=float(dice.normal(0, 100)), jitter=10 ** dice.uniform(-1, 0.3) * u.arcsec,
        wander=10 ** dice.uniform(-1.5, 0.5) * u.arcsec / u.min**0.5), dice


@pytest.mark.parametrize("seed", range(16))
def test_the_kept_share_of_a_night_is_that_of_an_advice(seed):
    rig = DEMO.rig(("nebulae", "galaxies", "wide", "old pier")[seed // 4])
    mount, dice = drive(seed, rig.mount)
    rig = dataclasses.replace(rig, mount=mount, guider=None)
    target = Target("t", 30 * u.deg, dice.uniform(-20, 70) * u.deg)
    hours = [dice.uniform(-75, -20), dice.uniform(0, 70)] * u.deg
    night = mount_motion(target, rig, DEMO.site("hill"), hours)
    advice = kept_share(night.scene, unguided_motion(night.scene)).at_one_height().at(SUB_LADDER.to_value(u.s))
    assert np.abs(night.kept[0] - advice[0]).max() < BOUND
    assert np.abs(night.light[0] - advice[1])[advice[0] > BOUND].max(initial=0) < BOUND
