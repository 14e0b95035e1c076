"""Interpolated colour against stars drawn on a mosaic and filled in."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose
from scipy.ndimage import convolve

from planner.optics.colour_array import interpolation_blur

# Linear interpolation on a colour array as two convolutions, a textbook's: its missing values are means of neighbours.
CROSS = np.array([[0, 1, 0], [1, 4, 1], [0, 1, 0]]) / 4
SQUARE = np.array([[1, 2, 1], [2, 4, 2], [1, 2, 1]]) / 4
SIZE = 41


def width_of(colour, sigma, place):
    """Return the FWHM [pixel] of a Gaussian star after interpolation, from its second moment along x."""
    y, x = np.mgrid[:SIZE, :SIZE] - SIZE // 2
    star = np.exp(-((x - place[0]) ** 2 + (y - place[1]) ** 2) / (2 * sigma**2))
    seen = (x + y) % 2 == 0 if colour == "green" else (x % 2 == 0) & (y % 2 == (colour == "blue"))
    filled = convolve(star * seen, CROSS if colour == "green" else SQUARE, mode="constant")
    middle = (filled * x).sum() / filled.sum()
    return np.sqrt(8 * np.log(2) * (filled * (x - middle) ** 2).sum() / filled.sum())


@pytest.mark.parametrize("colour", ["green", "red", "blue"])
@pytest.mark.parametrize("fwhm", [2.0, 3.0, 5.0])
def test_a_filled_in_star_is_as_wide(colour, fwhm):
    places = np.random.default_rng(2).uniform(-1, 1, (200, 2))
    widths = [width_of(colour, fwhm / np.sqrt(8 * np.log(2)), place) for place in places]
    added = interpolation_blur(colour, 1 * u.arcsec / u.pix).value
    # 2 %: the mean over places of a star of two pixels.
    assert_allclose(np.hypot(fwhm, added), np.mean(widths), rtol=0.02)


def test_a_mono_sensor_fills_nothing_in():
    assert interpolation_blur("mono", 1 * u.arcsec / u.pix) == 0 * u.arcsec
