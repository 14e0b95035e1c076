"""Seeing against the turbulence theory, GalSim and Tokovinin's outer-scale formula.

Row ids (S01 ...) name the check values of the project's list of references.
"""

import galsim
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.sky import fried_parameter, outer_scale_factor, seeing, seeing_from_fried
from planner.sky.seeing import KOLMOGOROV_FWHM


def test_kolmogorov_coefficient():
    # S01: GalSim (from Fried 1966 / Racine 1996); papers round to 0.976 or 0.98.
    assert_allclose(KOLMOGOROV_FWHM, 0.9758634299, atol=1e-6)
    assert_allclose(galsim.Kolmogorov(lam_over_r0=1.0).fwhm, KOLMOGOROV_FWHM, atol=1e-6)


def test_seeing_of_r0():
    # S02: FWHM = 0.976 wavelength / r0.
    found = seeing_from_fried(0.10 * u.m, wavelength=500 * u.nm)
    assert_allclose(found.to_value(u.arcsec), 1.0064, atol=0.0003)


def test_half_maximum_of_the_transform():
    # S03: direct Hankel transform of exp(-3.44 (wavelength f / r0)^(5/3)), done here independently of GalSim.
    import numpy as np
    from scipy.integrate import quad
    from scipy.optimize import brentq
    from scipy.special import j0

    def profile(theta):  # theta in wavelength / r0
        return quad(lambda f: f * np.exp(-3.44 * f ** (5 / 3)) * j0(2 * np.pi * f * theta), 0, 6, limit=200)[0]

    centre = profile(0.0)
    fwhm = 2 * brentq(lambda theta: profile(theta) - centre / 2, 0.2, 0.8)
    found = seeing_from_fried(0.10 * u.m, wavelength=500 * u.nm).to_value(u.arcsec)
    # 0.0005 arcsec: 3.44 is itself rounded.
    assert_allclose(found, fwhm * 500e-9 / 0.10 * 206264.806, atol=0.0006)
    assert_allclose(found, 1.0064, atol=0.0005)


def test_wavelength_scaling():
    # S04: as wavelength^-1/5, since r0 grows as wavelength^6/5 (Fried 1966).
    found = seeing(1 * u.arcsec, airmass=1 * u.one, wavelength=700 * u.nm)
    assert_allclose(found.to_value(u.arcsec), 0.93491, atol=2e-5)
    kolmogorov = [galsim.Kolmogorov(lam=lam, r0_500=0.1).fwhm for lam in (700, 500)]
    assert_allclose(found.to_value(u.arcsec), kolmogorov[0] / kolmogorov[1], rtol=1e-4)


def test_airmass_scaling():
    # S05: as airmass^0.6, since r0 shrinks as (cos z)^3/5 (Fried 1966).
    found = seeing(1 * u.arcsec, airmass=2 * u.one, wavelength=500 * u.nm)
    assert_allclose(found.to_value(u.arcsec), 1.51572, atol=1e-5)


@pytest.mark.parametrize(("r0", "outer_scale", "expected", "tolerance"), [
    # Tokovinin 2002, PASP 114, 1156, eq. 19; a public optics library states about 17 % at these values.
    pytest.param(0.1, 25.0, 0.8332, 0.0005, id="S06"),
    # S08: against galsim.VonKarman (0.7918), 0.012; and the formula's own value.
    pytest.param(0.15, 20.0, 0.7918265451798, 0.012, id="S08 von Karman"),
    pytest.param(0.15, 20.0, 0.7858430026781, 1e-9, id="S08 formula"),
])
def test_outer_scale(r0, outer_scale, expected, tolerance):
    assert_allclose(outer_scale_factor(r0 * u.m, outer_scale * u.m).value, expected, atol=tolerance, rtol=0)


@pytest.mark.parametrize("ratio", [20, 50, 100, 300, 1000])
def test_outer_scale_against_von_karman(ratio):
    narrowed = galsim.VonKarman(lam=500, r0=0.1, L0=0.1 * ratio).calculateFWHM()
    factor = narrowed / galsim.Kolmogorov(lam=500, r0=0.1).fwhm
    assert_allclose(outer_scale_factor(0.1 * u.m, 0.1 * ratio * u.m).value, factor, rtol=0.015)


def test_r0_and_seeing_are_inverse():
    seeing_fwhm = [0.5, 2.0, 5.0] * u.arcsec
    r0 = fried_parameter(seeing_fwhm, wavelength=600 * u.nm)
    assert_allclose(seeing_from_fried(r0, wavelength=600 * u.nm).value, seeing_fwhm.value, rtol=1e-12)
