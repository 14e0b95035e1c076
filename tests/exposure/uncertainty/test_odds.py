"""How sure: the draws, the odds they give, and the worth of a measurement acted on."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import EXACT, FRICTION_MOUNT, GREEN, GUIDER, PERFECT_MOUNT, SITE, WORM_MOUNT, rig
from numpy.testing import assert_allclose

from planner.exposure import observing_scene
from planner.exposure.guide_need import guide_need
from planner.exposure.scene import with_mount
from planner.exposure.share_grid import kept_share
from planner.exposure.speed import SUB_LADDER
from planner.exposure.star_motion import unguided_motion
from planner.exposure.sub_exposure import speed_curve
from planner.exposure.uncertainty.drawn import MIDDLES, NODES, PHASES, Ways
from planner.exposure.uncertainty.inputs import CLASS_SPREAD, Draw, open_inputs
from planner.exposure.uncertainty.odds import LEAST_PER_INPUT, VERDICTS, _deeper, _in_two_parts, certainty
from planner.rig import PeriodicTerm
from planner.tracking.moments.even_draws import even_normals

WINDOW = np.linspace(-3, 3, 9) * u.hourangle


def sure_of(one, site=SITE, **more):
    scene = observing_scene(one, site, GREEN, declination=40 * u.deg, hour_angle=WINDOW)
    return certainty(scene, guide_need(scene, with_changes=False), **more)


def test_draws_are_standard_normal():
    drawn = even_normals(64, 5)
    assert_allclose(drawn.mean(axis=0), 0, atol=1e-12)
    assert_allclose(drawn.std(axis=0), 1, atol=1e-12)
    assert_allclose(np.corrcoef(drawn.T), np.eye(5), atol=1e-9)


@pytest.mark.parametrize(("draws", "inputs"), [(64, 10), (64, 14), (64, 1), (64, 0), (30, 10), (8, 2), (9, 4)])
def test_half_of_the_draws_are_even_by_themselves(draws, inputs):
    some, every = _in_two_parts(draws, inputs)
    assert len(every) == draws
    assert min(LEAST_PER_INPUT * inputs, draws) <= len(some) <= draws
    assert_allclose(every[:len(some)], some)
    if draws >= 30 and inputs:
        for drawn in (some, every):
            assert_allclose(drawn.mean(axis=0), 0, atol=1e-9)
            assert_allclose(drawn.T @ drawn / len(drawn), np.eye(inputs), atol=0.01)
        assert inputs == 1 or len(some) == draws or np.unique(every.round(9), axis=0).shape[0] == draws


def test_what_is_settled_by_half_of_the_draws_takes_no_more():
    # A mount without errors, whose figures are known: no measurement of it is worth anything.
    settled = sure_of(rig(mount=PERFECT_MOUNT), draws=64)
    assert max(settled.odds.values()) == 1
    assert not settled.worth_measuring
    assert settled.draws == 32
    assert sure_of(rig(mount=WORM_MOUNT), draws=64).draws == 64  # without a guider, by figures half known


@pytest.mark.parametrize("mount", [WORM_MOUNT, FRICTION_MOUNT], ids=lambda mount: mount.name)
def test_odds_are_shares_and_repeat(mount):
    first, second = (sure_of(rig(mount=mount, guider=GUIDER), draws=16) for _ in range(2))
    assert set(first.odds) == set(VERDICTS)
    assert sum(first.odds.values()) == pytest.approx(1)
    assert first == second


def test_without_anything_uncertain_the_verdict_is_certain():
    sure = sure_of(rig(mount=PERFECT_MOUNT), replace(SITE, seeing_spread=0), draws=8)
    assert max(sure.odds.values()) == 1
    assert sure.close_share == 1
    assert sure.advice.startswith("Nothing that you could measure")


def test_a_rig_without_guider_and_a_large_periodic_error_wants_a_drift_log():
    # The best length goes inversely with the amplitude, which is known to a factor of 1.3 or so: worth knowing.
    mount = replace(WORM_MOUNT, periodic=(PeriodicTerm(period=480 * u.s, amplitude=30 * u.arcsec),))
    sure = sure_of(rig(mount=mount))
    assert sure.measure_next[0].measurement == "drift log"
    assert sure.at_risk < 0.2


def test_a_known_figure_is_drawn_as_it_is_known():
    mount = replace(WORM_MOUNT, drive_class="worn worm")
    loose, typed = sure_of(rig(mount=mount), draws=4), sure_of(rig(mount=replace(mount, errors={
        "jitter": 0.001 * u.arcsec, "wander": 0.001 * mount.wander.unit})), draws=4)
    spread = {item.name: item.spread for item in typed.inputs}
    assert spread["jitter"] < 0.01 < 0.3 < {item.name: item.spread for item in loose.inputs}["jitter"]
    assert [item.assumed for item in typed.inputs if item.name == "jitter"] == [False]


def test_a_gear_may_be_rough_where_its_worm_is_good():
    # Parts of their own: one term a standard deviation larger says nothing of the other.
    worm = PeriodicTerm(period=480 * u.s, amplitude=9 * u.arcsec)
    gear = PeriodicTerm(period=20 * u.s, amplitude=0.8 * u.arcsec)
    one = rig(mount=replace(WORM_MOUNT, drive_class="mid-range worm", periodic=(worm, gear)))
    inputs = open_inputs(observing_scene(one, SITE, GREEN, declination=40 * u.deg, hour_angle=WINDOW), None)
    draw = Draw(inputs, np.array([float(item.term == gear) for item in inputs]))
    assert draw.amplitude_factor(worm) == 1
    assert draw.amplitude_factor(gear) == pytest.approx(np.exp(CLASS_SPREAD["periodic error"]))


def test_half_the_periodic_error_is_worth_what_it_brings():
    # Followed: the same rig with the change made, judged on its own.
    mount = replace(WORM_MOUNT, periodic=(PeriodicTerm(period=480 * u.s, amplitude=20 * u.arcsec),))
    better = replace(mount, periodic=(PeriodicTerm(period=480 * u.s, amplitude=10 * u.arcsec),))
    scenes = [observing_scene(rig(mount=one), SITE, GREEN, declination=40 * u.deg, hour_angle=WINDOW)
              for one in (mount, better)]
    before, after = (guide_need(scene).better.speed for scene in scenes)
    worth = next(one for one in certainty(scenes[0], guide_need(scenes[0]), draws=4).improve if one.change == "drive")
    assert worth.hours_per_night.to_value(u.h) == pytest.approx(
        scenes[0].length.to_value(u.h) * (1 - before / after), rel=0.05)


def test_a_darker_sky_makes_the_same_depth_sooner():
    # A background-limited rig gathers squared signal-to-noise 2.5 times as fast a magnitude darker: 60 % of the time.
    sure = sure_of(rig(mount=PERFECT_MOUNT), draws=4)
    sky = next(one for one in sure.improve if one.change == "sky")
    hours = observing_scene(rig(mount=PERFECT_MOUNT), SITE, GREEN, declination=40 * u.deg, hour_angle=WINDOW).length
    assert 0.5 < float(sky.hours_per_night / hours) <= 1 - 10**-0.4
    assert not sky.worth_saying  # it is not done where the rig stands


@pytest.mark.parametrize(("now", "said"), [(21.0, "a magnitude darker"), (21.6, "0.4 mag darker"), (22.1, None)])
def test_no_sky_is_darker_than_there_are(now, said):
    sure = sure_of(rig(mount=PERFECT_MOUNT), replace(SITE, sky_brightness=now * u.mag / u.arcsec**2), draws=4)
    found = [one.sentence for one in sure.improve if one.change == "sky"]
    assert (said in found[0]) if said else not found


def test_a_draw_is_the_scene_computed_anew_with_its_figures():
    """What draws share is worked out once; a draw alone, through the functions of any scene, gives the same speeds."""
    mount = replace(WORM_MOUNT, periodic=(PeriodicTerm(period=480 * u.s, amplitude=9 * u.arcsec),
                                          PeriodicTerm(period=20 * u.s, amplitude=0.8 * u.arcsec,
                                                       errors={"amplitude": 0.2 * u.arcsec})))
    scene = observing_scene(rig(mount=mount), SITE, GREEN, declination=40 * u.deg,
                            hour_angle=np.linspace(-3, 3, 9) * u.hourangle)
    inputs = open_inputs(scene, None)
    draw = Draw(inputs, np.array([0 if item.name == "seeing" else (-1) ** k * 0.9 for k, item in enumerate(inputs)]))
    terms = tuple(replace(term, amplitude=term.amplitude * draw.amplitude_factor(term)) for term in mount.periodic)
    other = with_mount(
        scene, periodic=terms, jitter=mount.jitter * draw.factor("jitter"), wander=mount.wander * draw.factor("wander"),
        polar_altitude_error=mount.polar_altitude_error + draw.shift("polar altitude") * u.arcmin,
        polar_azimuth_error=mount.polar_azimuth_error + draw.shift("polar azimuth") * u.arcmin)
    other = replace(other, sky_rate=scene.sky_rate * draw.factor("sky"),
                    read_noise=scene.read_noise * draw.factor("read noise"),
                    site=replace(scene.site, seeing_spread=0.0))  # a draw has the seeing of one night
    shares = kept_share(other, unguided_motion(other), nodes=NODES, middles=MIDDLES, phases=PHASES)
    expected = speed_curve(other, shares, SUB_LADDER.value).speed
    ways = Ways(scene, guide_need(scene, with_changes=False))
    assert_allclose(ways.at(draw).speeds[0] / ways.exact[0], expected, rtol=1e-9)


def test_where_all_but_the_seeing_is_known_the_verdict_stands():
    # A worn drive with gears, known from an hour's log: few exposures took 15 s for better than 10, which lost 15 %.
    terms = ((501.2, 23.41), (250.5, 2.86), (166.9, 2.14), (27.1, 1.41))
    errors = {"jitter": 0.005 * u.arcsec, "wander": 0.01 * WORM_MOUNT.wander.unit, **EXACT}
    mount = replace(WORM_MOUNT, jitter=0.19 * u.arcsec, wander=0.574 * WORM_MOUNT.wander.unit, errors=errors,
                    periodic=tuple(PeriodicTerm(period=period * u.s, amplitude=size * u.arcsec,
                                                errors={"amplitude": 0.01 * u.arcsec}) for period, size in terms))
    scene = observing_scene(rig(mount=mount), SITE, GREEN, declination=40 * u.deg, hour_angle=WINDOW)
    need = guide_need(scene, with_changes=False)
    sure = certainty(scene, need)
    assert sure.sub_exposure == need.better.recommended
    # A night of better seeing counts more; on the mean of the nights the speeds are those of the verdict.
    assert sure.gain < 0.01


def test_a_polar_axis_that_nobody_gave_asks_for_shorter_subs_than_a_true_one():
    found = {}
    for name, mount in (("given", PERFECT_MOUNT), ("not given", replace(PERFECT_MOUNT, errors={}))):
        scene = observing_scene(rig(mount=mount), SITE, GREEN, declination=40 * u.deg, hour_angle=WINDOW)
        found[name] = guide_need(scene, with_changes=False), scene
    need, scene = found["not given"]
    assert need.unguided.recommended < found["given"][0].unguided.recommended
    # So the verdict's length is what is best on average over axes drawn one by one.
    sure = certainty(scene, need, draws=64)
    assert (sure.sub_exposure, sure.gain) == (need.unguided.recommended, 0)


def test_a_length_that_may_keep_nothing_has_no_depth():
    # A rough, worn drive: in some of its draws no sub of the length set stays round, which is no depth at all.
    terms = ((615, 17), (51, 4), (8, 2.5))
    worn = replace(WORM_MOUNT, jitter=1.6 * u.arcsec, periodic=tuple(
        PeriodicTerm(period=period * u.s, amplitude=size * u.arcsec) for period, size in terms))
    low, high = sure_of(rig(mount=worn, guider=GUIDER), draws=32).deeper
    assert low == -np.inf * u.mag
    assert np.isfinite(high)
    assert all(depth > -4 * u.mag for depth in sure_of(rig(mount=WORM_MOUNT, guider=GUIDER), draws=32).deeper)
    # 1.25 log10 of the ratio of speeds; a thousandth of the speed is as good as nothing.
    assert_allclose(u.Quantity(_deeper(1.0, np.array([1e-4, 0.01, 1.0, 100.0]))), [-np.inf, 2.5] * u.mag)
    assert_allclose(u.Quantity(_deeper(1.0, np.array([0.01, 0.1, 1.0, 10.0]))), [-2.5, 1.25] * u.mag)
