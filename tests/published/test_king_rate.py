"""King's rate through the rigid-rotation engine, in minutes per turn of the axis.

Source: E. S. King, A Manual of Celestial Photography (1931), text from memory; the numbers re-derived by rigid geometry
with R = k tan z, k = 58.2 arcsec, for an axis at the refracted pole. Base: sidereal day of 1436.07 min.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from planner.tracking.drive import king_turn

K = np.array([np.radians(58.2 / 3600), 0.0])
BASE_MIN = 1436.07
STEP = 1e-4


def rate(phi, dec, hour_angle, constants=K):
    """The axis rate as a share of the sidereal one, differenced over a small turn of the sky."""
    steps = np.radians(hour_angle) + np.array([-STEP, STEP])
    return king_turn(np.radians(phi), np.radians(dec), steps, tuple(constants))[1] / (2 * STEP)


@pytest.mark.parametrize(("phi", "dec", "hour_angle", "minutes"), [
    (45, 0, 0.0, 1436.4729), (45, 30, 45.0, 1436.3634), (52, 60, -60.0, 1436.2565)])
def test_period_for_no_drift(phi, dec, hour_angle, minutes):
    # Tolerance of the rows: 0.005 min, what small angles and R of the true altitude leave.
    assert_allclose(BASE_MIN / rate(phi, dec, hour_angle), minutes, atol=5e-3)


def test_half_the_air_half_the_lag():
    lag = [1 - rate(45, 0, 0.0, K * share) for share in (0.5, 1)]
    assert_allclose(lag[1] / lag[0], 2, rtol=1e-2)


def test_no_air_no_lag():
    assert_allclose([rate(45, 30, hour_angle, 0 * K) for hour_angle in (-60, 0, 60)], 1, rtol=1e-9)
