"""Air and aperture against values derived for this project, the route or paper beside each.

Labels like E01 tell rows apart and refer to no list outside this file.
"""

import numpy as np
import pytest
from astropy import units as u
from optics.encircled import encircled_radius
from scipy.special import j0, j1

from planner.constants import KOLMOGOROV_FWHM
from planner.optics import airy_fwhm, image_scale, sigma_from_fwhm, star_image
from planner.optics.transfer import Transfer
from planner.rig import Telescope

galsim = pytest.importorskip("galsim")
FINE = 0.01 * u.arcsec / u.pix


def in_air_alone(seeing, **more):
    return star_image(seeing_fwhm=seeing, wavelength=500 * u.nm, aperture=1 * u.km, image_scale=FINE, **more)


def test_coefficient_s01_s02():
    # Fried 1966 / Racine 1996: 0.976 lambda/r0; the digits from GalSim's Kolmogorov. r0 = 0.10 m at 500 nm: 1.0064".
    assert pytest.approx(0.9758634299, abs=1e-6) == KOLMOGOROV_FWHM
    seeing = (KOLMOGOROV_FWHM * 500 * u.nm / (0.1 * u.m)).to(u.arcsec, u.dimensionless_angles())
    assert seeing.value == pytest.approx(1.0064, abs=3e-4)
    # The image drawn from the transfer function has that width: exponent and coefficient belong together.
    assert in_air_alone(seeing).fwhm_major.value == pytest.approx(1.00643, abs=5e-4)


def test_hankel_transform_s03():
    # Independent: direct Hankel transform of exp(-3.44 (lambda u/r0)^(5/3)), r0 0.10 m, 500 nm: 1.0059.
    frequency = np.linspace(0, 6, 20001)
    wave_over_r0 = np.degrees(500e-9 / 0.1) * 3600
    mtf = np.exp(-3.44 * (frequency * wave_over_r0) ** (5 / 3)) * frequency
    radius = np.linspace(0.45, 0.55, 201)
    profile = np.array([np.trapezoid(mtf * j0(2 * np.pi * r * frequency), frequency) for r in (0, *radius)])
    fwhm = 2 * np.interp(-profile[0] / 2, -profile[1:], radius)
    assert fwhm == pytest.approx(1.0064, abs=5e-4)
    assert in_air_alone(1.00643 * u.arcsec).fwhm_major.value == pytest.approx(fwhm, abs=1e-3)


# Tokovinin 2002, PASP 114, 1156, eq. 19: an approximation within 1 % of von Karman's image for L0 above 20 r0.
@pytest.mark.parametrize(("r0", "outer_scale", "factor", "tolerance"), [
    pytest.param(0.10, 25, 0.8332, 0.01, id="S06"), pytest.param(0.15, 20, 0.7858430026781, 0.012, id="S08")])
def test_outer_scale(r0, outer_scale, factor, tolerance):
    seeing = np.degrees(KOLMOGOROV_FWHM * 500e-9 / r0) * 3600 * u.arcsec
    ratio = in_air_alone(seeing, outer_scale=outer_scale * u.m).fwhm_major / in_air_alone(seeing).fwhm_major
    assert ratio.value == pytest.approx(factor, abs=tolerance)


def test_airy_width_s09_s10():
    # [2 J1(x)/x]^2 = 1/2 (Airy 1835; Born & Wolf par. 8.5.2): 1.028994 lambda/D. The root found here by bisection.
    low, high = 1.0, 2.5
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if (2 * j1(middle) / middle) ** 2 > 0.5 else (low, middle)
    assert 2 * low / np.pi == pytest.approx(1.028993969962, abs=1e-9)
    ours = airy_fwhm(500 * u.nm, 100 * u.mm).to_value(u.rad) / (500e-9 / 0.1)
    assert ours == pytest.approx(1.028993969962, abs=1e-9)
    assert ours == pytest.approx(1.028994, abs=1e-6)


