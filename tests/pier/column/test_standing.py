"""What would tip, sink, buckle, crack or shake is said, by statics written out here; what is told mends it."""

import math
from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose
from scipy.linalg import eigh

from planner.files.own_files import packaged_data
from planner.files.pier import load_pier
from planner.pier import Column, Footing, TopLoads, footing_stiffness, judge_column, judge_standing
from planner.pier.column.foot_plate import plate_stiffness
from planner.pier.column.standing.buckling import critical_load
from tests.pier.plates import rocking_of_plate
from tests.pier.standing import follow
from tests.pier.test_column import finite_elements

G = 9.80665
TUBE = Column(height=1.2 * u.m, width=168.3 * u.mm, wall=5 * u.mm)
RODS = {"rods": 4, "rod_diameter": 13.5 * u.mm, "rod_circle": 260 * u.mm, "rod_free_length": 40 * u.mm,
        "plate_thickness": 20 * u.mm, "anchor_depth": 200 * u.mm}
PAD = Footing(depth=0.9 * u.m, frost_depth=0.8 * u.m)
PLATE = replace(PAD, **RODS)


def said(standing, part):
    """Findings and remedies about a part."""
    return " ".join(f"{one.finding} {one.remedy}" for one in standing.objections if one.part == part)


def share(standing, name):
    return next(check.share for check in standing.checks if check.name == name)


def test_a_push_tips_a_narrow_pad():
    # 300 N at 1.5 m on a pad 0.25 m wide: 450 N m and 300 N times the depth against half the width times the weight.
    narrow = replace(PAD, width=0.25 * u.m, length=0.25 * u.m, depth=0.5 * u.m, frost_depth=0.4 * u.m)
    standing = judge_standing(TUBE, narrow, TopLoads(push=300 * u.N))
    steel = math.pi / 4 * (0.1683**2 - 0.1583**2) * 1.2 * 7850
    weight = (40 + steel) * G + 24000 * 0.25**2 * 0.5
    assert_allclose(share(standing, "tipping"), 1.5 * 300 * (1.5 + 0.5) / (0.9 * weight * 0.125), rtol=1e-6)
    assert standing.verdict == "unsafe"
    assert "300 N" in said(standing, "pad")
    assert "its other edge lifts" in said(standing, "soil")
    # Followed as it is told, the same statics hold with both factors.
    pad = standing.mended[1]
    wide, deep = min(pad.width, pad.length).value, pad.depth.value
    held = 0.9 * ((40 + steel) * G + 24000 * pad.width.value * pad.length.value * deep) * wide / 2
    assert held >= 1.5 * 300 * (1.5 + deep)


def test_a_rod_that_collapses_is_told_to():
    # Euler, cantilever, the weight on its very top: π²EI/4L² of a 12 mm rod of 2 m is 0.132 kN, 13 kg; 40 kg fall.
    rod = Column(height=2 * u.m, width=12 * u.mm)
    bare = critical_load(rod, centre=0 * u.m, foot_stiffness=None)
    assert_allclose(bare.value, math.pi**2 * 210e9 * math.pi / 64 * 0.012**4 / (4 * 2**2), rtol=1e-9)
    answer = judge_column(rod, PAD, TopLoads(), latitude=45 * u.deg)
    assert answer.verdict == "unsafe"
    assert "buckles" in said(answer.standing, "column")
    assert answer.response.motion.own_frequency == 0 * u.Hz
    assert answer.response.cases == ()
    assert "Hz" not in " ".join(answer.lines)


@pytest.mark.parametrize(("above", "give"), [(0.0, 0.0), (0.3, 0.0), (0.0, 0.4), (0.4, 0.2), (1.5, 3.0)])
def test_buckling_is_that_of_finite_elements(above, give):
    # E I = L = 1: elastic stiffness against the geometric one of a thrust of 1 along the beam (Hermite cubics), the
    # rigid piece above the top by its own geometric stiffness.
    count = 40
    stiffness, _ = finite_elements(foot_flexibility=give, count=count)
    h = 1 / count
    element = np.array([[36, 3 * h, -36, 3 * h], [3 * h, 4 * h * h, -3 * h, -h * h],
                        [-36, -3 * h, 36, -3 * h], [3 * h, -h * h, -3 * h, 4 * h * h]]) / (30 * h)
    geometric = np.zeros((2 * (count + 1),) * 2)
    for place in range(count):
        span = slice(2 * place, 2 * place + 4)
        geometric[span, span] += element
    geometric[-1, -1] += above
    free = np.arange(1 if give else 2, len(geometric))
    loads = eigh(geometric[np.ix_(free, free)], stiffness, eigvals_only=True)
    column = Column(height=1 * u.m, width=100 * u.mm)
    bending = column.stiffness.value
    spring = bending / give * u.N * u.m / u.rad if give else None
    found = critical_load(column, centre=above * u.m, foot_stiffness=spring)
    assert_allclose(found.value / bending, 1 / loads[-1], rtol=1e-5)


