"""Camera turned, bias for the gear, room at the flip: each against statics and geometry of the tests' own."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from scipy.spatial.transform import Rotation

from planner.errors import InvalidInputError
from planner.pier import Column, Footing, Rotator, TubePart, plan_balance
from planner.pier.balance.bar import biased
from planner.pier.balance.clearance import clearances
from planner.pier.balance.turning import turning
from tests.pier.piers import assembly

GRAVITY = 9.80665


def with_camera(**camera):
    """A balanced head, its camera off the optical axis that lies 150 mm above the saddle."""
    it = assembly(parts=((8, 0, 150),), weights=((9, 350),), bar=(0, 100, 600), rotator=Rotator(height=150 * u.mm))
    part = TubePart(name="camera", mass=1 * u.kg, turns=True, **{"along": 0 * u.mm, "height": 150 * u.mm, **camera})
    return replace(it, parts=(*it.parts, part))


@pytest.mark.parametrize("direction", ["along", "across", "height"])
def test_torques_of_a_turned_camera_are_those_where_a_rotation_puts_it(direction):
    # Along, across and height are a right-handed set; the camera turns right-handed about its direction.
    axis = {"along": [1, 0, 0], "across": [0, 1, 0], "height": [0, 0, 1]}[direction]
    it = replace(with_camera(along=-40 * u.mm, across=70 * u.mm),
                 rotator=Rotator(direction=direction, along=-300 * u.mm, across=10 * u.mm, height=120 * u.mm))
    found = turning(it)
    point = np.array([-300, 10, 120.0])
    for angle in (-170, -45, 0, 50, 90, 180):
        place = Rotation.from_rotvec(np.radians(angle) * np.array(axis)).apply(np.array([-40, 70, 150]) - point) + point
        along, across, around = *place[:2], 8 * 350 + (200 + place[2]) - 9 * 350
        index = list(found.angle.value).index(angle)
        assert found.declination_torque[index].value == pytest.approx(GRAVITY / 1000 * np.hypot(along, across))
        assert found.right_ascension_torque[index].value == pytest.approx(
            GRAVITY / 1000 * np.linalg.norm([along, across, around]))


def test_the_angles_that_friction_holds():
    # 1 kg on a circle of 30 mm about the axis, 18 kg held to 1 mm: it starts straight out, where the weights take it.
    it = with_camera(height=180 * u.mm)
    it = replace(it, counterweights=(replace(it.counterweights[0], position=(9 * 350 + 30) / 9 * u.mm),))
    found = turning(it)
    angle = np.radians(found.angle.value)
    # Out by 30 (cos a - 1), across by -30 sin a: together 60 |sin(a/2)| kg mm in any direction of the tube.
    np.testing.assert_allclose(found.right_ascension_torque.value, 60 * np.abs(np.sin(angle / 2)) * GRAVITY / 1000,
                               atol=1e-9)
    assert found.held == tuple(60 * np.abs(np.sin(angle / 2)) <= 18)
    assert "turned by −30° to +30° both axes are held" in found.text  # 2 asin(18 / 60) is 34.9 deg
    assert turning(assembly()) is None


def test_the_axis_of_the_camera_slides_with_the_tube():
    it = replace(with_camera(along=300 * u.mm), rotator=Rotator(direction="height", along=300 * u.mm, height=0 * u.mm))
    plan = plan_balance(it)  # 1 kg 300 mm forward: 33 mm back
    assert plan.moves[0].shift.value == -33
    assert plan.moved.rotator.along.value == 267
    assert all(plan.turning.held)  # the camera sits on its axis, wherever the tube slides to


def test_a_camera_on_its_axis_turns_as_one_likes():
    assert "as you like" in turning(with_camera()).text


def test_what_turns_needs_an_axis():
    with pytest.raises(InvalidInputError, match="must be given where a part turns"):
        replace(with_camera(), rotator=None)


@pytest.mark.parametrize("telescope_east", [True, False])
def test_the_east_side_is_heavy_on_both_sides_of_the_pier(telescope_east):
    it = assembly(parts=((8, 0, 150),), weights=((8, 350),), bar=(0, 100, 600), bias=0.5 * u.N * u.m)
    there = biased(it, latitude=40 * u.deg, telescope_east=telescope_east)
    # Bar level: what pulls down in the east against the west, about an axis that slants by the latitude.
    tube = 8 * 350 * (1 if telescope_east else -1)
    weights = there.counterweights[0].mass.value * there.counterweights[0].position.value * (
        -1 if telescope_east else 1)
    torque = (tube + weights) / 1000 * GRAVITY * np.cos(np.radians(40))
    assert torque == pytest.approx(0.5, rel=0.1)  # the weight is set to a millimetre: 8 kg mm of 67
    text = " ".join(plan_balance(it, latitude=40 * u.deg).notes)
    assert "telescope east of the pier: weight 0 8 mm in; telescope west of it: weight 0 8 mm out" in text
    # Whoever has done so is not told to undo it.
    again = plan_balance(there, latitude=40 * u.deg)
    assert (again.verdict, again.moves) == ("good", ())


def test_a_tube_with_its_back_end_heavy():
    it = assembly(parts=((8, 0, 150),), weights=((8, 350),), bar=(0, 100, 600), declination_bias=0.5 * u.N * u.m)
    plan = plan_balance(it)
    assert "slide the tube 6 mm back" in plan.notes[0]  # 0.5 N m are 51 kg mm: 6.4 mm of 8 kg
    back = replace(it, parts=(replace(it.parts[0], along=-6.4 * u.mm),))
    assert plan_balance(back).moves == ()
    assert "saddle has no room" in plan_balance(replace(it, saddle_travel=5 * u.mm)).notes[0]


def test_no_bias_without_room_and_one_that_friction_eats():
    stuck = assembly(parts=((8, 0, 150),), weights=((8, 350),), bar=(0, 345, 355), bias=0.5 * u.N * u.m)
    assert "no room" in " ".join(plan_balance(stuck).notes)
    weak = assembly(parts=((8, 0, 150),), weights=((8, 350),), bar=(0, 100, 600), bias=0.1 * u.N * u.m)
    assert "friction holds 0.16 N m by itself" in " ".join(plan_balance(weak).notes)


def tubes(length=1000, width=200, height=100, along=0, **more):
    """A tube as a cylinder, and what it rides on; the axes cross 250 mm above the column."""
    part = TubePart(name="tube", mass=8 * u.kg, along=along * u.mm, height=height * u.mm, length=length * u.mm,
                    width=width * u.mm)
    return replace(assembly(axis_height=250 * u.mm, **more), parts=(part,))


COLUMN = Column(height=1 * u.m, width=200 * u.mm, wall=5 * u.mm)


@pytest.mark.parametrize("latitude", [0, 90])
def test_a_long_tube_passes_beside_the_column_by_what_lies_between(latitude):
    # Polar axis level or upright: the tube swings in an upright plane 300 mm off; 300 - 100 - 100 mm are left.
    for one in clearances(tubes(), COLUMN, Footing(), latitude=latitude * u.deg):
        assert one.at_meridian.value == pytest.approx(100, abs=3)  # points around the tube, 22.5 deg apart


def test_a_tube_too_close_hits_and_the_verdict_is_red():
    close = tubes(height=-10, along=-300)
    found = clearances(close, COLUMN, Footing(), latitude=45 * u.deg)
    assert [one.at_meridian.value for one in found] == [0, 0]
    plan = plan_balance(close, latitude=45 * u.deg, column=COLUMN)
    assert plan.verdict == "unsafe"
    assert any(one.part == "clearance" for one in plan.objections)
    assert "Give the axis height" in " ".join(plan_balance(assembly(), column=COLUMN).notes)


def room_by_rotations(it, column, hour_deg, declination_deg, latitude_deg, side, draw):
    """Least distance of random points of the tube from the column: the mount turned about its axes, from its rest."""
    part = it.parts[0]
    count = 8000
    angle, along = draw.uniform(0, 2 * np.pi, count), draw.uniform(-0.5, 0.5, count) * part.length.value
    radius = part.width.value / 2
    # At rest the tube looks at the pole, telescope above the axis: x east, y north, z up, polar axis along y.
    rest = np.stack([radius * np.cos(angle), part.along.value + along,
                     it.saddle_distance.value + part.height.value + radius * np.sin(angle)], axis=1)
    # Tube down from the pole by the polar distance about the declination axis (z), then the head about y.
    turn = Rotation.from_euler("z", side * (90 - declination_deg), degrees=True)
    turn = Rotation.from_euler("y", side * 90 - hour_deg, degrees=True) * turn
    points = (Rotation.from_euler("x", latitude_deg, degrees=True) * turn).apply(rest)
    points[:, 1] += it.axis_offset.value
    beside = np.maximum(0, np.hypot(points[:, 0], points[:, 1]) - column.width.value / 2)
    pointing = (Rotation.from_euler("x", latitude_deg, degrees=True) * turn).apply([0, 1, 0])
    return np.hypot(beside, np.maximum(0, points[:, 2] + it.axis_height.value)).min(), pointing[2]


@pytest.mark.parametrize(("latitude", "side"), [(35, "east"), (47, "west"), (60, "east")])
def test_room_at_the_flip_against_rotations_and_random_points(latitude, side):
    it = replace(tubes(length=900, along=-60, width=230), axis_offset=40 * u.mm)
    found = next(one for one in clearances(it, COLUMN, Footing(), latitude=latitude * u.deg) if one.pier_side == side)
    draw, sign = np.random.default_rng(1), 1 if side == "east" else -1
    rooms = [room for room, up in (room_by_rotations(it, COLUMN, 0, dec, latitude, sign, draw)
                                   for dec in range(-90, 91, 5)) if up > np.sin(np.radians(10))]
    assert found.at_meridian.value == pytest.approx(min(rooms), abs=12)  # told to 10 mm
    hits = [past for past in range(0, 46, 3) for dec in range(-90, 91, 10)
            for room, up in [room_by_rotations(it, COLUMN, -sign * past, dec, latitude, sign, draw)]
            if room == 0 and up > np.sin(np.radians(10))]
    assert found.past_meridian.value == pytest.approx(min(hits), abs=3.5)


def test_in_the_south_the_danger_lies_at_the_mirrored_declination():
    it = replace(tubes(length=900, along=-60, width=230), axis_offset=40 * u.mm)
    draw = np.random.default_rng(2)
    for found, sign in zip(clearances(it, COLUMN, Footing(), latitude=-47 * u.deg), (1, -1), strict=True):
        # A mirror swaps south for north: latitude and declination change their sign, east stays east.
        room, _ = room_by_rotations(it, COLUMN, 0, -found.declination.value, 47, sign, draw)
        assert room == pytest.approx(found.at_meridian.value, abs=12)
        hit, _ = room_by_rotations(it, COLUMN, -sign * found.past_meridian.value, -found.touching_declination.value, 47,
                                   sign, draw)
        assert hit == pytest.approx(0, abs=12)


def test_legs_of_a_tripod_are_in_the_way_too():
    it = tubes(height=150, along=-200)
    free = clearances(it, COLUMN, Footing(), latitude=45 * u.deg)[0]
    legs = clearances(it, COLUMN, Footing(kind="tripod", stance=1.6 * u.m), latitude=45 * u.deg)[0]
    assert legs.past_meridian is not None
    assert legs.at_meridian <= free.at_meridian
    plan = plan_balance(it, column=COLUMN, footing=Footing(kind="tripod"))
    assert "Legs are taken as 50 mm thick" in " ".join(plan.notes)
    assert free.past_meridian is None or legs.past_meridian < free.past_meridian


@pytest.mark.parametrize("it", [
    assembly(parts=((2000, 0, 3000),), weights=((1, 300),)), assembly(bar=(1, 0, 400), weights=((2000, 0), (500, 400))),
    assembly(parts=((2000, 10000, 150), (0.001, -9000, 0)), saddle_travel=0 * u.mm),
])
def test_heads_beyond_all_measure_get_an_answer(it):
    plan = plan_balance(it)
    assert plan.after.held or plan.cannot
    assert plan.suggestions
