"""King's rate through the rigid-rotation engine, in minutes per turn of the axis.

Source: E. S. King's formula (1902, 1931), text from memory; the numbers re-derived by rigid geometry with
R = k tan z, k = 58.2 arcsec. Base: sidereal day of 1436.07 min.
"""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.tracking import king_rate
from planner.tracking.drive import _king_rate

K = (np.radians(58.2 / 3600), 0.0)
BASE_MIN = 1436.07


def period(phi, dec, hour_angle, *, refracted_pole):
    return BASE_MIN / _king_rate(np.radians(phi), np.radians(dec), np.radians(hour_angle), K, refracted_pole)


@pytest.mark.parametrize(("phi", "dec", "hour_angle", "refracted", "minutes"), [
    pytest.param(45, 0, 0.0, True, 1436.4729, id="K01"),
    pytest.param(45, 30, 45.0, True, 1436.3634, id="K02"),
    pytest.param(52, 60, -60.0, True, 1436.2565, id="K03"),
    pytest.param(45, 0, 0.0, False, 1436.4731, id="K04"),
    pytest.param(40, -20, 30.0, False, 1437.1393, id="K05"),
])
def test_period_for_no_drift(phi, dec, hour_angle, refracted, minutes):
    # Tolerance of the rows: 0.005 min, what small angles and R of the true altitude leave.
    assert_allclose(period(phi, dec, hour_angle, refracted_pole=refracted), minutes, atol=5e-3)


def test_additive_constant():
    # K06: printed 0.4 (from memory), k = 58.2 arcsec: what refraction adds at the zenith for an axis at the true pole.
    assert_allclose(period(45, 45, 0.0, refracted_pole=False) - BASE_MIN, 0.4, atol=6e-3)


@pytest.mark.parametrize("phi", [-35, 20, 45, 60])
def test_mean_rate(phi):
    # K07: 1436.46 to 1436.47 (King 1931; printed 1436.46 from memory): dec 0, meridian, any latitude, true pole.
    assert_allclose(period(phi, 0, 0.0, refracted_pole=False), 1436.47, atol=1e-2)


def test_air_at_the_site_sets_the_rate():
    # Half the air, half the lag: refraction is proportional to the pressure.
    at = {"latitude": 45 * u.deg, "declination": 0 * u.deg, "hour_angle": [0, 30] * u.deg}
    lag = [15.0410686 - king_rate(**at, pressure=p * u.hPa).to_value(u.arcsec / u.s) for p in (500, 1000)]
    # 1e-2: the base constant above is rounded; B tan^3 z is a little nonlinear.
    assert_allclose(lag[1] / lag[0], 2, rtol=1e-2)


def test_no_air_no_king_rate():
    rate = king_rate(latitude=45 * u.deg, declination=30 * u.deg, hour_angle=[-60, 0, 60] * u.deg, pressure=0 * u.hPa)
    assert_allclose(rate.to_value(u.arcsec / u.s), 15.04106864564, rtol=1e-9)