@pytest.mark.parametrize(("width", "circle", "rods", "thickness"),
                         [(168.3, 240, 3, 10), (168.3, 260, 4, 20), (114.3, 240, 4, 10), (219.1, 320, 6, 15)])
def test_a_foot_plate_bends_as_finite_elements_say(width, circle, rods, thickness):
    # Ours is on the safe side: 0.6 to 1 of a plate whose tube keeps its ring round and even.
    footing = Footing(**{**RODS, "rods": rods, "rod_circle": circle * u.mm, "plate_thickness": thickness * u.mm})
    ours = plate_stiffness(footing, width * u.mm).value
    exact = rocking_of_plate(side=(circle + 60) / 1000, tube=width / 1000, circle=circle / 1000, rods=rods,
                             thickness=thickness / 1000)
    assert 0.6 < ours / exact < 1.0


def test_a_thin_foot_plate_takes_the_stiffness_away():
    # 24 Hz on a stiff plate, 16 Hz on one of 10 mm, 36 mm from the wall to the rods: a spring of 2 MN m per radian.
    demo = load_pier(packaged_data("pier.toml"))
    three, loads = demo.footing, demo.loads
    stiff, thin = (judge_column(demo.column, replace(three, plate_thickness=one * u.mm), loads, latitude=45 * u.deg)
                   for one in (100, 10))
    assert_allclose(stiff.response.motion.own_frequency.value, 24, atol=1)
    assert_allclose(thin.response.motion.own_frequency.value, 16, atol=1)
    assert stiff.verdict == "good"
    assert thin.verdict == "check"
    assert "Take a foot plate of 12 mm" in said(thin.standing, "column and foot")
    unknown = judge_standing(TUBE, replace(three, plate_thickness=None), loads)
    assert unknown.verdict == "check"
    assert "not given" in said(unknown, "foot plate")


def test_good_counts_the_mount():
    # A mount of 8 Hz on a column of 16.5 Hz swings at 0.9 of 8 Hz: 1/f² adds. A stiffer mount asks more of its pier.
    assert judge_standing(TUBE, PLATE, TopLoads()).verdict == "good"
    stiff = judge_column(TUBE, PLATE, TopLoads(mount_frequency=25 * u.Hz), latitude=45 * u.deg)
    assert stiff.verdict == "check"
    own = stiff.response.motion.own_frequency.value
    assert_allclose(stiff.response.motion.whole_frequency.value, (own**-2 + 25**-2) ** -0.5, rtol=1e-9)
    assert not any("often at half" in line for line in stiff.lines)


@pytest.mark.parametrize(("width", "wall"), [(152.4, 4), (168.3, 5), (200, 6)])
def test_the_typical_steel_piers_are_good(width, wall):
    # 1 m tall, 40 kg, on a pad of 0.8 m: what observers stand their mounts on (common practice, no source).
    column = Column(height=1 * u.m, width=width * u.mm, wall=wall * u.mm)
    footing = replace(PLATE, rod_circle=(width + 90) * u.mm)
    answer = judge_column(column, footing, TopLoads(), latitude=45 * u.deg)
    assert answer.verdict == "good", answer.lines
    assert 20 < answer.response.motion.own_frequency.value < 60
    assert 6.5 < answer.response.motion.whole_frequency.value < 8


