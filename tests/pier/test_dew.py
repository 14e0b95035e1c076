"""The heater's heat against an energy balance of its own, the shield's view of the sky by integration."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.pier import dew_point, heater_power
from planner.pier.dew import (
    AIR_EXCHANGE,
    BAND_EFFICIENCY,
    DEW_MARGIN,
    GLASS_EMISSIVITY,
    clear_sky_emissivity,
    sky_share,
)

SIGMA = 5.670374419e-8  # W m-2 K-4, CODATA 2018


@pytest.mark.parametrize("length_mm", [0, 50, 100, 400])
def test_share_of_the_sky_by_integration(length_mm):
    # Cosine-weighted share of the hemisphere inside the opening's cone, from the centre of a glass of 100 mm.
    edge = np.arctan2(50, length_mm)
    angle = (np.arange(20000) + 0.5) / 20000 * edge
    expected = np.sum(2 * np.sin(angle) * np.cos(angle)) * edge / 20000
    assert_allclose(sky_share(100 * u.mm, length_mm * u.mm), expected, rtol=1e-6)


@pytest.mark.parametrize(("celsius", "share", "length_mm"), [(5, 0.95, 0), (-10, 0.9, 100), (15, 1.0, 200)])
def test_heat_is_what_the_glass_loses(celsius, share, length_mm):
    need = heater_power(200 * u.mm, temperature=celsius * u.deg_C, humidity=share, shield_length=length_mm * u.mm)
    air, glass = celsius + 273.15, dew_point(celsius * u.deg_C, share).value + DEW_MARGIN.value + 273.15
    seen = 100**2 / (100**2 + length_mm**2)
    sky = float(clear_sky_emissivity(need.dew_point)) * SIGMA * air**4
    lost = AIR_EXCHANGE.value * (glass - air) + GLASS_EMISSIVITY * (
        SIGMA * glass**4 - seen * sky - (1 - seen) * SIGMA * air**4)
    assert_allclose(need.band_power.value, lost * np.pi * 0.1**2 / BAND_EFFICIENCY, rtol=1e-6)


def test_unheated_glass_loses_as_much_as_it_gets():
    need = heater_power(200 * u.mm, temperature=5 * u.deg_C, humidity=0.6)
    glass, air = need.unheated.value + 273.15, 278.15
    radiated = GLASS_EMISSIVITY * SIGMA * (glass**4 - float(clear_sky_emissivity(need.dew_point)) * air**4)
    assert_allclose(radiated, AIR_EXCHANGE.value * (air - glass), rtol=1e-6)
    assert need.unheated > need.dew_point
    damp = heater_power(200 * u.mm, temperature=5 * u.deg_C, humidity=0.9)
    assert damp.unheated < damp.dew_point


def test_a_shield_as_long_as_can_be_leaves_only_the_air():
    need = heater_power(100 * u.mm, temperature=10 * u.deg_C, humidity=0.5, shield_length=1000 * u.m)
    assert_allclose(need.unheated.value, 10, atol=1e-5)
    assert need.band_power == 0


@pytest.mark.parametrize(("call", "line"), [
    (lambda: dew_point(5 * u.deg_C, 0.0), "humidity = 0.0: must be more than 0"),
    (lambda: dew_point(5 * u.deg_C, 80.0), "humidity = 80.0: must be at most 1"),
    (lambda: heater_power(0 * u.mm, temperature=5 * u.deg_C, humidity=0.5),
     "aperture = 0.0 mm: must be more than 0 mm"),
])
def test_refusals(call, line):
    with pytest.raises(InvalidInputError) as refused:
        call()
    assert line in str(refused.value)
