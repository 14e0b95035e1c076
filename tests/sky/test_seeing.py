"""Seeing: edges, shapes, refusals."""

import numpy as np
import pytest
from astropy import units as u

from planner.sky import seeing


def test_zenith_at_500_nm_is_as_given():
    assert seeing(2.5 * u.arcsec, airmass=1 * u.one, wavelength=0.5 * u.um) == 2.5 * u.arcsec


def test_broadcasts():
    found = seeing([2, 3] * u.arcsec, airmass=np.ones((4, 1)) * u.one, wavelength=600 * u.nm)
    assert found.shape == (4, 2)
    assert found.unit == u.arcsec


def test_refuses_a_bare_number():
    with pytest.raises(TypeError, match="airmass"):
        seeing(2.5 * u.arcsec, airmass="2", wavelength=500 * u.nm)
    with pytest.raises(u.UnitsError, match="wavelength"):
        seeing(2.5 * u.arcsec, airmass=1 * u.one, wavelength=500 * u.s)
