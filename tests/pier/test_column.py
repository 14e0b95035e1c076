"""The column against finite elements, limits in closed form, the footing's springs, and the polar axis."""

import math
from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose
from scipy.linalg import eigh

from planner.errors import InvalidInputError
from planner.pier import (
    Column,
    Footing,
    TopLoads,
    bend,
    column_response,
    footing_stiffness,
    person_tilt,
    polar_shift,
    vibration,
    wave_numbers,
)
from planner.pier.column.foot_plate import rod_stiffness
from planner.pier.column.model import DENSITY, MODULUS
from planner.pier.column.steps import settlement_tilt

STEEL = Column(height=1.2 * u.m, width=168.3 * u.mm, wall=5 * u.mm)
PAD = Footing()
LOADS = TopLoads()
NM_PER_RAD = u.N * u.m / u.rad


def finite_elements(*, mass_ratio=0.0, centre_ratio=0.0, inertia_ratio=0.0, foot_flexibility=0.0, count=60):
    """Stiffness and mass of a unit beam (E I = m = L = 1) by Hermite cubics, mass on top and spring at the foot."""
    h = 1 / count
    stiff = np.array([[12, 6 * h, -12, 6 * h], [6 * h, 4 * h * h, -6 * h, 2 * h * h],
                      [-12, -6 * h, 12, -6 * h], [6 * h, 2 * h * h, -6 * h, 4 * h * h]]) / h**3
    heavy = np.array([[156, 22 * h, 54, -13 * h], [22 * h, 4 * h * h, 13 * h, -3 * h * h],
                      [54, 13 * h, 156, -22 * h], [-13 * h, -3 * h * h, -22 * h, 4 * h * h]]) * h / 420
    size = 2 * (count + 1)
    stiffness, mass = np.zeros((size, size)), np.zeros((size, size))
    for element in range(count):
        span = slice(2 * element, 2 * element + 4)
        stiffness[span, span] += stiff
        mass[span, span] += heavy
    e = centre_ratio
    mass[-2:, -2:] += mass_ratio * np.array([[1, e], [e, e * e]]) + np.array([[0, 0], [0, inertia_ratio]])
    free = np.arange(1 if foot_flexibility else 2, size)  # the foot does not shift; rigid, it does not turn either
    if foot_flexibility:
        stiffness[1, 1] += 1 / foot_flexibility
    return stiffness[np.ix_(free, free)], mass[np.ix_(free, free)]


CASES = [
    {}, {"mass_ratio": 1}, {"mass_ratio": 3, "foot_flexibility": 0.2}, {"mass_ratio": 40, "centre_ratio": 0.3},
    {"mass_ratio": 0.1, "centre_ratio": 1.5, "inertia_ratio": 0.4}, {"foot_flexibility": 5},
    {"mass_ratio": 2, "centre_ratio": 0.25, "inertia_ratio": 0.1, "foot_flexibility": 0.15},
]


@pytest.mark.parametrize("case", CASES, ids=[str(case) for case in CASES])
def test_frequencies_are_those_of_finite_elements(case):
    stiffness, mass = finite_elements(**case)
    expected = eigh(stiffness, mass, eigvals_only=True)[:3] ** 0.25
    # 2e-6: what 60 cubic elements leave in the third mode.
    assert_allclose(wave_numbers(**case, modes=3), expected, rtol=2e-6)


def test_first_mode_shape_is_that_of_finite_elements():
    case = CASES[-1]
    stiffness, mass = finite_elements(**case, count=100)
    _, shapes = eigh(stiffness, mass)
    nodes = np.concatenate([[0], shapes[1::2, 0]])  # the foot's turn comes first, then shift and turn of each node
    ours = vibration(length=1 * u.m, stiffness=1 * u.N * u.m**2, mass_per_length=1 * u.kg / u.m, top_mass=2 * u.kg,
                     top_centre=0.25 * u.m, top_inertia=0.1 * u.kg * u.m**2, foot_stiffness=NM_PER_RAD / 0.15)
    assert_allclose(ours.shape, nodes / nodes[-1], atol=1e-6)


