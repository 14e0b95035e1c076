"""The rigid-rotation engine: refraction, droop, axes and the field, up to the poles."""

import erfa
import numpy as np
import pytest
from numpy.testing import assert_allclose

from planner.sky.refraction import refraction_of_tangent
from planner.tracking.mount_frame import (
    MountGeometry,
    angles_of,
    axes_towards,
    drooped,
    field_directions,
    field_map,
    refracted,
    rotation_of,
    sensor_place,
    sky_axes,
    tube_axes,
    turn_x,
    turn_y,
    turn_z,
    undrooped,
    zenith_of,
)

ARCSEC = np.radians(1 / 3600)
CONSTANTS = (58.0 * ARCSEC, -0.067 * ARCSEC)


def all_over_the_sky(count, seed=11):
    rng = np.random.default_rng(seed)
    vectors = rng.normal(size=(count, 3))
    return vectors / np.linalg.norm(vectors, axis=1)[:, None]


def test_directions_agree_with_erfa():
    # erfa.hd2ae: azimuth and altitude of a hour angle and declination; an independent library.
    h, dec, phi = 0.9, 0.3, -0.6
    azimuth, altitude = erfa.hd2ae(h, dec, phi)
    star = sky_axes(np.array(h), dec)[..., 0]
    zenith, north, east = zenith_of(phi), np.array([-np.sin(phi), 0, np.cos(phi)]), np.array([0, 1.0, 0])
    assert_allclose(star @ zenith, np.sin(altitude), atol=1e-15)
    assert_allclose(np.arctan2(star @ east, star @ north) % (2 * np.pi), azimuth, atol=1e-14)


@pytest.mark.parametrize("altitude_deg", [89.999, 75.0, 45.0, 20.0, 10.0, 5.0])
def test_refraction_solves_its_equation(altitude_deg):
    # z_true = z_seen + R(tan z_seen), straight up the vertical circle.
    phi = 0.8
    zenith, north, east = zenith_of(phi), np.array([-np.sin(phi), 0, np.cos(phi)]), np.array([0, 1.0, 0])
    horizontal = np.cos(1.1) * north + np.sin(1.1) * east
    true = np.radians(altitude_deg)
    seen = refracted(np.sin(true) * zenith + np.cos(true) * horizontal, zenith, CONSTANTS)
    distance = np.arctan2(seen @ horizontal, seen @ zenith)
    back = distance + refraction_of_tangent(np.tan(distance), *CONSTANTS)[0]
    assert_allclose(back, np.pi / 2 - true, atol=1e-14)
    assert_allclose(seen @ np.cross(zenith, horizontal), 0, atol=1e-15)
    assert_allclose(np.linalg.norm(seen), 1, atol=1e-15)


def test_refraction_agrees_with_erfa_in_place():
    # erfa.atioq applies two terms of the series by one Newton step: 0.01 arcsec at this altitude.
    phi, h, dec = 0.7, 1.0, 0.1
    astrom = erfa.apio(0.0, 0.0, 0.0, phi, 0.0, 0.0, 0.0, *CONSTANTS)
    # Diurnal aberration is 0.3 arcsec: taken out by differencing against the same call without air.
    airless = erfa.apio(0.0, 0.0, 0.0, phi, 0.0, 0.0, 0.0, 0.0, 0.0)
    change = np.array(erfa.atioq(-h, dec, astrom))[2:4] - np.array(erfa.atioq(-h, dec, airless))[2:4]
    star = sky_axes(np.array(h), dec)[..., 0]
    seen_h, seen_dec = angles_of(refracted(star, zenith_of(phi), CONSTANTS))
    assert_allclose([seen_h - h, seen_dec - dec], change, atol=1e-2 * ARCSEC)


def test_below_the_horizon_nothing_breaks():
    seen = refracted(all_over_the_sky(500), zenith_of(0.5), CONSTANTS)
    assert np.all(np.isfinite(seen))
    assert_allclose(np.linalg.norm(seen, axis=1), 1, atol=1e-12)


@pytest.mark.parametrize("phi", [0.8, -0.4, np.pi / 2, 0.0])
@pytest.mark.parametrize("reversed_side", [False, True])
def test_axes_and_tube_are_inverse(phi, reversed_side):
    # Errors of a degree and more; directions nearer to the mount's pole than those errors cannot all be reached.
    geometry = MountGeometry(zenith=zenith_of(phi), pole=turn_x(0.03) @ turn_y(-0.05), hour_angle_zero=0.01,
                             declination_zero=-0.02,
                             collimation=0.03, axes_not_square=-0.02, tube_flexure=0.004, reversed=reversed_side)
    sky = all_over_the_sky(400)
    sky = sky[np.abs(sky @ geometry.pole[:, 2]) < np.cos(0.06)]
    axis1, axis2 = axes_towards(geometry, undrooped(sky, geometry))
    back = drooped(tube_axes(geometry, axis1, axis2)[..., 0], geometry)
    assert_allclose(back, sky, atol=1e-14)
    assert np.all(np.cos(axis2 + geometry.declination_zero) * (-1 if reversed_side else 1) >= 0)


def test_nearest_reading_where_the_tube_cannot_reach():
    # Collimation of 1 deg keeps the tube 1 deg from its pole.
    geometry = MountGeometry(zenith=zenith_of(0.8), collimation=np.radians(1))
    pole = np.array([0.0, 0.0, 1.0])
    tube = tube_axes(geometry, *axes_towards(geometry, pole))[:, 0]
    assert_allclose(np.degrees(np.arccos(tube @ pole)), 1, atol=1e-6)


def test_the_camera_keeps_its_east_on_both_sides_of_the_pier():
    h, dec = np.array(0.4), np.array(0.3)
    direct = tube_axes(MountGeometry(zenith=zenith_of(0.8)), h, dec)
    through = tube_axes(MountGeometry(zenith=zenith_of(0.8), reversed=True), h + np.pi, np.pi - dec)
    assert_allclose(direct, sky_axes(h, dec), atol=1e-15)
    assert_allclose(through, direct, atol=1e-15)


def test_rotations_are_right_handed():
    x, y, z = np.eye(3)
    quarter = np.pi / 2
    assert_allclose(turn_z(quarter) @ x, y, atol=1e-15)
    assert_allclose(turn_x(quarter) @ y, z, atol=1e-15)
    assert_allclose(turn_y(quarter) @ z, x, atol=1e-15)


@pytest.mark.parametrize("dec", [0.0, 1.2, np.pi / 2, -np.pi / 2])
def test_a_camera_that_turns_sees_the_field_turn_the_other_way(dec):
    # A camera held still at hour angle 0 while the sky turns by an angle about the pole: at the pole the field turns by
    # that angle; on the equator it only moves. N through E is counter-clockwise on the sky as seen from inside.
    h = np.array([0.0, 0.01])
    places = sensor_place(sky_axes(np.zeros(2), dec), field_directions(h, dec))
    rotation = rotation_of(field_map(places))
    # First order: sin(dec) x angle; the arc projection adds terms of the angle cubed.
    assert_allclose(rotation[1], 0.01 * np.sin(dec), atol=1e-6)


def test_place_is_an_arc_in_the_direction_of_the_offset():
    axes = sky_axes(np.array(0.3), 0.2)
    angle = np.radians(30)
    seen = np.cos(angle) * axes[:, 0] + np.sin(angle) * (0.6 * axes[:, 1] + 0.8 * axes[:, 2])
    assert_allclose(sensor_place(axes, seen), angle * np.array([0.6, 0.8]), atol=1e-15)
    assert_allclose(sensor_place(axes, axes[:, 0]), 0, atol=1e-16)
