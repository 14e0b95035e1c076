"""Extinction against published tables of two observatories and the cross-section of air.
"""

import importlib

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.sky import extinction
from planner.sky.extinction import _ozone_extinction, _rayleigh_extinction

LA_PALMA = 2400 * u.m
LA_SILLA = 2400 * u.m


# dust-free La Palma, D. Jones 1993 JKT values, Carlsberg Meridian Telescope extinction page; King 1985, La Palma
# Technical Note 31. Wavelengths of the bands: Bessell et al. 1998. Z (0.05) is left out: water vapour, not modelled.
@pytest.mark.parametrize(("wavelength_nm", "expected", "tolerance"), [
    pytest.param(366, 0.46, 0.03, id="U"), pytest.param(438, 0.22, 0.02, id="B"),
    pytest.param(550, 0.12, 0.02, id="V"), pytest.param(641, 0.08, 0.02, id="R"),
    pytest.param(798, 0.04, 0.02, id="I"),
])
def test_la_palma(wavelength_nm, expected, tolerance):
    found = extinction(wavelength_nm * u.nm, height=LA_PALMA)
    assert_allclose(found.to_value(u.mag), expected, atol=tolerance, rtol=0)


# ESO Users Manual 1993, after Tüg 1977, Messenger 11: a clean mountain, its aerosol below 0.01 mag.
@pytest.mark.parametrize(("wavelength_nm", "expected"), [
    (360, 0.46), (400, 0.30), (440, 0.20), (500, 0.13), (550, 0.11), (660, 0.05), (700, 0.04), (800, 0.02),
], ids=str)
def test_la_silla(wavelength_nm, expected):
    found = extinction(wavelength_nm * u.nm, height=LA_SILLA, aerosol=0 * u.mag)
    assert_allclose(found.to_value(u.mag), expected, atol=0.01, rtol=0)


# Hansen & Travis 1974, Space Sci. Rev. 16, 527 (constants from memory).
@pytest.mark.parametrize(("wavelength_nm", "expected"), [
    pytest.param(550, 0.1056, id="from memory"), pytest.param(440, 0.2636, id="from memory"),
])
def test_rayleigh(wavelength_nm, expected):
    assert_allclose(_rayleigh_extinction(wavelength_nm, 0.0), expected, atol=0.002, rtol=0)


@pytest.mark.parametrize("wavelength_um", [0.35, 0.44, 0.549, 0.65, 0.8])
def test_rayleigh_against_another_cross_section(wavelength_um):
    # Nicolet 1984, Planet. Space Sci. 32, 1467: 4.02e-28 / l^(4 + x) cm2 with l in um, x = 0.389 l + 0.09426 / l -
    # 0.3228 below 0.55 um, 0.04 above. Column of air: 1013.25 hPa / (9.80665 m/s2 x 28.9647 g/mol) = 2.1483e25 / cm2.
    x = 0.389 * wavelength_um + 0.09426 / wavelength_um - 0.3228 if wavelength_um < 0.55 else 0.04
    expected = 2.5 / np.log(10) * 4.02e-28 / wavelength_um ** (4 + x) * 2.1483e25
    assert_allclose(_rayleigh_extinction(wavelength_um * 1000, 0.0), expected, rtol=0.011)


def test_ozone_against_its_table():
    # Bird & Riordan 1984, SERI/TR-215-2436, table 2-2, as pvlib holds it; 0.3 atm cm.
    table = importlib.import_module("pvlib.spectrum.spectrl2")._SPECTRL2_COEFFS
    inside = (table["wavelength"] >= 300) & (table["wavelength"] <= 1100)
    expected = 2.5 / np.log(10) * 0.3 * table["ozone_absorption"][inside]
    assert_allclose(_ozone_extinction(table["wavelength"][inside]), expected, rtol=1e-12, atol=1e-15)


def test_a_smooth_model_of_another_mountain():
    # The extinction table that specsim ships for its tests: a smooth model of a 2100 m site, 0.15 mag at 550 nm.
    import specsim
    from astropy.table import Table

    folder = importlib.resources.files(specsim) / "data" / "test" / "test_extinction.ecsv"
    table = Table.read(str(folder))
    wavelength_nm = np.array([400.0, 440, 500, 550, 600, 660, 700, 800])
    expected = np.interp(wavelength_nm * 10, table["wavelength"], table["extinction"])
    found = extinction(wavelength_nm * u.nm, height=2120 * u.m).to_value(u.mag)
    # Two mean atmospheres with different dust: 0.025 mag.
    assert_allclose(found, expected, atol=0.025)
