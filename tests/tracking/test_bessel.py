"""Bessel functions against SciPy's."""

import numpy as np
import pytest
from scipy import special

from planner.tracking.bessel import j1_over_x, spherical_bessel

PLACES = np.concatenate([[0, 1e-9, 1e-3], np.linspace(0.01, 40, 4001), np.geomspace(8, 3000, 300)])


@pytest.mark.parametrize("order", range(1, 7))
def test_spherical(order):
    assert spherical_bessel(PLACES, 6)[order - 1] == pytest.approx(special.spherical_jn(order, PLACES), abs=1e-12)


def test_cylindrical():
    assert j1_over_x(PLACES[1:]) * PLACES[1:] == pytest.approx(special.j1(PLACES[1:]), abs=1e-7)
    assert j1_over_x(PLACES[:1]) == 0.5
