"""Airmass: edges, shapes, refusals."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.sky import airmass
from planner.sky.airmass import airmass_kernel, scattering_airmass_kernel

each_formula = pytest.mark.parametrize("formula", [airmass_kernel, scattering_airmass_kernel])


def test_keeps_the_shape():
    assert airmass(np.full((2, 3, 4), 30.0) * u.deg).shape == (2, 3, 4)
    assert airmass(0.5 * u.rad).shape == ()


@each_formula
def test_one_at_the_zenith_and_undefined_below_the_horizon(formula):
    assert_allclose(formula(90.0), 1, atol=4e-4)
    assert np.isnan(formula(np.array([-0.1, -30]))).all()


@each_formula
def test_formulas_agree_high_up(formula):
    # The secant: airmass departs from it by less than 0.3 % above 45 deg, the thin layer by 3 %.
    altitude = np.linspace(50, 90, 20)
    tolerance = 0.04 if formula is scattering_airmass_kernel else 0.003
    assert_allclose(formula(altitude), 1 / np.sin(np.radians(altitude)), rtol=tolerance)


def test_refuses_a_bare_number():
    with pytest.raises(TypeError, match="altitude"):
        airmass(45.0)