def test_diffraction_s12():
    # 1.029 lambda/D, D = 80 mm, 550 nm; also as the limit of the whole product, air and pixel made small.
    assert airy_fwhm(550 * u.nm, 80 * u.mm).value == pytest.approx(1.4592, abs=5e-4)
    star = star_image(seeing_fwhm=1e-3 * u.arcsec, wavelength=550 * u.nm, aperture=80 * u.mm, image_scale=FINE)
    assert star.fwhm_major.value == pytest.approx(1.4592, abs=5e-4)


def moffat(radius, beta, fwhm):
    alpha = fwhm / (2 * np.sqrt(2 ** (1 / beta) - 1))  # Moffat 1969
    return (1 + (radius / alpha) ** 2) ** -beta


def test_moffat_s17_s18_s19():
    # Moffat 1969: FWHM = 2 alpha sqrt(2^(1/beta) - 1), 1.1305 for alpha 1, beta 2.5.
    assert 2 * np.sqrt(2 ** (1 / 2.5) - 1) == pytest.approx(1.130500616139, abs=1e-12)
    # Trujillo et al. 2001, MNRAS 328, 977 (abstract): beta 4.765 fits Kolmogorov best. Its wings fall as r^-9.5
    # and Kolmogorov's as r^-11/3, so the core alone can agree: 1.1 % of the peak to one FWHM.
    star = star_image(seeing_fwhm=1 * u.arcsec, wavelength=500 * u.nm, aperture=1 * u.km, image_scale=FINE)
    line = star.render((1, 201))[0]
    radius = np.abs(np.arange(201) - 100) * 0.01
    np.testing.assert_allclose(line / line[100], moffat(radius, 4.765, 1.0), atol=0.011)
    # Half-light radius / FWHM 0.5685, by GalSim's encircled energy; Moffat 0.5681, Gaussian 0.5.
    assert encircled_radius(star, 0.5) == pytest.approx(0.5685, abs=8e-4)


def test_gaussian_s20():
    # 2 sqrt(2 ln 2).
    assert sigma_from_fwhm(2.354820045031 * u.arcsec).value == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize("obstruction", [0.0, 0.2, 0.45])
def test_annulus_against_galsim(obstruction):
    # GalSim's Airy.kValue is an independent writing of the annulus' autocorrelation.
    aperture = galsim.Airy(lam=550, diam=0.2, obscuration=obstruction, scale_unit=galsim.arcsec)
    cutoff = 0.2 / 550e-9 / np.degrees(1) / 3600
    ours = Transfer(seeing_arcsec=1e-9, cutoff_per_arcsec=cutoff, obstruction=obstruction, pixel_arcsec=1.0)
    for share in np.linspace(0.01, 0.99, 25):
        theirs = aperture.kValue(2 * np.pi * share * cutoff, 0).real
        assert ours.round_part(np.array([share * cutoff]))[0] == pytest.approx(theirs, abs=1e-6)


def test_collecting_area_x01():
    # pi/4 (D^2 - d^2), D 20 cm, d 6 cm.
    telescope = Telescope(name="x", aperture=20 * u.cm, focal_length=1 * u.m, obstruction=0.3)
    assert telescope.collecting_area.to_value(u.cm**2) == pytest.approx(285.885, abs=0.001)


def test_extended_source_x08():
    # Photon rate per pixel goes as 1/N^2: f/4 against f/8, same aperture's pixel: area times sky per pixel.
    rates = []
    for ratio in (4, 8):
        telescope = Telescope(name="x", aperture=100 * u.mm, focal_length=ratio * 100 * u.mm)
        rates.append(telescope.collecting_area * image_scale(3.8 * u.um, telescope.focal_length) ** 2)
    # 1e-9: the exact arctangent of a pixel.
    assert (rates[0] / rates[1]).to_value(u.one) == pytest.approx(4, abs=1e-9)
