"""Extinction: edges, shapes, parts."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.sky import extinction
from planner.sky.extinction import _rayleigh_extinction


def test_undefined_outside_the_tables():
    assert np.isnan(extinction([299, 1101] * u.nm, height=0 * u.m).value).all()
    assert np.isfinite(extinction([300, 1100] * u.nm, height=0 * u.m).value).all()


def test_broadcasts():
    found = extinction(np.array([[400.0], [500.0]]) * u.nm, height=[0, 1000, 2000] * u.m)
    assert found.shape == (2, 3)
    assert (np.diff(found.value, axis=0) < 0).all()  # redder, clearer
    assert (np.diff(found.value, axis=1) < 0).all()  # higher, clearer


def test_dust_adds_at_its_own_wavelength():
    clean, dusty = (extinction(550 * u.nm, height=500 * u.m, aerosol=dust * u.mag) for dust in (0.0, 0.15))
    assert_allclose((dusty - clean).to_value(u.mag), 0.15, rtol=1e-12)


def test_molecules_follow_the_pressure():
    # ISO 2533:1975 at 5500 m: 505 hPa, half of sea level.
    half = _rayleigh_extinction(500.0, 5500.0) / _rayleigh_extinction(500.0, 0.0)
    assert_allclose(half, 505.0 / 1013.25, atol=0.001)


def test_refuses_a_bare_number():
    with pytest.raises(TypeError, match="height"):
        extinction(550 * u.nm, height=1000.0)
