"""Refraction: edges, shapes, inverse, refusals."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.sky import refraction_constants, refraction_from_true
from planner.sky.refraction import density_factor, refraction_kernel

STANDARD = {"pressure": 1010 * u.hPa, "temperature": 10 * u.deg_C}


def test_from_true_is_the_inverse_of_from_apparent():
    apparent = np.linspace(0, 90, 181)
    lift = refraction_kernel(apparent)
    back = refraction_from_true((apparent - lift / 3600) * u.deg, **STANDARD)
    # 0.1 arcmin, as the docstring says.
    assert_allclose(back.to_value(u.arcmin), lift / 60, atol=0.1)


def test_edges():
    assert refraction_from_true(90 * u.deg, **STANDARD) == 0 * u.arcsec
    assert refraction_kernel(90.0) == 0
    assert np.isnan(refraction_from_true([-1.1, -89] * u.deg, **STANDARD).value).all()
    assert np.isnan(refraction_kernel(np.array([-1.1, -89]))).all()
    assert refraction_from_true(0 * u.deg, pressure=0 * u.hPa, temperature=10 * u.deg_C) == 0 * u.arcsec  # no air


def test_takes_kelvin_and_broadcasts():
    altitude = np.array([[10.0], [40.0]]) * u.deg
    found = refraction_from_true(altitude, pressure=[1010, 900, 700] * u.hPa, temperature=283.15 * u.K)
    assert found.shape == (2, 3)
    assert_allclose(found[:, 0].value, refraction_from_true(altitude[:, 0], **STANDARD).value, rtol=1e-12)
    assert density_factor(1010, 10) == 1


def test_constants_broadcast():
    constants = refraction_constants(
        pressure=[1010, 700] * u.hPa, temperature=10 * u.deg_C, wavelength=np.array([[400.0], [700.0]]) * u.nm)
    assert constants.a.shape == constants.b.shape == (2, 2)
    assert constants.refraction(45 * u.deg).shape == constants.gradient(45 * u.deg).shape == (2, 2)
    assert (constants.refraction(45 * u.deg)[0] > constants.refraction(45 * u.deg)[1]).all()  # blue is lifted more


def test_refuses_a_bare_number_and_a_wrong_unit():
    with pytest.raises(TypeError, match="altitude"):
        refraction_from_true(45.0, **STANDARD)
    with pytest.raises(u.UnitsError, match="pressure"):
        refraction_from_true(45 * u.deg, pressure=10 * u.m, temperature=10 * u.deg_C)
