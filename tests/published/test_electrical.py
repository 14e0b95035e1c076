"""Cables, batteries and dew against standards and tables."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.pier import Cable, ampacity, dew_point
from planner.pier import loop_resistance as loop
from planner.pier.wiring.cable import CLASS_5_OHM_PER_KM
from planner.pier.wiring.energy import cold_share

# largest resistance of plain flexible copper (class 5) at 20 C, cross-section in mm2, ohm/km.
# Source: IEC 60228:2004 table 3; found in four cable makers' tables that agree.
CLASS_5 = [(0.5, 39.0), (0.75, 26.0), (1.0, 19.5), (1.5, 13.3), (2.5, 7.98)]
# The same for solid conductors (classes 1 and 2), same source.
CLASS_1 = [(0.5, 36.0), (0.75, 24.5), (1.0, 18.1), (1.5, 12.1), (2.5, 7.41)]


def kilometre(area_mm2, celsius=20):
    """Resistance of one kilometre of conductor: 500 m there and back, without plugs."""
    return loop(Cable(source="a", feeds="b", length=500 * u.m, cross_section=area_mm2 * u.mm**2,
                      connectors=0 * u.ohm), temperature=celsius * u.deg_C)


@pytest.mark.parametrize(("area_mm2", "ohm_per_km"), CLASS_5, ids=[str(row[0]) for row in CLASS_5])
def test_resistance_of_the_standard_series(area_mm2, ohm_per_km):
    assert_allclose(kilometre(area_mm2).to_value(u.ohm), ohm_per_km, rtol=1e-12)


@pytest.mark.parametrize(("area_mm2", "ohm_per_km"), CLASS_1)
def test_fine_strands_resist_more_than_solid_conductors_of_the_same_table(area_mm2, ohm_per_km):
    assert ohm_per_km < CLASS_5_OHM_PER_KM[area_mm2]  # fine strands, more resistance at equal cross-section


def test_no_class_5_value_is_below_annealed_copper():
    # IEC 60028: 0.017241 ohm mm2/m at 20 C. A conductor's largest resistance lies 5 to 20 % above it at every size,
    # those from memory (4 mm2 and more) included.
    implied = np.array([area * ohm / 1000 for area, ohm in CLASS_5_OHM_PER_KM.items()])
    assert np.all((implied > 1.05 * 0.017241) & (implied < 1.20 * 0.017241))


def test_two_way_voltage_drop():
    # 5 m of 1.5 mm2 class 5 at 5 A: 2 L I R = 0.665 V, 5.54 % of 12 V.
    cable = Cable(source="a", feeds="b", length=5 * u.m, cross_section=1.5 * u.mm**2, connectors=0 * u.ohm)
    drop = loop(cable) * 5 * u.A
    assert_allclose(drop.to_value(u.V), 0.665, atol=1e-9)
    assert_allclose((drop / (12 * u.V)).to_value(u.percent), 5.54, atol=0.005)


# factor of copper resistance to 20 C. Source: IEC 60228, 254.5/(234.5 + t), in the table the rounded form
# 250/(230 + t); table values found (5 C 1.064, 30 C 0.962, 50 C 0.893). FROM MEMORY: formula form.
@pytest.mark.parametrize(("celsius", "factor"), [(5, 1.064), (20, 1.0), (30, 0.962), (50, 0.893)],
                         ids=["5 C", "20 C", "30 C", "50 C"])
def test_copper_by_temperature(celsius, factor):
    assert_allclose((kilometre(1.5) / kilometre(1.5, celsius)).value, factor, atol=0.001)


def test_the_rounded_form_is_near_the_exact_one():
    for celsius in np.linspace(-20, 60, 81):
        factor = float(kilometre(1.5) / kilometre(1.5, celsius))
        assert_allclose(factor, 254.5 / (234.5 + celsius), rtol=0.004)


def test_a_cold_cable_resists_less():
    # Annealed copper: 0.393 % per kelvin at 20 C (IEC 60028); 0.5 %: the table's rounded form has 0.4 % per kelvin.
    assert_allclose((kilometre(1.5, -20) / kilometre(1.5)).value, 1 - 0.00393 * 40, rtol=5e-3)


def test_dew_point_of_the_published_row():
    # 10 C, 80 % relative humidity: 6.71 C with the Magnus constants 17.62, 243.12. Source: WMO Guide no. 8.
    assert_allclose(dew_point(10 * u.deg_C, 0.80).value, 6.71, atol=0.02)


def test_dew_point_against_a_library():
    # pvlib.atmosphere.tdew_from_rh uses its own coefficients; they agree to 0.02 K where telescopes stand.
    pvlib = pytest.importorskip("pvlib")
    celsius, share = np.meshgrid(np.linspace(-20, 35, 12), np.linspace(0.3, 1.0, 8))
    expected = pvlib.atmosphere.tdew_from_rh(celsius, share * 100)
    assert_allclose(dew_point(celsius * u.deg_C, share).value, expected, atol=0.1)


def test_saturated_air_dews_at_its_own_temperature():
    assert_allclose(dew_point([-10.0, 0.0, 25.0] * u.deg_C, 1.0).value, [-10, 0, 25], atol=1e-9)


@pytest.mark.parametrize("chemistry", ["lead-acid", "lithium iron phosphate"])
def test_cold_takes_capacity(chemistry):
    # Common practice, no source: whole at 25 C, less in the cold, never more than a little above the rating.
    shares = [cold_share(chemistry, celsius * u.deg_C) for celsius in (-30, -10, 0, 10, 25)]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert 0.75 < cold_share(chemistry, 0 * u.deg_C) < 0.95


# Largest current of a two-core 60 C cord in free air of 30 C, A, by cross-section in mm2, as printed: the British flex
# table; a cord maker's table after BS 6500; BS 7671 table 4F1A, two cores and three.
PRINTED_AMPERE = {0.5: (3, 4), 0.75: (6, 7), 1.0: (10, 12), 1.5: (15, 15), 2.5: (20,), 4.0: (27, 30, 26),
                  6.0: (35, 39, 34), 10.0: (51, 47), 16.0: (73, 63)}


@pytest.mark.parametrize("area", PRINTED_AMPERE)
def test_a_cord_is_trusted_with_no_more_than_any_table_prints(area):
    cable = Cable(source="a", feeds="b", length=1 * u.m, cross_section=area * u.mm**2, bundled=1)
    assert ampacity(cable).value <= min(PRINTED_AMPERE[area])


# Rating factors for a 60 C conductor by the air's temperature (BS 7671 table 4B1, from memory) and for loaded cables in
# one bundle (IEC 60364-5-52 table B.52.17, from memory).
@pytest.mark.parametrize(("celsius", "factor"), [(-20, 1), (30, 1), (35, 0.91), (40, 0.82), (45, 0.71), (50, 0.58)])
def test_warm_air_takes_ampacity_and_cold_gives_none(celsius, factor):
    cable = Cable(source="a", feeds="b", length=1 * u.m, cross_section=1 * u.mm**2, bundled=1)
    assert_allclose(ampacity(cable, temperature=celsius * u.deg_C).value, 10 * factor, atol=0.05)


@pytest.mark.parametrize(("count", "factor"), [(2, 0.80), (3, 0.70), (6, 0.57), (9, 0.50)])
def test_a_bundle_takes_ampacity(count, factor):
    cable = Cable(source="a", feeds="b", length=1 * u.m, cross_section=1 * u.mm**2, bundled=count)
    assert_allclose(ampacity(cable).value, 10 * factor)