@pytest.mark.parametrize("flexibility", [0.0, 0.3])
def test_bending_is_that_of_finite_elements(flexibility):
    stiffness, _ = finite_elements(foot_flexibility=flexibility, count=40)
    load = np.zeros(len(stiffness))
    load[-2], load[-1] = 3.0, 2.0 + 3.0 * 0.4  # a force of 3 at 0.4 above the top, and a moment of 2
    h = 1 / 40
    for node in range(40):  # an even load of 5, consistent
        for offset, part in enumerate((5 * h / 2, 5 * h**2 / 12, 5 * h / 2, -5 * h**2 / 12)):
            index = 2 * node + offset - (1 if flexibility else 2)
            if index >= 0:
                load[index] += part
    expected = np.linalg.solve(stiffness, load)[-2:]
    found = bend(length=1 * u.m, stiffness=1 * u.N * u.m**2, force=3 * u.N, force_height=1.4 * u.m,
                 moment=2 * u.N * u.m, line_load=5 * u.N / u.m,
                 foot_stiffness=NM_PER_RAD / flexibility if flexibility else None)
    assert_allclose([found.deflection.to_value(u.m), found.angle.to_value(u.rad)], expected, rtol=1e-7)


def test_a_very_soft_foot_is_an_inverted_pendulum_on_a_spring():
    # A rigid bar with the mass on top turns about its foot: f = sqrt(K/(M h^2 + m L^2/3))/2 pi.
    found = wave_numbers(mass_ratio=5, centre_ratio=0.5, foot_flexibility=1e5)[0] ** 2
    assert_allclose(found, math.sqrt(1e-5 / (5 * 1.5**2 + 1 / 3)), rtol=1e-5)


def test_a_push_below_the_top_is_refused():
    with pytest.raises(InvalidInputError, match="force_height"):
        bend(length=1 * u.m, stiffness=1 * u.N * u.m**2, force=1 * u.N, force_height=0.5 * u.m)


def test_cross_sections_by_integration():
    # Area and second moment by summing small squares of the cross-section.
    grid = (np.arange(2000) + 0.5) / 2000 * 0.2 - 0.1
    x, y = np.meshgrid(grid, grid)
    cell = 1e-4**2
    radius = np.hypot(x, y)
    shapes = {
        Column(height=1 * u.m, width=200 * u.mm, wall=20 * u.mm): (radius <= 0.1) & (radius >= 0.08),
        Column(height=1 * u.m, width=150 * u.mm): radius <= 0.075,
        Column(height=1 * u.m, width=180 * u.mm, shape="square"): np.maximum(abs(x), abs(y)) <= 0.09,
        Column(height=1 * u.m, width=180 * u.mm, wall=10 * u.mm, shape="square"):
            (np.maximum(abs(x), abs(y)) <= 0.09) & (np.maximum(abs(x), abs(y)) >= 0.08),
    }
    for column, inside in shapes.items():
        assert_allclose(column.area.to_value(u.m**2), inside.sum() * cell, rtol=2e-3)
        assert_allclose(column.second_moment.to_value(u.m**4), (inside * y**2).sum() * cell, rtol=2e-3)


def test_sand_weighs_and_does_not_stiffen():
    filled = replace(STEEL, fill_density=1600 * u.kg / u.m**3)
    assert filled.stiffness == STEEL.stiffness
    hollow = math.pi / 4 * 0.1583**2 * 1.2
    assert_allclose((filled.mass - STEEL.mass).to_value(u.kg), hollow * 1600, rtol=1e-9)
    answers = [column_response(one, PAD, LOADS, latitude=45 * u.deg).vibration.frequency[0] for one in (STEEL, filled)]
    assert answers[1] < answers[0]


def test_a_concrete_column_takes_its_modulus_from_its_class():
    concrete = Column(height=1.2 * u.m, width=300 * u.mm, material="concrete", concrete_strength=25 * u.MPa)
    assert_allclose(concrete.modulus.to_value(u.GPa), 31.5, atol=0.05)  # M12
    assert DENSITY["concrete"].value == 2500
    assert MODULUS["steel"].value == 210


