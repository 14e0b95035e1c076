"""Airmass against published values, a ray traced through the standard atmosphere, and pvlib.
"""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose
from pvlib import atmosphere

from planner.sky import airmass
from planner.sky.airmass import scattering_airmass_kernel
from planner.sky.refraction import density_factor, refraction_kernel


def altitude(zenith_distance_deg):
    return (90.0 - zenith_distance_deg) * u.deg


# Kasten & Young 1989, Appl. Opt. 28, 4735; 80 and 89.9 deg as in the test suite of pvlib, 60 and 90 deg
# the printed formula.
@pytest.mark.parametrize(("zenith_distance_deg", "expected", "tolerance"), [
    pytest.param(80.0, 5.586, 0.001),
    pytest.param(89.9, 36.467, 0.001),
    pytest.param(60.0, 1.9943, 0.0001),
    pytest.param(90.0, 37.9196, 0.001),
])
def test_kasten_and_young(zenith_distance_deg, expected, tolerance):
    assert_allclose(airmass(altitude(zenith_distance_deg)).value, expected, atol=tolerance, rtol=0)


# A ray traced independently through the ISO standard atmosphere (n0 - 1 = 2.76e-4), the model that Kasten &
# Young integrated. Tolerances grow to the horizon, where the fit's own residual does.
@pytest.mark.parametrize(("zenith_distance_deg", "traced", "tolerance"), [
    pytest.param(60.0, 1.993894386815, 0.001),
    pytest.param(80.0, 5.584456461579, 0.003),
    pytest.param(85.0, 10.31864575763, 0.03),
    pytest.param(90.0, 38.13642611782, 0.3),
])
def test_agrees_with_a_traced_ray(zenith_distance_deg, traced, tolerance):
    assert_allclose(airmass(altitude(zenith_distance_deg)).value, traced, atol=tolerance, rtol=0)


@pytest.mark.parametrize("expected", [
    # Kasten 1965, CRREL TR-136, as in the test suite of pvlib: the older fit, 0.1 % from the newer.
    pytest.param((80.0, 5.580), id="Kasten 1965"),
    # Bemporad 1904, table as in Allen, Astrophysical Quantities (1973), par. 55: from memory. Air of other layers: 0.2
    # %.
    pytest.param((75.0, 3.816), id="Bemporad 1904 (from memory)"),
])
def test_older_tables(expected):
    zenith_distance_deg, table = expected
    assert_allclose(airmass(altitude(zenith_distance_deg)).value, table, atol=0.01, rtol=0)


def test_scattering_airmass():
    # Krisciunas & Schaefer 1991, PASP 103, 1033, eq. 3; the horizon is its limit 1/sqrt(0.04).
    assert_allclose(scattering_airmass_kernel(30.0), 1.889822365046, rtol=1e-12)
    assert_allclose(scattering_airmass_kernel(0.0), 5.0, rtol=1e-12)


def test_agrees_with_pvlib():
    zenith_distance = np.linspace(0, 90, 181)
    expected = atmosphere.get_relative_airmass(zenith_distance, model="kastenyoung1989")
    assert_allclose(airmass(altitude(zenith_distance)).value, expected, rtol=1e-9)


def test_true_and_apparent_altitude_give_one_airmass():
    # Two fits to one atmosphere, Young 1994 (Appl. Opt. 33, 1108) as pvlib has it for true altitudes, joined by a third
    # formula, refraction: 1 % down to 1 deg.
    apparent = np.linspace(1, 90, 90)
    true = apparent - refraction_kernel(apparent) * density_factor(1013.25, 15.0) / 3600
    expected = atmosphere.get_relative_airmass(90 - true, model="young1994")
    assert_allclose(airmass(apparent * u.deg).value, expected, rtol=0.01)