def test_the_typical_concrete_pier_is_good():
    column = Column(height=1 * u.m, width=300 * u.mm, material="concrete")
    answer = judge_column(column, PAD, TopLoads(), latitude=45 * u.deg)
    assert answer.verdict == "good"
    assert any("Reinforce" in line for line in answer.lines)
    # 450 N m and more on π D³/32, against plain C25/30 of 0.8 · 0.7 · 0.3 · 25^(2/3)/1.5 (EN 1992-1-1, from memory).
    bend = 1.5 * 300 * 1.3 / (math.pi * 0.3**3 / 32) - 40 * G / (math.pi / 4 * 0.3**2)
    found = share(judge_standing(column, PAD, TopLoads(storm=0 * u.m / u.s)), "cracking")
    # 2 %: the weight on top leans with the column.
    assert_allclose(found, bend / (0.8 * 0.7 * 0.3 * 25 ** (2 / 3) / 1.5 * 1e6), rtol=0.02)


def test_a_thin_concrete_column_cracks():
    standing = judge_standing(Column(height=2 * u.m, width=120 * u.mm, material="concrete"), PAD, TopLoads())
    assert standing.verdict == "unsafe"
    assert "cracks" in said(standing, "column")


def test_what_holds_a_metal_column_must_be_known():
    loose = judge_standing(TUBE, PAD, TopLoads())
    assert loose.verdict == "check"
    assert "How the pad holds the column is not given" in said(loose, "foot plate")
    assert "Hold it with 4 rods" in said(loose, "foot plate")
    assert judge_standing(*loose.mended, TopLoads()).verdict == "good"
    assert judge_standing(TUBE, replace(PAD, embedded=True), TopLoads()).verdict == "good"


def test_a_pad_in_frozen_ground_is_lifted():
    shallow = judge_standing(TUBE, replace(PLATE, depth=0.5 * u.m), TopLoads())
    assert "frost lifts it" in said(shallow, "pad")
    assert "0.8 m deep" in said(shallow, "pad")
    assert "not given" in said(judge_standing(TUBE, replace(PLATE, frost_depth=None), TopLoads()), "pad")
    assert "not given" in said(judge_standing(TUBE, replace(PLATE, depth=None), TopLoads()), "pad")


def test_soft_soil_and_a_heavy_pier():
    # 24 kN/m³ over 0.9 m press with 21.6 kPa, pushed askew with more; peat bears 20 kPa or less (from memory).
    standing = judge_standing(TUBE, replace(PLATE, bearing_pressure=20 * u.kPa), TopLoads())
    assert standing.verdict == "unsafe"
    assert "presumed" in said(standing, "soil")
    # A deeper pad presses more: only a wider one helps, as 24 kN/m³ over 0.8 m leave 0.8 kPa for all the rest.
    narrow = replace(PLATE, bearing_pressure=20 * u.kPa, width=0.4 * u.m, length=0.4 * u.m, depth=0.4 * u.m)
    _, mended = judge_standing(TUBE, narrow, TopLoads(push=400 * u.N)).mended
    assert mended.depth == 0.8 * u.m
    assert mended.width > 1.2 * u.m


def test_rods_and_their_hold():
    few = judge_standing(TUBE, replace(PLATE, rod_diameter=5 * u.mm, rods=3), TopLoads(push=600 * u.N))
    assert "beyond their strength" in said(few, "rods")
    short = judge_standing(TUBE, replace(PLATE, anchor_depth=25 * u.mm), TopLoads(push=600 * u.N))
    assert "cone" in said(short, "rods")
    drilled = replace(PLATE, anchor="expansion")
    weak = judge_standing(replace(TUBE, concrete_strength=16 * u.MPa), drilled, TopLoads())
    assert "expansion" in said(weak, "concrete")
    assert judge_standing(TUBE, drilled, TopLoads()).verdict == "good"


def test_a_slab_holds_what_is_bolted_to_it():
    slab = Footing(kind="slab", width=0.3 * u.m, length=0.3 * u.m)
    loose = judge_standing(TUBE, slab, TopLoads())
    assert loose.verdict == "unsafe"
    assert "Nothing holds it down" in said(loose, "foot plate")
    bolted = replace(slab, **{**RODS, "anchor_depth": 90 * u.mm})
    assert "not given" in said(judge_standing(TUBE, bolted, TopLoads()), "slab")
    # A slab of 0.12 m that reaches 1.5 m weighs 2.9 kN/m² · 9 m² and holds 0.9 W · 1.5 m, far above 1.5 · 450 N m.
    assert judge_standing(TUBE, replace(bolted, slab_reach=1.5 * u.m), TopLoads()).verdict == "good"
    assert judge_standing(TUBE, replace(bolted, slab_reach=0.3 * u.m), TopLoads()).verdict == "unsafe"


