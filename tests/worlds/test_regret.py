"""The simulator against closed forms, and what following the advice costs in worlds it has not seen."""

from dataclasses import replace

import galsim
import numpy as np
import pytest
from worlds.advice import advice, guided_by, rig_of, scene_of
from worlds.motion import SIDEREAL, TICK, _seen_by_air, mount_track, sky
from worlds.regret import judge
from worlds.simulate import guided_yield, round_of_first
from worlds.star import STEP, adaptive_moments, axis_ratio_and_width, gaussian_transfer, render, still_transfer
from worlds.suggestions import repaired
from worlds.world import draw_world

from planner.exposure.guide_star import loops_on_star
from planner.exposure.star_motion import unguided_motion

STILL = replace(draw_world(1), wander=0.0, periodic=(), polar_alt_arcmin=0.0, polar_az_arcmin=0.0)


def windows(track, length):
    """Return the mean variance of the first coordinate within windows of a length in seconds, their mean removed."""
    ticks = round(length / TICK)
    whole = track[:, :track.shape[1] // ticks * ticks, 0]
    return whole.reshape(len(track), -1, ticks).var(axis=2).mean()


def test_moments_of_a_gaussian_star_are_its_covariance():
    covariance = np.array([[[1.0, 0.2], [0.2, 0.6]]])
    step = np.array([STEP * 2.1])
    image = render(np.zeros((1, 4, 2)), gaussian_transfer(covariance, step), step)
    np.testing.assert_allclose(adaptive_moments(image, step, 40), covariance, atol=0.01)


@pytest.mark.parametrize(("fwhm", "pixel", "metres"), [
    (1.25, 0.4, 0.2), (3.0, 0.4, 0.2), (2.0, 2.0, 0.2), (2.5, 1.0, 0.06)])
def test_stars_are_those_of_an_independent_image_simulator(fwhm, pixel, metres):
    """GalSim: Kolmogorov's air, a round aperture, a pixel and a Gaussian wander, by its own adaptive moments."""
    along, across = 0.25 * fwhm, 0.08 * fwhm
    wander = galsim.Gaussian(sigma=np.sqrt(along * across)).shear(q=across / along, beta=0 * galsim.degrees)
    optics = galsim.Airy(lam=550, diam=metres, scale_unit=galsim.arcsec)
    image = galsim.Convolve([galsim.Kolmogorov(fwhm=fwhm), optics, galsim.Pixel(pixel), wander]).drawImage(
        scale=fwhm / 12, nx=256, ny=256, method="no_pixel")
    shape = abs(image.FindAdaptiveMom().observed_shape.e)
    step = np.array([STEP * np.hypot(fwhm, pixel)])
    transfer = still_transfer(np.array([fwhm]), 0.0, pixel, step, metres / 550e-9 / 206265)
    covariance = np.diag([along**2, across**2])[None]
    ours = render(np.zeros((1, 2, 2)), transfer * gaussian_transfer(covariance, step), step)
    ratio, _ = axis_ratio_and_width(adaptive_moments(ours, step, 40))
    assert ratio[0] == pytest.approx(np.sqrt((1 - shape) / (1 + shape)), abs=5e-4)


def test_what_the_guider_sees_of_the_air_has_its_closed_variance():
    """0.18 lambda^2 r0^(-5/3) D^(-1/3) less what the outer scale takes, in exposures far shorter than the motion."""
    width, aperture = 2.0, 0.2
    seen = _seen_by_air(aperture, 1e-4, 0.02, np.full((40, 20000, 1), width), np.random.default_rng(5))
    r0 = 0.976 * 500e-9 / np.deg2rad(width / 3600)
    rms = np.sqrt(0.18 * r0**(-5 / 3) * aperture**(-1 / 3) * (1 - 1.5 * (aperture / 25)**(1 / 3))) * 500e-9 * 206265
    assert seen.std() == pytest.approx(rms, rel=0.05)


def test_a_short_trail_elongates_by_its_variance():
    """A straight trail L adds L^2 / 12 along itself; adaptive weights change that in the order L^4 only."""
    sigma, trail = 1.0, 1.0
    step = np.array([STEP * 2.3548])
    path = np.stack([np.linspace(-trail / 2, trail / 2, 400), np.zeros(400)], axis=-1)[None]
    image = render(path, gaussian_transfer(np.eye(2)[None] * sigma**2, step), step)
    ratio, _ = axis_ratio_and_width(adaptive_moments(image, step, 40))
    assert ratio[0] == pytest.approx(1 / np.sqrt(1 + trail**2 / 12), abs=0.002)


@pytest.mark.parametrize("length", [30, 120, 300])
def test_a_harmonic_keeps_the_variance_of_its_closed_form(length):
    """A^2 / 2 (1 - sinc^2(pi t / P)), averaged over phases."""
    period, amplitude = 240.0, 5.0
    brief = replace(STILL, hour_angles_h=(-1.0, -0.6))
    still = mount_track(brief, 1, np.random.default_rng(1))
    moved = mount_track(replace(brief, periodic=((period, amplitude),)), 400, np.random.default_rng(2))
    scale = amplitude * np.cos(np.deg2rad(STILL.declination_deg))
    expected = scale**2 / 2 * (1 - np.sinc(length / period)**2)
    assert windows(moved - still, length) == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("length", [60, 300])
def test_a_random_walk_keeps_a_sixth_of_its_variance(length):
    """s^2 T / 6 about its own mean, s^2 per minute and T in minutes."""
    still = mount_track(STILL, 1, np.random.default_rng(1))
    moved = mount_track(replace(STILL, wander=0.4), 40, np.random.default_rng(3))
    assert windows(moved - still, length) == pytest.approx(0.4**2 * length / 60 / 6, rel=0.06)


def test_polar_error_drifts_in_declination_at_its_textbook_rate():
    """An azimuth error a drifts the star on the meridian by 15.04 arcsec/s times a cos(latitude) in declination."""
    tilted = replace(STILL, polar_az_arcmin=10.0, hour_angles_h=(-0.1, 0.1))
    seconds = np.linspace(0, 720, 100)
    drift = sky(tilted, seconds)["drift"] - sky(replace(tilted, polar_az_arcmin=0.0), seconds)["drift"]
    rate = abs(np.ptp(drift[:, 1])) / 720
    assert rate == pytest.approx(SIDEREAL * np.deg2rad(10 / 60) * np.cos(np.deg2rad(STILL.latitude_deg)), rel=0.01)


@pytest.mark.parametrize(("error", "expected"), [
    ({"polar_alt_arcmin": 10.0}, lambda hour, _: np.cos(hour)),
    ({"polar_az_arcmin": 10.0}, lambda hour, latitude: -np.cos(latitude) * np.sin(hour)),
])
def test_polar_error_turns_the_sky_the_right_way(error, expected):
    """First order: too high by a raises the declination by a cos H, east by a lowers it by a cos(latitude) sin H."""
    seconds = np.linspace(0, 4 * 3600, 50)
    begin = replace(STILL, hour_angles_h=(-2.0, 2.0))
    shift = (sky(replace(begin, **error), seconds)["drift"] - sky(begin, seconds)["drift"])[:, 1]
    hour = np.deg2rad(-30 + seconds * SIDEREAL / 3600)
    np.testing.assert_allclose(shift, 600 * expected(hour, np.deg2rad(STILL.latitude_deg)), atol=3)


def test_the_parallactic_angle_is_that_of_the_triangle():
    """tan q = sin H / (tan latitude cos dec - sin dec cos H) from zenith to pole (Meeus 1998, eq. 14.1)."""
    seconds = np.linspace(0, 4 * 3600, 9)
    hour = np.deg2rad(-30 + seconds * SIDEREAL / 3600)
    dec, latitude = np.deg2rad(STILL.declination_deg), np.deg2rad(STILL.latitude_deg)
    triangle = np.arctan2(np.sin(hour), np.tan(latitude) * np.cos(dec) - np.sin(dec) * np.cos(hour))
    seen = sky(replace(STILL, hour_angles_h=(-2.0, 2.0)), seconds)["parallactic"]
    np.testing.assert_allclose(seen, triangle, atol=1e-6)


def test_of_the_first_subs_a_still_mount_keeps_all_and_one_that_strays_next_to_none():
    brief = replace(STILL, hour_angles_h=(-0.5, 0.5), jitter=0.0)
    np.testing.assert_array_equal(round_of_first(brief, None, 10.0, 10), [10] * 10)
    assert round_of_first(replace(brief, wander=30.0), None, 60.0, 10).mean() < 1
    assert round_of_first(brief, None, 600.0, 10).size == 0  # they do not fit


@pytest.fixture(scope="module")
def cases():
    # A short run of what ``python tests/worlds/regret.py`` does at length.
    return [judge(draw_world(3000 + one), subs=90) for one in range(3)]


def test_following_the_advice_beats_every_rule_of_thumb(cases):
    mine = np.mean([case.regret for case in cases])
    for rule in cases[0].rules:
        assert mine < np.mean([case.rules[rule] for case in cases]), rule


def test_following_the_advice_costs_little_in_most_worlds(cases):
    """Half of the worlds lose under 5 %: read from 90 subs per length, itself uncertain by 3 to 4 %."""
    assert np.median([case.regret for case in cases]) < 0.05


def test_a_mount_that_shakes_under_a_slow_loop_keeps_its_subs():
    """What shakes the mount is over in a tenth of a second, however long the loop's own motion lasts."""
    case = judge(draw_world(3001223), nights=3, subs=90)
    assert case.method == "guided as advised"
    assert case.world.jitter > 0.8
    assert case.predicted == pytest.approx(case.simulated, abs=0.1)


def test_what_is_repaired_first_brings_most():
    # In this world jitter moves an unguided star most, and it is the periodic error that loses the subs.
    cause, share = repaired(draw_world(4001026), nights=2, subs=48)
    assert (cause, share) == ("periodic error", 1)


def test_the_loop_is_the_one_that_brings_most():
    """A gear of 5.7 s that a firm loop amplifies: the smallest residual leaves 8 of 100 subs of 30 s round."""
    world = draw_world(6001057)
    need = advice(world)
    plain = loops_on_star(scene_of(world, rig_of(world)), guided_by(world),
                          unguided_motion(scene_of(world, rig_of(world)))).best()
    brings = [guided_yield(world, (float(loop.exposure.value), loop.gain), np.array([20, 60, 120]), nights=3, subs=60)
              .rate.max() for loop in (need.loop, plain)]
    assert brings[0] > 3 * brings[1]
