"""What must hold for any pier: balance after the moves, energy in the tree, order among beams."""

import numpy as np
from astropy import units as u
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from planner.pier import (
    age_at_share,
    balance,
    dew_point,
    heater_power,
    judge_wiring,
    plan_balance,
    polar_shift,
    solve_tree,
    strength_share,
    wave_numbers,
)
from tests.pier.piers import NIGHT, assembly, tree

kilograms = st.floats(0.2, 30)
millimetres = st.floats(-400, 400)
parts = st.lists(st.tuples(kilograms, millimetres, st.floats(0, 400)), min_size=1, max_size=6)


@given(parts=parts, weights=st.lists(st.floats(1, 10), min_size=1, max_size=4), thickness=st.floats(0, 60))
def test_moves_balance_or_say_what_is_missing(parts, weights, thickness):
    places = [150 + thickness / 2 + 90 * index for index in range(len(weights))]
    it = assembly(parts=parts, weights=list(zip(weights, places, strict=True)), bar=(1, 100, 600), thickness=thickness,
                  saddle_travel=1000 * u.mm)
    plan = plan_balance(it)
    assert plan.after.held or plan.cannot
    # All of it still hangs on the bar, in the order in which it hung: the model refuses anything else.
    order = [weight.name for weight in sorted(plan.moved.counterweights, key=lambda one: one.position.value)]
    was = [weight.name for weight in it.counterweights]
    assert order in ([name for name in was if name in order], ["new weight"])


@given(parts=parts)
def test_the_order_of_the_parts_does_not_matter(parts):
    one, other = balance(assembly(parts=parts)), balance(assembly(parts=parts[::-1]))
    assert_allclose(one.declination_moment.value, other.declination_moment.value, atol=1e-6)
    assert_allclose(one.right_ascension_moment.value, other.right_ascension_moment.value, atol=1e-6)


watts = st.lists(st.floats(0.5, 30), min_size=1, max_size=5)
behaviours = st.sampled_from(["constant power", "constant current", "resistive"])


@given(watts=watts, behaviour=behaviours, length=st.floats(0, 15), area=st.sampled_from([0.5, 1.0, 2.5]))
def test_current_and_energy_are_kept(watts, behaviour, length, area):
    it = tree(loads=[(f"load {n}", watt, watt) for n, watt in enumerate(watts)], length=length, area=area,
              behaviour=behaviour, internal_resistance=0.02 * u.ohm)
    found = solve_tree(it, NIGHT)
    if found.collapsed:
        return
    hub_current = 1 / found.hub_voltage[0].value
    assert_allclose(found.supply_current.value, found.load_current.value.sum() + hub_current, rtol=1e-9)
    used = (found.load_voltage * found.load_current).value.sum() + 1
    lost = (found.cable_current * found.cable_drop).value.sum() + 0.02 * found.supply_current.value**2
    assert_allclose(found.supply_power.value, used + lost, rtol=1e-9)
    assert np.all(found.load_voltage.value <= 12.5)


@given(watts=watts, length=st.floats(0.1, 20))
def test_a_thicker_cable_brings_more_to_loads_of_constant_power(watts, length):
    thin, thick = (solve_tree(tree(loads=[(f"load {n}", watt, watt) for n, watt in enumerate(watts)], length=length,
                                   area=area), NIGHT) for area in (1.0, 1.5))
    assert thin.collapsed or np.all(thick.load_voltage > thin.load_voltage)


@settings(max_examples=12)
@given(watts=watts, length=st.floats(0.1, 20), area=st.sampled_from([0.5, 0.75, 1.5]))
def test_a_mended_tree_lacks_nothing(watts, length, area):
    it = tree(loads=[(f"load {n}", watt, watt) for n, watt in enumerate(watts)], length=length, area=area)
    judged = judge_wiring(it, NIGHT)
    if judged.mended is None:
        return
    assert judge_wiring(judged.mended, NIGHT).objections == ()
    found = solve_tree(judged.mended, NIGHT, state="peak", supply_voltage=judged.mended.supply.empty_voltage)
    assert np.all(found.load_voltage >= 11 * u.V)
    assert all(change.wanted >= change.present for change in judged.changes)


ratios = st.floats(0, 50)
flexible = st.floats(0, 5)


@given(mass=ratios, centre=st.floats(0, 2), inertia=st.floats(0, 2), foot=flexible)
def test_more_mass_and_a_softer_foot_swing_more_slowly(mass, centre, inertia, foot):
    beam = {"mass_ratio": mass, "centre_ratio": centre, "inertia_ratio": inertia, "foot_flexibility": foot}
    (first,) = wave_numbers(**beam)
    for name, more in (("mass_ratio", 1.0), ("inertia_ratio", 0.5), ("foot_flexibility", 0.5)):
        assert wave_numbers(**{**beam, name: beam[name] + more})[0] <= first
    # Dunkerley's bound from below, the bare cantilever from above.
    trace = 1 / 12 + foot / 3 + mass * (1 / 3 + centre + centre**2 + foot * (1 + centre) ** 2) + inertia * (1 + foot)
    assert trace**-0.25 <= first <= 1.8751041


@given(mass=ratios, centre=st.floats(0, 2), inertia=st.floats(0, 2), foot=flexible)
def test_no_mode_is_missed(mass, centre, inertia, foot):
    # Counted against finite elements: the third mode is the third.
    from scipy.linalg import eigh

    from tests.pier.test_column import finite_elements

    beam = {"mass_ratio": mass, "centre_ratio": centre, "inertia_ratio": inertia,
            "foot_flexibility": foot if foot > 1e-6 else 0.0}
    stiffness, heavy = finite_elements(**beam, count=30)
    expected = eigh(stiffness, heavy, eigvals_only=True)[:3] ** 0.25
    assert_allclose(wave_numbers(**beam, modes=3), expected, rtol=1e-4)


@given(celsius=st.floats(-40, 50), share=st.floats(0.01, 1))
def test_air_is_never_below_its_dew_point(celsius, share):
    assert dew_point(celsius * u.deg_C, share) <= (celsius + 1e-9) * u.deg_C


@given(celsius=st.floats(-20, 30), share=st.floats(0.2, 1), length=st.floats(0, 500))
def test_a_longer_shield_never_needs_more_heat(celsius, share, length):
    short, long = (heater_power(100 * u.mm, temperature=celsius * u.deg_C, humidity=share, shield_length=one * u.mm)
                   for one in (length, length + 50))
    assert long.band_power <= short.band_power
    assert long.unheated >= short.unheated
    assert short.unheated <= celsius * u.deg_C


@given(east=st.floats(-600, 600), north=st.floats(-600, 600), latitude=st.floats(-89, 89))
def test_a_tilt_moves_the_pole_by_no_more_than_itself(east, north, latitude):
    found = polar_shift(tilt_east=east * u.arcsec, tilt_north=north * u.arcsec, latitude=latitude * u.deg)
    assert found.separation.value <= np.hypot(east, north) * (1 + 1e-9) + 1e-9


@given(share=st.floats(0.05, 1.15), cement=st.sampled_from("RNS"))
def test_strength_and_age_invert_each_other(share, cement):
    assert_allclose(strength_share(age_at_share(share, cement=cement), cement=cement).value, share, rtol=1e-9)