def test_each_load_bends_as_the_beam_does():
    answer = column_response(STEEL, PAD, LOADS, latitude=45 * u.deg)
    foot = footing_stiffness(PAD).east_west
    push = bend(length=1.2 * u.m, stiffness=STEEL.stiffness, force=10 * u.N, force_height=1.5 * u.m,
                foot_stiffness=foot)
    assert_allclose(answer.cases[1].bending.angle.value, push.angle.value, rtol=1e-3)  # the weight leans with it
    # Stiffness at the top: L^3/3EI + L^2/K.
    compliance = 1.2**3 / (3 * STEEL.stiffness.value) + 1.2**2 / foot.value
    assert_allclose(answer.top_stiffness.to_value(u.N / u.m), 1 / compliance, rtol=1e-9)


def test_a_sheltered_column_bends_less():
    open_air = column_response(STEEL, PAD, LOADS, latitude=45 * u.deg).cases[0]
    sheltered = column_response(STEEL, PAD, replace(LOADS, sheltered=True), latitude=45 * u.deg).cases[0]
    assert sheltered.bending.angle < open_air.bending.angle
    # Drag 1.2, half of 1.25 kg/m3 times 16 m2/s2: 12 Pa on 0.2 m2.
    assert_allclose(sheltered.force.value, 2.4, rtol=1e-9)


def test_eddies_at_the_columns_own_frequency():
    answer = column_response(STEEL, PAD, LOADS, latitude=45 * u.deg)
    # Strouhal 0.18 (EN 1991-1-4 table E.1, from memory): v = f D/St.
    assert_allclose(answer.vortex_speed.value, answer.motion.own_frequency.value * 0.1683 / 0.18, rtol=1e-9)
    square = replace(STEEL, shape="square")
    assert column_response(square, PAD, LOADS, latitude=45 * u.deg).vortex_speed is None


def test_a_stubby_column_is_told():
    stubby = column_response(replace(STEEL, height=0.5 * u.m), PAD, LOADS, latitude=45 * u.deg)
    assert any("stubby" in reason for reason in stubby.reasons)


def test_weight_lowers_the_frequency():
    # Of a weight on a light column, f² falls by 1 - N/N_cr (exact for one mass on a spring): at half of Euler's load of
    # a rigid foot, by √0.5.
    slim = Column(height=2 * u.m, width=40 * u.mm)
    euler = math.pi**2 * slim.stiffness.value / 16
    heavy = replace(LOADS, mass=euler / 2 / 9.80665 * u.kg, centre=0 * u.mm)
    found = column_response(slim, Footing(kind="rigid"), heavy, latitude=45 * u.deg)
    own = 9.80665 * slim.mass.value / 2 / euler
    assert_allclose((found.motion.own_frequency / found.vibration.frequency[0]).value, math.sqrt(0.5 - own), rtol=1e-6)


FLOOR = Footing(kind="suspended floor", joist_span=4 * u.m, joist_stiffness=1.1e6 * u.N * u.m**2)


def test_a_suspended_floor():
    stiffness = footing_stiffness(FLOOR)
    # A simply supported beam turned at its middle: two halves of span l/2, each 3 E I/(l/2) at its end.
    assert_allclose(stiffness.east_west.value, 2 * 3 * 1.1e6 / 2)
    assert stiffness.north_south < stiffness.east_west
    # First frequency of a simply supported beam, by finite elements with both ends held.
    full_stiffness, full_mass = _simple_beam(40)
    first = math.sqrt(eigh(full_stiffness, full_mass, eigvals_only=True)[0] * 1.1e6 / (50 * 4**4)) / (2 * math.pi)
    assert_allclose(stiffness.floor_frequency.value, first, rtol=1e-6)
    answer = column_response(STEEL, FLOOR, LOADS, latitude=45 * u.deg)
    assert answer.softer_way == "north-south"
    assert "80 kg person where the floor tilts most" in [case.name for case in answer.cases]
    soft = column_response(STEEL, replace(FLOOR, joist_span=5 * u.m), LOADS, latitude=45 * u.deg)
    assert any("footsteps shake it" in reason for reason in soft.reasons)


