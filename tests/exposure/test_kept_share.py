"""The kept share against brute force, and its closed form against counting."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.monte_carlo import monte_carlo_kept
from exposure.parts import kept, recommend_sub_exposure
from exposure.rigs import FRICTION_MOUNT, GREEN, HYDROGEN, PERFECT_MOUNT, SITE, WORM_MOUNT, rig
from numpy.testing import assert_allclose
from scipy.stats import norm

from planner.exposure import SUB_LADDER, observing_scene, unguided_motion
from planner.exposure.kept_share import SLOPE_FLOOR, KeptShare, _below_zero, log_margin
from planner.exposure.share_grid import kept_share
from planner.exposure.star_motion import middle_hour_angles
from planner.rig import Mount, PeriodicTerm
from planner.tracking.drive import drive_phases

WINDOW = np.linspace(-4, 2, 13) * u.hourangle
MOUNTS = {
    "no periodic term": FRICTION_MOUNT,
    "polar error only": Mount(name="polar", polar_altitude_error=6 * u.arcmin, polar_azimuth_error=-8 * u.arcmin),
    "one periodic term": replace(WORM_MOUNT, periodic=WORM_MOUNT.periodic[:1]),
    "two periodic terms": WORM_MOUNT,
    "three periodic terms": replace(WORM_MOUNT, periodic=(
        *WORM_MOUNT.periodic, PeriodicTerm(period=60 * u.s, amplitude=1 * u.arcsec))),
}
# Deviation allowed from 6000 random subs, whose own noise is 0.006: what the documented accuracy adds to three of it.
TOLERANCES = {"no periodic term": 0.02, "polar error only": 0.03, "one periodic term": 0.03, "two periodic terms": 0.03,
              "three periodic terms": 0.035}


def scene_with(mount, **changes):
    return observing_scene(rig(mount=mount, **changes), SITE, GREEN, declination=40 * u.deg, hour_angle=WINDOW)


@pytest.mark.parametrize("name", MOUNTS)
def test_against_random_subs(name):
    scene = scene_with(MOUNTS[name])
    lengths = np.array([10, 22, 30, 60, 333]) if name != "no periodic term" else np.array([60, 240, 333, 420, 600])
    ours = kept(scene, lengths * u.s)
    motion = unguided_motion(scene)
    drawn = [monte_carlo_kept(scene, motion, length, subs=6000, samples=100) for length in lengths]
    assert_allclose(ours, drawn, atol=TOLERANCES[name])
    assert np.median(drawn) > 0.05 or np.ptp(drawn) > 0.5  # the lengths chosen are where something happens


def test_the_same_question_has_the_same_answer():
    first, second = kept(scene_with(WORM_MOUNT)), kept(scene_with(WORM_MOUNT))
    assert first.shape == SUB_LADDER.shape
    assert first.tobytes() == second.tobytes()


def test_a_window_of_one_moment_is_answered():
    scene = observing_scene(rig(mount=WORM_MOUNT), SITE, GREEN, declination=40 * u.deg, hour_angle=1 * u.hourangle)
    share = kept(scene)
    assert np.all((share >= 0) & (share <= 1))
    assert share[0] == 1


@pytest.mark.parametrize("slopes", [(0.5, 0.2), (0.1, 1.0), (0.7, 0.0), (0.0, 0.0), (10.0, 0.003)])
@pytest.mark.parametrize("mean", [-0.9, -0.1, 0.05, 0.3, 2.0])
def test_share_of_a_plane_against_counting(mean, slopes):
    x, y = np.meshgrid((np.arange(2000) + 0.5) / 2000 - 0.5, (np.arange(2000) + 0.5) / 2000 - 0.5)
    counted = np.mean(mean + slopes[0] * x + slopes[1] * y <= 0)
    ours = _below_zero(np.array([mean]), [np.array([max(slope, SLOPE_FLOOR)]) for slope in slopes])
    assert_allclose(ours, counted, atol=2e-3)


def share_of(margin, steps):
    """Return the share kept of margins (p,) that are the same at every length and hour angle."""
    shares = KeptShare(exposure_s=np.array([1.0, 2.0]), log_margin=np.log(np.broadcast_to(margin, (2, 1, margin.size))),
                       light=np.ones((2, 1, margin.size)), phase_steps=steps, spread=np.zeros(2), air=np.ones(1))
    return shares.at(np.array([1.5]))[0][0]


@pytest.mark.parametrize("limit", [-1.9, -1.5, -0.7, 0.3])
def test_valleys_between_the_phases_of_two_terms_count(limit):
    # Where sin a + sin b <= limit, counted on a million phases; the lattice has 233, twelve in the smaller valley.
    even = (np.arange(1000) + 0.5) / 1000 * 2 * np.pi
    counted = np.mean(np.sin(even)[:, None] + np.sin(even) <= limit)
    surface = np.sin(drive_phases(233, 2)).sum(axis=1)
    assert_allclose(share_of((surface + 2.001) / (limit + 2.001), (8, 13)), counted, atol=3e-3)


@pytest.mark.parametrize("limit", [-0.95, -0.5, 0.2])
def test_valleys_between_the_phases_of_one_term_count(limit):
    phases = drive_phases(24, 1)[:, 0]
    share = 1 - np.arccos(limit) / np.pi  # where cos <= limit, exactly
    assert_allclose(share_of((np.cos(phases) + 1.001) / (limit + 1.001), (1,)), share, atol=6e-3)


def test_power_laws_between_nodes_are_exact():
    nodes = np.geomspace(1, 1800, 7)
    scale = np.array([[0.002, 0.01]])  # margin = scale t^2 in one hour angle and two phases of their own
    shares = KeptShare(exposure_s=nodes, log_margin=np.log(scale * nodes[:, None, None] ** 2),
                       light=np.ones((7, 1, 2)), phase_steps=(), spread=np.zeros(7), air=np.ones(1))
    # Margins reach 1 at 22.4 s and 10 s.
    kept_at, light = shares.at(np.array([9.9, 10.1, 22.2, 22.5]))
    assert list(kept_at) == [1, 0.5, 0.5, 0]
    assert_allclose(light, 1)


def test_margin_is_a_share_of_what_is_tolerated():
    assert_allclose(np.exp(log_margin(np.array([0.05, 0.2]), 0.1)), [0.5, 2.0])


@pytest.mark.parametrize("margin", [0.4, 0.8, 1.0, 1.3, 2.0])
def test_seeing_makes_the_share_of_equal_margins_a_normal_law(margin):
    # All subs alike but for the seeing: kept where the margin times exp(0.3 z) is at most 1, z normal.
    nodes = np.log(np.full((2, 1, 1), margin))
    shares = KeptShare(exposure_s=np.array([1.0, 2.0]), log_margin=nodes, light=np.ones((2, 1, 1)), phase_steps=(),
                       spread=np.full(2, 0.3), air=np.ones(1))
    assert_allclose(shares.at(np.array([1.5]))[0], norm.cdf(-np.log(margin) / 0.3), atol=0.02)


@pytest.mark.parametrize("jitter", [0.3, 1.5])
def test_blur_that_all_subs_share_loses_none_of_them(jitter):
    # Jitter is round and the same in every sub: an observer who compares frames of one night keeps them all.
    scene = scene_with(replace(PERFECT_MOUNT, jitter=jitter * u.arcsec))
    assert_allclose(kept(scene, 10 * u.s), 1, atol=1e-6)


@pytest.mark.parametrize("declination", [40, 0, -10])
def test_the_air_low_down_makes_stars_too_wide(declination):
    # A mount that never moves a star, and a window that reaches down to 46, 21 and 13 deg of altitude.
    scene = observing_scene(rig(mount=PERFECT_MOUNT), SITE, HYDROGEN, declination=declination * u.deg,
                            hour_angle=WINDOW)
    motion, length = unguided_motion(scene), 10.0
    drawn = monte_carlo_kept(scene, motion, length, subs=6000)
    assert_allclose(kept_share(scene, motion).at(np.array([length]))[0], drawn, atol=0.02)
    assert (drawn < 0.95) == (declination < 40)


def test_no_cliff_as_jitter_grows():
    # The blur is paid in light, smoothly: no step of 5 % in jitter takes a tenth of the speed.
    speeds = [recommend_sub_exposure(scene_with(replace(PERFECT_MOUNT, jitter=jitter * u.arcsec))).ladder.speed.max()
              for jitter in np.geomspace(0.3, 2.0, 40)]
    assert np.all(np.diff(np.log(speeds)) < 0)
    assert np.all(np.diff(np.log(speeds)) > -0.1)


def test_the_odd_wide_sub_is_rejected():
    # A sinusoid of 20 s on both axes' worth: subs near its turning points stay small, those between do not.
    margin = np.array([0.5, 0.5, 0.5, 3.0])
    assert share_of(margin, ()) == 0.75


def test_the_worst_corner_counts():
    # Same mount, same sky: a wide field's corners turn out of tolerance first.
    turning = replace(PERFECT_MOUNT, rate="model", polar_altitude_error=60 * u.arcmin)
    wide = {"telescope__focal_length": 200 * u.mm, "telescope__aperture": 60 * u.mm}
    small = scene_with(turning, **wide, camera__columns=64, camera__rows=64)
    large = scene_with(turning, **wide, camera__columns=9000, camera__rows=6000)
    assert kept(small, 1200 * u.s) > kept(large, 1200 * u.s)


def test_light_falls_with_the_width_of_a_still_star_at_each_hour():
    # Against scenes of single moments, each with the star image of its own seeing; a mean of 1 over the window.
    scene = scene_with(PERFECT_MOUNT)
    light = kept_share(scene, unguided_motion(scene)).light[0, :, 0]
    hours = middle_hour_angles(scene, light.size)
    ends = [observing_scene(rig(mount=PERFECT_MOUNT), SITE, GREEN, declination=40 * u.deg, hour_angle=hour)
            for hour in (hours[0].to(u.hourangle), hours[light.size // 2 + 4].to(u.hourangle))]
    areas = [one.response.still_area for one in ends]
    assert areas[0] > 1.1 * areas[1]
    assert_allclose(light[0] / light[light.size // 2 + 4], areas[1] / areas[0], rtol=0.03)
    assert_allclose(np.trapezoid(light) / (light.size - 1), 1, atol=2e-3)  # dispersion takes half a thousandth
