"""Airmass: edges, shapes, refusals."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.sky import (
    airmass,
    airmass_from_true,
    airmass_hardie,
    airmass_pickering,
    airmass_rozenberg,
    scattering_airmass,
)

FORMULAS = [airmass, airmass_from_true, airmass_hardie, airmass_pickering, airmass_rozenberg, scattering_airmass]
each_formula = pytest.mark.parametrize("formula", FORMULAS, ids=lambda formula: formula.__name__)


@each_formula
def test_keeps_the_shape(formula):
    assert formula(np.full((2, 3, 4), 30.0) * u.deg).shape == (2, 3, 4)
    assert formula(0.5 * u.rad).shape == ()


@each_formula
def test_one_at_the_zenith_and_undefined_below_the_horizon(formula):
    assert_allclose(formula(90 * u.deg).value, 1, atol=4e-4)
    assert np.isnan(formula([-0.1, -30] * u.deg).value).all()


@each_formula
def test_formulas_agree_high_up(formula):
    # The secant: all depart from it by less than 0.3 % above 45 deg (3 % for the thin layer, and for Rozenberg's).
    altitude = np.linspace(50, 90, 20) * u.deg
    tolerance = 0.04 if formula is scattering_airmass else 0.003
    assert_allclose(formula(altitude).value, 1 / np.sin(altitude).value, rtol=tolerance)


@each_formula
def test_refuses_a_bare_number(formula):
    with pytest.raises(TypeError, match="altitude"):
        formula(45.0)


def test_hardie_says_where_it_stops():
    assert np.isnan(airmass_hardie(4.9 * u.deg).value)
    assert airmass_hardie(5 * u.deg).value > 9
