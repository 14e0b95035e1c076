"""The fast table against the full star image, over a seeded grid of stars and wanders."""

import numpy as np
import pytest
from astropy import units as u
from optics.one_star import adaptive_moments

from planner.errors import InvalidInputError
from planner.optics import motion_response, star_image

STILL = {"seeing_fwhm": 2.5 * u.arcsec, "wavelength": 550 * u.nm, "aperture": 200 * u.mm, "obstruction": 0.35,
         "image_scale": 0.8 * u.arcsec / u.pix}
PHASE = 2 * np.pi * (np.arange(96) + 0.5) / 96


def some_star(rng, widest_pixel):
    seeing = rng.uniform(1, 5)
    return {"seeing_fwhm": seeing * u.arcsec, "wavelength": rng.uniform(400, 900) * u.nm,
            "aperture": rng.uniform(60, 400) * u.mm, "obstruction": rng.uniform(0, 0.45),
            "image_scale": rng.uniform(0.3, min(4, widest_pixel * seeing)) * u.arcsec / u.pix,
            "focus_blur_fwhm": rng.choice([0.0, 1.0]) * u.arcsec}


def straight(kind, length, rng):
    """Places along a line [units of length], of a wander whose ends are `length` apart."""
    if kind == "trail":
        return length * (np.arange(96) + 0.5 - 48) / 96
    if kind == "sinusoid":
        return length / 2 * np.cos(PHASE)
    if kind == "drift and sinusoid":
        share = rng.uniform(0.2, 0.8)
        line = (1 - share) * length * (np.arange(24) + 0.5 - 12) / 24
        return (share * length / 2 * np.cos(PHASE)[:, None] + line).ravel()
    start, stretch = rng.uniform(0, 2 * np.pi), rng.uniform(0.5, 5)
    line = np.cos(start + stretch * np.arange(96) / 96)
    return (line - line.mean()) * length / np.ptp(line)


def both(still, response, kind, rng, longest=2.0):
    """The full image and the table's answer for one wander of up to `longest` FWHM with some jitter."""
    fwhm = response.still.fwhm.to_value(u.arcsec)
    angle, jitter = rng.uniform(0, np.pi), rng.choice([0.0, rng.uniform(0, 0.5)]) * fwhm
    place = straight(kind, rng.uniform(0, longest) * fwhm, rng)
    track = np.outer(place, (np.sin(angle), np.cos(angle))) * u.arcsec
    full = star_image(**still, track=track, jitter_rms=jitter * u.arcsec)
    variance = np.var(place)
    excess = (np.mean(place**4) - 3 * variance**2) / (variance + jitter**2) ** 2
    fast = response.at((variance + jitter**2) * u.arcsec**2, jitter**2 * u.arcsec**2, excess)
    return full, fast


@pytest.mark.parametrize("kind", ["trail", "sinusoid", "drift and sinusoid"])
@pytest.mark.parametrize("seed", range(12))
def test_agrees_with_the_full_image(kind, seed):
    rng = np.random.default_rng(seed)
    still = some_star(rng, widest_pixel=2)
    response = motion_response(**still)
    for longest in (1, 2, 4):
        full, fast = both(still, response, kind, rng, longest)
        assert float(fast.elongation) == pytest.approx(full.elongation, abs=0.01)
        assert fast.fwhm.value == pytest.approx(full.fwhm.value, rel=0.04)
        assert fast.noise_equivalent_area.value == pytest.approx(full.noise_equivalent_area.value, rel=0.02)


@pytest.mark.parametrize("seed", range(10))
def test_a_part_of_a_sine_agrees_where_frames_are_judged(seed):
    # A lopsided wander is known here by its kurtosis alone: 0.01 up to an elongation of 0.2, 0.05 beyond.
    rng = np.random.default_rng(seed)
    still = some_star(rng, widest_pixel=2)
    response = motion_response(**still)
    for longest in (0.7, 1.3, 2):
        full, fast = both(still, response, "part of a sine", rng, longest)
        tolerance = 0.01 if full.elongation < 0.2 else 0.05
        assert float(fast.elongation) == pytest.approx(full.elongation, abs=tolerance)


def test_a_square_pixel_much_wider_than_the_air_costs_a_little():
    # The table averages over the pixel's directions; at 4 seeing widths to a pixel the trail's direction matters.
    still = STILL | {"seeing_fwhm": 1 * u.arcsec, "image_scale": 4 * u.arcsec / u.pix, "aperture": 400 * u.mm}
    response = motion_response(**still)
    trail = 2 * response.still.fwhm
    for angle in (0, 20, 45):
        full = star_image(**still, trail=trail, trail_position_angle=angle * u.deg)
        fast = response.at(trail**2 / 12, 0 * u.arcsec**2, -1.2)
        assert float(fast.elongation) == pytest.approx(full.elongation, abs=0.02)


def test_the_still_star_is_the_star_image():
    star, response = star_image(**STILL), motion_response(**STILL)
    none = response.at(0 * u.arcsec**2, 0 * u.arcsec**2, 0.0)
    for still in (none, response.still):
        assert still.elongation == pytest.approx(0, abs=1e-9)
        assert still.fwhm.value == pytest.approx(star.fwhm.value, rel=2e-3)
        assert still.noise_equivalent_area.value == pytest.approx(star.noise_equivalent_area.value, rel=2e-3)


def test_the_table_is_scaled_by_the_still_stars_own_moment():
    drawn = adaptive_moments(star_image(**STILL).render((161, 161), oversampling=8))
    sigma = np.sqrt(drawn.sigma_major * drawn.sigma_minor).value * 0.1
    assert np.sqrt(motion_response(**STILL).still_variance) == pytest.approx(sigma, rel=1e-3)


def test_shapes_broadcast():
    response = motion_response(**STILL)
    effect = response.at(np.ones((3, 1)) * u.arcsec**2, np.zeros(4) * u.arcsec**2, -1.2)
    assert effect.elongation.shape == effect.fwhm.shape == effect.noise_equivalent_area.shape == (3, 4)
    assert effect.elongation[0, 0] == effect.elongation[2, 3]


def test_more_motion_is_never_rounder_nor_smaller():
    response = motion_response(**STILL)
    variance = np.geomspace(1e-4, 1e5, 300) * u.arcsec**2
    for kurtosis in (-1.5, -1.2, -0.6, 0.0, 1.0):
        effect = response.at(variance, 0 * u.arcsec**2, kurtosis)
        assert np.all(np.diff(effect.elongation) > 0)
        assert np.all(np.diff(effect.fwhm) > 0)
        assert np.all(np.diff(effect.noise_equivalent_area) > 0)


@pytest.mark.parametrize(("arguments", "name"), [
    ((-1 * u.arcsec**2, 0 * u.arcsec**2, 0.0), "variance_major"),
    ((1 * u.arcsec, 0 * u.arcsec**2, 0.0), "variance_major"),
    ((1.0, 0 * u.arcsec**2, 0.0), "variance_major"), ((1 * u.arcsec**2, np.nan * u.arcsec**2, 0.0), "variance_minor"),
    ((1 * u.arcsec**2, 0 * u.arcsec**2, -3.0), "excess_kurtosis"),
    ((1 * u.arcsec**2, 0 * u.arcsec**2, np.nan), "excess_kurtosis")])
def test_wrong_values_are_refused(arguments, name):
    with pytest.raises(InvalidInputError, match=f"{name} = "):
        motion_response(**STILL).at(*arguments)
