"""Contrast of a pattern against an independent image simulator, and what the pixel forbids."""

import galsim
import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.optics import contrast, shortest_period

STAR = {"seeing_fwhm": 2.4 * u.arcsec, "wavelength": 550 * u.nm, "aperture": 200 * u.mm, "obstruction": 0.3,
        "focus_blur_fwhm": 0.8 * u.arcsec, "jitter_rms": 0.5 * u.arcsec}


@pytest.mark.parametrize("scale", [0.5, 1.5])
def test_against_galsim(scale):
    profile = galsim.Convolve([
        galsim.Kolmogorov(fwhm=2.4), galsim.Pixel(scale), galsim.Gaussian(fwhm=0.8), galsim.Gaussian(sigma=0.5),
        galsim.Airy(lam=550, diam=0.2, obscuration=0.3, scale_unit=galsim.arcsec)])
    for period in (3.2, 4.0, 5.0, 10.0):
        expected = profile.kValue(2 * np.pi / period, 0).real
        # 1 %: the width of the air's star, 0.976 wavelength / r0 to three digits.
        assert_allclose(contrast(period * u.arcsec, image_scale=scale * u.arcsec / u.pix, **STAR), expected, rtol=0.01)


def test_the_pixel_forbids_what_it_cannot_sample():
    # Lauer (1999): a plain grid holds periods of more than two pixels; dithered ones what the pixel's box passes.
    scale = 2 * u.arcsec / u.pix
    assert_allclose(contrast([1.9, 3.9, 4.1] * u.arcsec, image_scale=scale, **STAR) > 0, [False, False, True])
    assert_allclose(contrast([1.9, 2.1, 3.9] * u.arcsec, image_scale=scale, drizzled=True, **STAR) > 0,
                    [False, True, True])


def test_one_colour_of_an_array_lies_farther_apart():
    # Red and blue pixels are two apart; dithered frames bring them to every place.
    scale = 2 * u.arcsec / u.pix
    assert shortest_period(scale, apart=2) == 8 * u.arcsec
    assert shortest_period(scale, apart=2, drizzled=True) == 2 * u.arcsec
    assert_allclose(contrast([7.9, 8.1] * u.arcsec, image_scale=scale, apart=2, **STAR) > 0, [False, True])
