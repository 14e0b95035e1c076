"""The table values behind the cautions, rows M13 to M15. Consult the current edition of each standard."""

import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.pier.cautions import (
    BALANCE_CAUTIONS,
    COLUMN_CAUTIONS,
    LASER,
    LASER_CLASS_LIMIT,
    POWER_CAUTIONS,
    SOLAR_FILTER_TRANSMITTANCE,
    shade_transmittance,
)


def test_solar_filter_largest_transmittance():
    # M13: ISO 12312-2, 0.0032 %; the boundary of shade 12 by T = 10^(-(3/7)(N - 1)) at 11.5. Found in two pages by
    # Chou.
    assert_allclose(shade_transmittance(11.5), 3.2e-05, atol=5e-7)
    assert_allclose(SOLAR_FILTER_TRANSMITTANCE[1], 3.2e-05, rtol=1e-12)


def test_solar_filter_least_transmittance():
    # M14: ISO 12312-2, FROM MEMORY: 0.000061 %; the boundary of shade 16 at 15.5.
    assert_allclose(shade_transmittance(15.5), 6.1e-07, atol=2e-9)
    assert_allclose(SOLAR_FILTER_TRANSMITTANCE[0], 6.1e-07, rtol=1e-12)


def test_visible_laser_classes():
    # M15: IEC 60825-1 (400 to 700 nm, continuous), class 2 1 mW, class 3R 5 mW. FROM MEMORY: laser class limits.
    assert {name: limit.to_value(u.mW) for name, limit in LASER_CLASS_LIMIT.items()} == {"2": 1, "3R": 5}
    assert "class 2 (1 mW)" in LASER


@pytest.mark.parametrize("caution", BALANCE_CAUTIONS + POWER_CAUTIONS + COLUMN_CAUTIONS)
def test_cautions_are_short_and_claim_nothing(caution):
    assert len(caution) < 125
    assert "compl" not in caution.lower()
    assert "safe to" not in caution.lower()
