"""A night deals out subs by the kept share of an advice, hour by hour: over its window within 0.02, for any drive."""

import dataclasses
import datetime
import re

import numpy as np
import pytest
from astropy import units as u

from planner.exposure import SUB_LADDER, unguided_motion
from planner.exposure.scene import observing_scene, over_window
from planner.exposure.share_grid import kept_share, still_growth
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.rig.mount import PeriodicTerm
from planner.session.advice.answer import advise
from planner.session.night.motion import mount_motion, stand_ins
from planner.session.night.plan import plan_night
from planner.session.projects.request import Need, Request
from planner.sky import airmass
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
    hours = np.linspace(dice.uniform(-75, -20), dice.uniform(0, 70), 9) * u.deg
    night = mount_motion(target, rig, DEMO.site("hill"), rig.filters[0], hours)
    advice = kept_share(night.scene, unguided_motion(night.scene)).at(SUB_LADDER.to_value(u.s))
    kept, light = (part[0] for part in night.at(np.linspace(hours[0], hours[-1], 801)))
    assert np.abs(over_window(kept) - advice[0]).max() < BOUND
    wide = 1 / still_growth(night.scene, 801)[:, 0]  # a plan counts the air's part of a star's width by itself
    some = advice[0] > BOUND
    shown = over_window(kept * light * wide / over_window(wide))[some] / over_window(kept)[some]
    assert np.abs(shown - advice[1][some]).max(initial=0) < BOUND


def test_hours_too_low_for_the_rest_of_the_window_bring_nothing():
    # By hand: the air widens a star as airmass^0.6; alone, it is too wide where that is 1.2 times its median. The
    # telescope's own blur takes off some of it: nothing is lost above airmass 1.2^(1/0.6) = 1.36 times the median's.
    rig, site = DEMO.rig("nebulae"), DEMO.site("hill")
    hours = np.linspace(-95, 95, 9) * u.deg
    night = mount_motion(Target("t", 30 * u.deg, 35 * u.deg), rig, site, rig.filters[0], hours)
    even = np.linspace(hours[0], hours[-1], 601)
    kept = night.at(even)[0].max(axis=(0, 1))
    air = airmass(np.interp(even.value, hours.value, night.scene.altitude.value) * u.deg).value
    assert (kept[air < 1.36 * np.median(air)] > 0.9).all()
    assert (kept[air > 1.6 * np.median(air)] == 0).all()
    assert np.count_nonzero(kept == 0) > 20
    told = airmass(night.too_wide_below).value / np.median(air)
    assert 1.36 < told < 1.6


@pytest.mark.parametrize("name", ["L", "B", "Ha", "SII"])
def test_what_else_is_in_the_wheel_changes_nothing(name):
    # Low down the air draws a star out through a wide filter and hardly through a line's: each keeps its own share.
    site, band = DEMO.site("paddock"), next(one for one in DEMO.filters if one.name == name)
    rig = dataclasses.replace(DEMO.rig("galaxies"), guider=None, filters=DEMO.filters)
    hours = np.linspace(-62, -48, 9) * u.deg
    target = Target("t", 30 * u.deg, -45 * u.deg)
    night = mount_motion(target, rig, site, stand_ins(rig, site)[name], hours)
    scene = observing_scene(rig, site, band, declination=target.dec, hour_angle=hours)
    advice = kept_share(scene, unguided_motion(scene)).at(SUB_LADDER.to_value(u.s))[0]
    kept = over_window(night.at(np.linspace(hours[0], hours[-1], 401))[0][0])
    assert np.abs(kept - advice).max() < 2 * BOUND  # the seeing of another wavelength is in it


@pytest.mark.parametrize(("name", "worse", "said"), [("nebulae", 1, False), ("nebulae", 8, True), ("wide", 1, False),
                                                     ("old pier", 1, True)])
def test_a_plan_says_where_an_advice_finds_no_length_good(name, worse, said):
    rig, site, target = DEMO.rig(name), DEMO.site("hill"), find_target("NGC 7331")
    terms = tuple(dataclasses.replace(term, amplitude=worse * term.amplitude) for term in rig.mount.periodic)
    rig = dataclasses.replace(rig, guider=None, mount=dataclasses.replace(rig.mount, periodic=terms))
    need = advise(target, rig, site, datetime.date(2026, 11, 10), with_changes=False).verdict
    plan = plan_night((Request(target=target, needs=(Need(band=rig.filters[0], hours=20 * u.h),)),), rig, site,
                      "2026-11-10")
    told = [note for note in plan.notes if "moves no star" in note]
    assert bool(told) == said == (need.verdict == "neither")
    if said:
        share = need.better.ladder.speed.max() / need.perfect_speed
        assert float(re.search(r"NGC 7331 in L (\d+) %", told[0])[1]) == pytest.approx(100 * share, abs=3)
