"""Pixels against values derived for this project, the route or paper beside each.

Labels like E01 tell rows apart and refer to no list outside this file.

The Gaussian star of these rows is a focus blur behind an aperture of 1 km in nearly perfect air; one pixel is one
arcsec.
"""

import numpy as np
import pytest
from astropy import units as u
from optics.encircled import encircled_radius, encircled_share

from planner.optics import field_of_view, image_scale, sigma_from_fwhm, star_image
from planner.optics.transfer import Transfer

PIXEL = 1 * u.arcsec / u.pix
GAUSSIAN = {"seeing_fwhm": 1e-3 * u.arcsec, "wavelength": 550 * u.nm, "aperture": 1 * u.km}


def gaussian(fwhm, scale=PIXEL):
    return star_image(**GAUSSIAN, image_scale=scale, focus_blur_fwhm=fwhm * u.arcsec)


def unpixelled(fwhm):
    """The same star on pixels of no size."""
    return gaussian(fwhm, 1e-3 * PIXEL)


def test_image_scale_n01():
    # Source: 206.2648 p/f; exact arctan 1.959516.
    assert image_scale(3.8 * u.um, 400 * u.mm).to_value(u.arcsec / u.pix) == pytest.approx(1.95952, abs=1e-5)


def test_field_n02():
    # Source: 2 atan(w/2f), 6000 x 4000 pixels of 3.8 um at 400 mm.
    assert field_of_view(3.8 * u.um, 6000, 4000, 400 * u.mm).width.to_value(u.deg) == pytest.approx(3.2650, abs=5e-4)


def test_noise_area_of_a_gaussian_n03_n04():
    # Mighell 2003 (ADASS XII P4.2) and 2005 (MNRAS 361, 861): 4 pi sigma^2. King 1983 (PASP 95, 163): 2.266 FWHM^2.
    fwhm = 2 * np.sqrt(2 * np.log(2))
    area = unpixelled(fwhm).noise_equivalent_area.value
    assert area == pytest.approx(12.57, abs=0.01)
    assert area / fwhm**2 == pytest.approx(2.266, abs=0.001)


def test_noise_area_of_kolmogorov_n05():
    # 1/integral(MTF^2) by Parseval; GalSim image 3.068; Gaussian 2.266.
    star = star_image(seeing_fwhm=2 * u.arcsec, wavelength=550 * u.nm, aperture=1 * u.km, image_scale=0.01 * PIXEL)
    assert (star.noise_equivalent_area / star.fwhm_major**2).value == pytest.approx(3.064, abs=0.03)


# Error-function pixel response, along a pixel axis.
@pytest.mark.parametrize(("fwhm", "expected", "tolerance"), [
    pytest.param(1.0, 1.2494, 0.004, id="N06"), pytest.param(2.0, 2.1182, 0.008, id="N08"),
    pytest.param(3.0, 3.0778, 0.012, id="N09")])
def test_width_after_the_pixel(fwhm, expected, tolerance):
    # A tenth of the row's tolerance: both sides are exact.
    assert gaussian(fwhm).fwhm_major.value == pytest.approx(expected, abs=tolerance / 10)


# 4 pi (sigma^2 + 1/12); the rows' tolerance covers the difference to the exact integral. Third: background-limited
# signal to noise relative to ideal sampling, sqrt(2.266 F^2 / NEA).
@pytest.mark.parametrize(("fwhm", "area", "tolerance", "kept"), [
    pytest.param(1.0, 3.37, 0.0674, 0.820, id="N11"), pytest.param(1.5, 6.18, 0.1235, 0.909, id="N12"),
    pytest.param(3.0, 21.45, 0.429, 0.975, id="N14")])
def test_noise_area_after_the_pixel(fwhm, area, tolerance, kept):
    found = gaussian(fwhm).noise_equivalent_area.value
    assert found == pytest.approx(area, abs=tolerance)
    # 0.008: the row takes the variance rule, we the exact profile (3.313 against 3.37 at 1 pixel).
    assert (unpixelled(fwhm).noise_equivalent_area.value / found) ** 0.5 == pytest.approx(kept, abs=0.008)


def test_contrast_at_nyquist_n16():
    # exp(-2 (pi sigma f)^2) at 0.5 per pixel, FWHM 2 px; GalSim kValue.
    transfer = Transfer(seeing_arcsec=1e-6, cutoff_per_arcsec=1e6, obstruction=0.0, pixel_arcsec=1.0,
                        blur_sigma_arcsec=float(sigma_from_fwhm(2.0)))
    assert transfer.round_part(np.array([0.5]))[0] == pytest.approx(0.0284, abs=5e-4)


def test_best_aperture_n17():
    # Maximise (1 - exp(-r^2/2s^2))/r: 0.673 FWHM, enclosing 0.715 of the light.
    radius = np.linspace(0.6, 0.75, 301)
    share = encircled_share(unpixelled(1.0), radius)
    best = np.argmax(share / radius)
    assert radius[best] == pytest.approx(0.673, abs=0.003)
    assert share[best] == pytest.approx(0.715, abs=0.002)


def test_half_of_the_light_n18():
    # A Gaussian holds exactly half within the diameter FWHM; our pixel here is 1e-3 of it.
    assert encircled_radius(unpixelled(1.0), 0.5) == pytest.approx(0.5, abs=1e-4)


def test_central_pixel_n19():
    # erf(1/(2 sqrt2 sigma))^2, FWHM 2 px; computed 0.19708 in the row.
    assert gaussian(2.0).central_pixel_fraction == pytest.approx(0.1969, abs=5e-4)