def test_what_tilts_nothing_is_not_listed():
    answer = column_response(STEEL, Footing(kind="rigid"), replace(LOADS, wind_speed=0 * u.m / u.s, sunny_side=0 * u.K),
                             latitude=45 * u.deg)
    assert [case.name for case in answer.cases] == ["hand pushing 10 N"]


def _simple_beam(count):
    stiffness, mass = finite_elements(count=count, foot_flexibility=1e12)  # free to turn at the foot, held there
    keep = [index for index in range(len(stiffness)) if index != len(stiffness) - 2]  # and held at the other end
    return stiffness[np.ix_(keep, keep)], mass[np.ix_(keep, keep)]


def test_a_person_on_a_suspended_floor():
    # Slope at the middle for a load anywhere on the span: finite elements, the load set on every node in turn.
    stiffness, _ = _simple_beam(60)
    slopes = []
    for node in range(1, 60):
        load = np.zeros(len(stiffness))
        load[2 * node - 1] = 1
        slopes.append(abs(np.linalg.solve(stiffness, load)[2 * 30]))
    weight = 80 * 9.80665
    expected = max(slopes) * weight * 4**2 / 1.1e6
    found = person_tilt(FLOOR, mass=80 * u.kg, distance=1 * u.m).to_value(u.rad)
    assert_allclose(found, expected, rtol=1e-3)  # the nodes miss the worst place by at most half an element


def test_a_person_on_the_ground():
    # Boussinesq's settlement w = P (1 - nu)/(2 pi G r), differentiated numerically.
    def settlement(r):
        return 80 * 9.80665 * (1 - 0.35) / (2 * math.pi * PAD.shear_modulus.to_value(u.Pa) * r)

    slope = (settlement(0.9999) - settlement(1.0001)) / 0.0002
    assert_allclose(person_tilt(PAD, mass=80 * u.kg, distance=1 * u.m).to_value(u.rad), slope, rtol=1e-6)
    assert person_tilt(Footing(kind="rigid"), mass=80 * u.kg, distance=1 * u.m).value == 0


def test_springs_in_series():
    rods = Footing(rods=4)
    soil = footing_stiffness(PAD).east_west.value
    plate = rod_stiffness(rods).value
    assert_allclose(footing_stiffness(rods).east_west.value, soil * plate / (soil + plate))
    assert footing_stiffness(Footing(kind="rigid")).east_west is None


@pytest.mark.parametrize("count", [3, 4, 6])
@pytest.mark.parametrize("turn_deg", [0, 17])
def test_rods_by_summing_each(count, turn_deg):
    # Each rod is a spring E A/h at its own lever; the sum does not depend on how the circle is turned.
    footing = Footing(rods=count)
    levers = 0.1 * np.cos(np.radians(turn_deg) + 2 * np.pi * np.arange(count) / count)
    axial = 210e9 * math.pi / 4 * 0.016**2 / 0.05
    assert_allclose(rod_stiffness(footing).value, np.sum(axial * levers**2), rtol=1e-12)


def test_a_slab_spreads_the_load():
    plate = Footing(kind="slab", width=0.3 * u.m, length=0.3 * u.m, slab_thickness=0.15 * u.m)
    as_pad = Footing(kind="pad", width=0.6 * u.m, length=0.6 * u.m)
    assert_allclose(footing_stiffness(plate).east_west.value, footing_stiffness(as_pad).east_west.value)


def test_the_softer_way_of_a_long_pad():
    answer = column_response(STEEL, Footing(width=0.6 * u.m, length=1.2 * u.m), LOADS, latitude=45 * u.deg)
    assert answer.softer_way == "east-west"
    assert_allclose(settlement_tilt(Footing(width=0.5 * u.m)).to_value(u.rad), math.atan(0.001 / 0.5))


@pytest.mark.parametrize(("changes", "line"), [
    ({"kind": "suspended floor"}, "needs joist_span and joist_stiffness"),
    ({"rods": 2}, "must be 0 or at least 3"),
    ({"kind": "swamp"}, "must be one of rigid, pad, slab, suspended floor"),
    ({"poisson_ratio": 0.5}, "must be less than 0.5"),
])
def test_impossible_footings_are_refused(changes, line):
    with pytest.raises(InvalidInputError) as refused:
        Footing(**changes)
    assert line in str(refused.value)


