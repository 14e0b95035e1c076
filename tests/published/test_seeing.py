"""Seeing against the turbulence theory, GalSim and Tokovinin's outer-scale formula.
"""

import galsim
from astropy import units as u
from numpy.testing import assert_allclose

from planner.constants import KOLMOGOROV_FWHM
from planner.sky import seeing


def test_kolmogorov_coefficient():
    # GalSim (from Fried 1966 / Racine 1996); papers round to 0.976 or 0.98.
    assert_allclose(KOLMOGOROV_FWHM, 0.9758634299, atol=1e-6)
    assert_allclose(galsim.Kolmogorov(lam_over_r0=1.0).fwhm, KOLMOGOROV_FWHM, atol=1e-6)


def test_half_maximum_of_the_transform():
    # direct Hankel transform of exp(-3.44 (wavelength f / r0)^(5/3)), done here independently of GalSim.
    import numpy as np
    from scipy.integrate import quad
    from scipy.optimize import brentq
    from scipy.special import j0

    def profile(theta):  # theta in wavelength / r0
        return quad(lambda f: f * np.exp(-3.44 * f ** (5 / 3)) * j0(2 * np.pi * f * theta), 0, 6, limit=200)[0]

    centre = profile(0.0)
    fwhm = 2 * brentq(lambda theta: profile(theta) - centre / 2, 0.2, 0.8)
    # 0.0005: 3.44 is itself rounded.
    assert_allclose(KOLMOGOROV_FWHM, fwhm, atol=0.0005)


def test_wavelength_scaling():
    # as wavelength^-1/5, since r0 grows as wavelength^6/5 (Fried 1966).
    found = seeing(1 * u.arcsec, airmass=1 * u.one, wavelength=700 * u.nm)
    assert_allclose(found.to_value(u.arcsec), 0.93491, atol=2e-5)
    kolmogorov = [galsim.Kolmogorov(lam=lam, r0_500=0.1).fwhm for lam in (700, 500)]
    assert_allclose(found.to_value(u.arcsec), kolmogorov[0] / kolmogorov[1], rtol=1e-4)


def test_airmass_scaling():
    # as airmass^0.6, since r0 shrinks as (cos z)^3/5 (Fried 1966).
    found = seeing(1 * u.arcsec, airmass=2 * u.one, wavelength=500 * u.nm)
    assert_allclose(found.to_value(u.arcsec), 1.51572, atol=1e-5)