@pytest.mark.parametrize(("deep", "verdict"), [(89, "good"), (91, "check"), (119, "check"), (121, "unsafe"),
                                               (200, "unsafe")])
def test_rods_stay_within_a_slab(deep, verdict):
    # 120 mm thick: 30 mm of concrete stay below the rods; what is deeper than the slab holds nothing.
    slab = Footing(kind="slab", width=0.3 * u.m, length=0.3 * u.m, slab_reach=2 * u.m, **{
        **RODS, "anchor_depth": deep * u.mm})
    standing = judge_standing(TUBE, slab, TopLoads())
    assert standing.verdict == verdict
    assert standing.mended[1].anchor_depth <= 90 * u.mm
    assert judge_standing(*standing.mended, TopLoads()).verdict == "good"


def test_rods_stand_where_a_spanner_gets():
    inside = replace(PLATE, rod_circle=160 * u.mm)
    standing = judge_standing(TUBE, inside, TopLoads())
    assert "no spanner" in said(standing, "rods")
    assert standing.mended[1].rod_circle > TUBE.width


def test_a_tripod_is_no_pier():
    # Over the line through two feet: a fourth of the stance. 100 N at 1.4 m against 44 kg and 0.25 m: 140 > 108 N m.
    tripod = Footing(kind="tripod", stance=1 * u.m)
    column = Column(height=1.1 * u.m, width=100 * u.mm, wall=4 * u.mm)
    standing = judge_standing(column, tripod, TopLoads(push=100 * u.N))
    assert standing.verdict == "unsafe"
    mass = 40 + math.pi / 4 * (0.1**2 - 0.092**2) * 1.1 * 7850
    assert_allclose(share(standing, "tipping"), 1.5 * 100 * 1.4 / (0.9 * mass * G * 0.25), rtol=1e-6)
    assert "Stake" in said(standing, "tripod")
    assert f"{mass * G * 0.25 / 1.4:.0f} N at the top just do" in said(standing, "tripod")
    light = judge_standing(column, tripod, TopLoads())
    assert light.verdict == "check"  # a gentle hand does not turn it over, one who stumbles does
    assert "stumbles" in said(light, "tripod")
    # 44 kg on three feet of 50 mm: 75 kPa.
    assert_allclose(share(light, "bearing"), mass * G / 3 / (math.pi / 4 * 0.05**2) / 72e3, rtol=1e-6)
    # Rocking: three springs 4 G a/(1 - ν) on a circle of 0.5 m.
    spring = 4 * 1800 * 180**2 * 0.025 / 0.65
    assert_allclose(footing_stiffness(tripod).east_west.value, spring * 1.5 * 0.5**2, rtol=1e-9)


def test_a_timber_floor_gets_no_concrete_advice():
    floor = Footing(kind="suspended floor", joist_span=4 * u.m, joist_stiffness=1.1e6 * u.N * u.m**2, **RODS)
    answer = judge_column(TUBE, floor, TopLoads(), latitude=45 * u.deg)
    assert answer.age is None
    assert not any("pouring" in line for line in answer.lines)
    assert answer.verdict == "check"
    assert "every step" in said(answer.standing, "floor")
    tripod = judge_column(TUBE, Footing(kind="tripod"), TopLoads(), latitude=45 * u.deg)
    assert tripod.age is None
    poured = judge_column(TUBE, PLATE, TopLoads(), latitude=45 * u.deg, concrete_temperature=3 * u.deg_C)
    assert poured.verdict == "check"
    assert "freezes" in " ".join(poured.lines)


def test_every_suggestion_made_leaves_no_objection():
    # The long run, 1000 piers, is tests.pier.standing by itself.
    tally, left = follow(4, 17)
    assert left == []
    assert tally["mended"] > 2


def test_shares_are_smooth():
    # A cliff would show as a jump between neighbours: width of the pad, wall, thickness of the plate, height.
    for key, values, name in (("width", np.linspace(0.5, 1.5, 21) * u.m, "tipping"),
                              ("plate_thickness", np.linspace(5, 40, 21) * u.mm, "shaking"),
                              ("anchor_depth", np.linspace(60, 500, 21) * u.mm, "anchor depth")):
        found = [share(judge_standing(TUBE, replace(PLATE, **{key: value}), TopLoads()), name) for value in values]
        steps = np.abs(np.diff(np.log(np.maximum(found, 1e-3))))
        assert steps.max() < 0.5, (key, found)
