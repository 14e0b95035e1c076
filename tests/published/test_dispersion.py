"""Atmospheric dispersion against a published table and against another library."""

import galsim
import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.sky.dispersion import dispersion, dispersion_covariance

# Differential refraction against 500 nm [arcsec], 2 km above the sea: sec z, then 400, 450, 550, 600, 650, 700 nm.
# Source: table "Differential Atmospheric Refraction" of the Cerro Tololo observatory's pages, after A. V. Filippenko,
# PASP 94, 715 (1982), for 600 mm of mercury, 7 deg C and 8 mm of vapour.
WAVES = [400, 450, 550, 600, 650, 700] * u.nm
TABLE = [(1.20, [0.42, 0.17, -0.13, -0.22, -0.30, -0.35]), (1.50, [0.71, 0.29, -0.21, -0.37, -0.50, -0.60])]
AIR = {"pressure": 600 * 1.333224 * u.hPa, "temperature": 7 * u.deg_C}


@pytest.mark.parametrize(("secant", "shifts"), TABLE)
def test_matches_the_published_table(secant, shifts):
    altitude = np.arcsin(1 / secant) * u.rad
    ours = dispersion(altitude, shortest=WAVES, longest=500 * u.nm, **AIR)
    # 0.02 arcsec: the table's digits, and another formula for the refractive index.
    assert_allclose(ours.to_value(u.arcsec), shifts, atol=0.02)


def test_along_the_vertical_as_another_library_has_it():
    # On the meridian south of the zenith the spectrum lies along declination; light even from 400 to 700 nm.
    covariance = dispersion_covariance([0] * u.deg, latitude=45 * u.deg, declination=-10 * u.deg, centre=550 * u.nm,
                                       width=300 * u.nm, **AIR)
    waves = np.linspace(400, 700, 3001)
    air = {"pressure": 79.9934, "temperature": 280.15, "H2O_pressure": 1.0}  # kPa, K, kPa
    lifted = [galsim.dcr.get_refraction(wave, 55 * galsim.degrees, **air) for wave in waves]
    assert_allclose(np.sqrt(covariance[1, 0].value), np.std(np.array(lifted)) * 206264.806, rtol=0.02)
    assert_allclose(covariance[[0, 2], 0].value, 0, atol=1e-12)


def test_on_the_prime_vertical_it_leans():
    # Rising due east from latitude 45: the zenith lies west of north, so east and north are anticorrelated.
    covariance = dispersion_covariance([-80] * u.deg, latitude=45 * u.deg, declination=10 * u.deg, centre=550 * u.nm,
                                       width=300 * u.nm, **AIR)
    assert covariance[2, 0] < 0
    assert_allclose((covariance[0, 0] * covariance[1, 0]).value, covariance[2, 0].value ** 2, rtol=1e-9)