def test_a_wall_thicker_than_the_tube_is_refused():
    with pytest.raises(InvalidInputError, match=r"^wall = 90.0 mm: must be less than half the width, 84\.15 mm"):
        replace(STEEL, wall=90 * u.mm)


# A tilt moves the pole to first order: to the north by minus the tilt in altitude, to the east by tan(latitude) in
# azimuth.
@pytest.mark.parametrize("latitude_deg", [-65.0, -31.8, 0.0, 20.0, 47.4, 70.0])
def test_polar_axis_to_first_order(latitude_deg):
    none, tilt, latitude = 0 * u.arcsec, 10 * u.arcsec, latitude_deg * u.deg
    east = polar_shift(tilt_east=tilt, tilt_north=none, latitude=latitude)
    north = polar_shift(tilt_east=none, tilt_north=tilt, latitude=latitude)
    steep = abs(math.radians(latitude_deg))
    assert_allclose(east.azimuth_error.value, 10 * math.tan(steep), rtol=1e-3, atol=1e-3)
    assert_allclose(east.altitude_error.value, 0, atol=1e-3)
    assert_allclose(east.separation.value, 10 * math.sin(steep), rtol=1e-3, atol=1e-3)
    # Leaning to the north lowers an axis that looks north and raises one that looks south.
    assert_allclose(north.altitude_error.value, -10 if latitude_deg >= 0 else 10, rtol=1e-6)
    assert_allclose(north.separation.value, 10, rtol=1e-6)


def test_drift_of_a_polar_error():
    # One arcminute off the pole: at most 15.04 arcsec per second times sin 1', 15.75 arcsec per hour.
    found = polar_shift(tilt_east=0 * u.arcsec, tilt_north=1 * u.arcmin, latitude=45 * u.deg)
    assert_allclose(found.drift_rate.value, 15.041067 * 3600 * math.sin(math.radians(1 / 60)), rtol=1e-6)


def test_at_the_poles_of_the_earth():
    found = polar_shift(tilt_east=10 * u.arcsec, tilt_north=0 * u.arcsec, latitude=90 * u.deg)
    assert_allclose(found.separation.value, 10, rtol=1e-9)
    assert np.isnan(found.azimuth_error.value)


def test_wind_acts_at_the_centre_of_what_it_meets():
    answer = column_response(STEEL, PAD, replace(LOADS, sheltered=True), latitude=45 * u.deg)
    alone = bend(length=1.2 * u.m, stiffness=STEEL.stiffness, force=2.4 * u.N, force_height=1.5 * u.m,
                 foot_stiffness=footing_stiffness(PAD).east_west)
    assert_allclose(answer.cases[0].bending.angle.value, alone.angle.value, rtol=1e-3)  # the weight leans with it


def test_spread_out_mass_swings_with_its_moment_of_inertia():
    spread = replace(LOADS, gyration=400 * u.mm)
    found = column_response(STEEL, PAD, spread, latitude=45 * u.deg).vibration.frequency[0]
    expected = vibration(
        length=1.2 * u.m, stiffness=STEEL.stiffness, mass_per_length=STEEL.mass_per_length, top_mass=40 * u.kg,
        top_centre=0.3 * u.m, top_inertia=40 * 0.4**2 * u.kg * u.m**2, foot_stiffness=footing_stiffness(PAD).east_west)
    assert_allclose(found.value, expected.frequency[0].value, rtol=1e-9)


def test_what_shear_adds():
    # F h/(kappa G A) over F h^3/3EI with G = E/(2 (1 + nu)): Gere and Timoshenko; 1/2 of a thin tube carries shear.
    stubby = replace(STEEL, height=0.5 * u.m)
    shear = 0.5 / (0.5 * 210e9 / 2.6 * stubby.area.value)
    bending = 0.5**3 / (3 * stubby.stiffness.value)
    assert_allclose(stubby.shear_share, shear / bending, rtol=1e-9)
