"""Widths from 1 to 15 pixels, mono and one colour of a mosaic, against fine drawings of an independent simulator."""

import numpy as np
import pytest
from measure.frame_sim import Sky, draw, elongation, true_distortion, true_fwhm
from measure.stars.coverage import REFUSED, Regime, deviations, measured

from planner.measure.stars.psf.psf_basis import NUMBERS, columns, profile
from planner.measure.stars.star_field import measure_frame

# Sharp ones with and without wings, wider ones in turns.
WIDTHS = [("", 1.0, "gauss"), ("", 1.0, "moffat"), ("", 1.2, "gauss"), ("", 1.5, "moffat"), ("", 2.2, "gauss"),
          ("", 4.0, "moffat"), ("", 8.0, "gauss"), ("", 15.0, "moffat"), ("green", 1.8, "gauss"),
          ("green", 1.8, "moffat"), ("green", 2.2, "gauss"), ("green", 5.0, "moffat"), ("green", 12.0, "gauss"),
          ("red", 2.6, "moffat"), ("red", 5.0, "gauss")]


@pytest.mark.parametrize(("colour", "fwhm", "profile"), WIDTHS)
def test_widths(colour, fwhm, profile):
    size = int(max(400, 60 * fwhm))
    sky = Sky(fwhm=fwhm, stars=100, size=size, profile=profile, flux=(1e4 * max(1, fwhm / 3), 3e5), seed=11)
    found = measured(sky, colour)
    assert found.used >= 40
    # 1.5 %: the fits' own errors are 0.3 to 1.5 %.
    assert found.fwhm.value == pytest.approx(true_fwhm(sky), rel=0.015)
    assert found.fwhm_error < 0.025 * found.fwhm
    assert found.elongation < 0.01 + 2 * found.elongation_error


def test_sharp_stars_before_a_bright_sky_are_not_too_wide():
    skies = [Sky(fwhm=1.1, noise=33, profile="gauss", size=300, stars=120, flux=(3e3, 1.8e5), seed=21 + turn)
             for turn in range(3)]
    found = [measured(sky, "").fwhm.value for sky in skies]
    assert np.mean(found) == pytest.approx(true_fwhm(skies[0]), rel=0.009)  # three of 0.4 to 1 %


@pytest.mark.parametrize("colour", ["", "green"])
def test_trails_of_sharp_stars(colour):
    sky = Sky(fwhm=1.0 if not colour else 1.8, trail=1.6, angle=30, stars=200, size=400, seed=12)
    found = measured(sky, colour)
    assert found.elongation == pytest.approx(elongation(true_distortion(sky)), abs=0.01)
    assert abs((found.angle.value - 30 + 90) % 180 - 90) < 3
    assert found.trail.length.value == pytest.approx(1.6, abs=0.15)
    assert found.fwhm.value == pytest.approx(true_fwhm(sky), rel=0.015)


@pytest.mark.parametrize("name", REFUSED)
def test_too_sharp_is_refused_with_the_reason(name):
    found = measured(REFUSED[name].sky(1, 5), REFUSED[name].colour)
    assert found.parts is None
    assert "sharper than the pixels" in found.reason
    assert not np.isfinite(found.elongation)


def test_hot_pixels_are_no_sharp_stars():
    sky = Sky(fwhm=1.1, stars=150, size=400, seed=13)
    image = draw(sky)[0]
    random = np.random.default_rng(13)
    image[tuple(random.integers(5, 395, (2, 300)))] += random.uniform(500, 20000, 300)
    found, with_hot = measured(sky, ""), measure_frame(image)
    assert with_hot.fwhm.value == pytest.approx(found.fwhm.value, rel=0.02)
    assert with_hot.used < 1.1 * found.used


@pytest.mark.parametrize("regime", [Regime((1.0, 1.4), stars=90, size=280), Regime((2.0, 3.0)),
                                    Regime((1.8, 3.0), colour="green", stars=90, size=280)],
                         ids=["sharp", "usual", "green"])
def test_stated_errors_hold(regime):
    z, away = deviations(regime, 5, seed=7)
    assert len(z) >= 4
    # Chi-square of 5: over 2.0 squared a frame once in a thousand runs; the long run is coverage.py's.
    assert np.all(np.sqrt(np.mean(np.square(z), axis=0)) < 2.0)
    assert np.max(np.abs(away)) < 0.025


def test_a_profile_is_its_columns_times_their_numbers():
    dice = np.random.default_rng(1)
    (u, v), numbers = dice.normal(size=(2, 20, 9)), dice.normal(size=NUMBERS)
    np.testing.assert_allclose(profile(u, v, numbers), columns(u, v) @ numbers, atol=1e-12)
