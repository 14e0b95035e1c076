"""Seeing: edges, shapes, refusals."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.sky import outer_scale_factor, seeing


def test_zenith_at_500_nm_is_as_given():
    assert seeing(2.5 * u.arcsec, airmass=1 * u.one, wavelength=0.5 * u.um) == 2.5 * u.arcsec


def test_broadcasts():
    found = seeing([2, 3] * u.arcsec, airmass=np.ones((4, 1)) * u.one, wavelength=600 * u.nm)
    assert found.shape == (4, 2)
    assert found.unit == u.arcsec


def test_no_outer_scale_no_narrowing():
    assert_allclose(outer_scale_factor(0.1 * u.m, np.inf * u.m).value, 1)


def test_outer_scale_has_no_root_below_nine_r0():
    assert np.isnan(outer_scale_factor(0.1 * u.m, 0.89 * u.m).value)
    assert outer_scale_factor(0.1 * u.m, 0.9 * u.m).value > 0


def test_refuses_a_bare_number():
    with pytest.raises(TypeError, match="airmass"):
        seeing(2.5 * u.arcsec, airmass="2", wavelength=500 * u.nm)
    with pytest.raises(u.UnitsError, match="wavelength"):
        seeing(2.5 * u.arcsec, airmass=1 * u.one, wavelength=500 * u.s)
