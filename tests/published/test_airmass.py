"""Airmass against published values, a ray traced through the standard atmosphere, and pvlib.

Row ids (A01 ...) name the check values of the project's list of references.
"""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose
from pvlib import atmosphere

from planner.sky import (
    absolute_airmass,
    airmass,
    airmass_from_true,
    airmass_hardie,
    airmass_pickering,
    airmass_rozenberg,
    scattering_airmass,
)


def altitude(zenith_distance_deg):
    return (90.0 - zenith_distance_deg) * u.deg


# Kasten & Young 1989, Appl. Opt. 28, 4735; A01, A02 as in the test suite of pvlib, A03, A04 the printed formula.
@pytest.mark.parametrize(("zenith_distance_deg", "expected", "tolerance"), [
    pytest.param(80.0, 5.586, 0.001, id="A01"),
    pytest.param(89.9, 36.467, 0.001, id="A02"),
    pytest.param(60.0, 1.9943, 0.0001, id="A03"),
    pytest.param(90.0, 37.9196, 0.001, id="A04"),
])
def test_kasten_and_young(zenith_distance_deg, expected, tolerance):
    assert_allclose(airmass(altitude(zenith_distance_deg)).value, expected, atol=tolerance, rtol=0)


# A ray traced independently through the ISO standard atmosphere (n0 - 1 = 2.76e-4), the model that Kasten &
# Young integrated. Tolerances grow to the horizon, where the fit's own residual does.
@pytest.mark.parametrize(("zenith_distance_deg", "traced", "tolerance"), [
    pytest.param(60.0, 1.993894386815, 0.001, id="A15"),
    pytest.param(80.0, 5.584456461579, 0.003, id="A16"),
    pytest.param(85.0, 10.31864575763, 0.03, id="A17"),
    pytest.param(90.0, 38.13642611782, 0.3, id="A18"),
])
def test_agrees_with_a_traced_ray(zenith_distance_deg, traced, tolerance):
    assert_allclose(airmass(altitude(zenith_distance_deg)).value, traced, atol=tolerance, rtol=0)


# Pickering 2002, DIO 12(1), 20: A05 as in the test suite of pvlib, A07 the printed formula.
@pytest.mark.parametrize(("zenith_distance_deg", "expected"), [
    pytest.param(80.0, 5.581, id="A05"), pytest.param(90.0, 38.7494, id="A07"),
])
def test_pickering(zenith_distance_deg, expected):
    assert_allclose(airmass_pickering(altitude(zenith_distance_deg)).value, expected, atol=0.001, rtol=0)


# Hardie 1962, Astronomical Techniques, p. 180: A08 from the public test suites of SLALIB and PAL (t_airmas), A09 PAL.
@pytest.mark.parametrize(("zenith_distance", "expected", "tolerance"), [
    pytest.param(1.2354 * u.rad, 3.015698990075, 1e-11, id="A08"),
    pytest.param(75.0 * u.deg, 3.8159, 0.0002, id="A09"),
])
def test_hardie(zenith_distance, expected, tolerance):
    assert_allclose(airmass_hardie(90 * u.deg - zenith_distance).value, expected, atol=tolerance, rtol=0)


# Rozenberg 1966, Twilight, p. 160; the constants (0.025, 11) are from memory.
@pytest.mark.parametrize(("zenith_distance_deg", "expected", "tolerance"), [
    pytest.param(90.0, 40.0, 1e-9, id="A10 (from memory)"), pytest.param(80.0, 5.6386, 0.0002, id="A11 (from memory)"),
])
def test_rozenberg(zenith_distance_deg, expected, tolerance):
    assert_allclose(airmass_rozenberg(altitude(zenith_distance_deg)).value, expected, atol=tolerance, rtol=0)


@pytest.mark.parametrize(("formula", "zenith_distance_deg", "expected", "tolerance"), [
    # Kasten 1965, CRREL TR-136, as in the test suite of pvlib: the older fit, 0.1 % from the newer.
    pytest.param(airmass, 80.0, 5.580, 0.01, id="A12"),
    # Bemporad 1904, table as in Allen, Astrophysical Quantities (1973), par. 55: entry 3.816 from memory. Air of other
    # layers: 0.2 %.
    pytest.param(airmass_hardie, 75.0, 3.816, 0.005, id="A19 (from memory)"),
    pytest.param(airmass, 75.0, 3.816, 0.01, id="A19 (from memory), Kasten & Young"),
])
def test_older_tables(formula, zenith_distance_deg, expected, tolerance):
    assert_allclose(formula(altitude(zenith_distance_deg)).value, expected, atol=tolerance, rtol=0)


def test_absolute_airmass():
    # A14: Gueymard 1993, Solar Energy 51, 121, as in the test suite of pvlib (1.776); pvlib takes 1013.25 hPa.
    assert_allclose(absolute_airmass(2 * u.one, 900 * u.hPa).value, 1.776, atol=0.001, rtol=0)


def test_scattering_airmass():
    # A20: Krisciunas & Schaefer 1991, PASP 103, 1033, eq. 3; the horizon is its limit 1/sqrt(0.04).
    assert_allclose(scattering_airmass(30 * u.deg).value, 1.889822365046, rtol=1e-12)
    assert_allclose(scattering_airmass(0 * u.deg).value, 5.0, rtol=1e-12)


@pytest.mark.parametrize(("formula", "model"), [
    (airmass, "kastenyoung1989"), (airmass_from_true, "young1994"), (airmass_pickering, "pickering2002"),
])
def test_agrees_with_pvlib(formula, model):
    zenith_distance = np.linspace(0, 90, 181)
    expected = atmosphere.get_relative_airmass(zenith_distance, model=model)
    assert_allclose(formula(altitude(zenith_distance)).value, expected, rtol=1e-9)


def test_true_and_apparent_altitude_give_one_airmass():
    # Two fits to one atmosphere, joined by a third formula, refraction: 1 % down to 1 deg.
    from planner.sky import refraction

    apparent = np.linspace(1, 90, 90) * u.deg
    true = apparent - refraction(apparent, pressure=1013.25 * u.hPa, temperature=15 * u.deg_C)
    assert_allclose(airmass_from_true(true).value, airmass(apparent).value, rtol=0.01)
