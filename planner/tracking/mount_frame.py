"""Where sky, mount and camera stand to each other, by rigid rotations alone.

Frame: x to hour angle 0 on the equator, y to the east point, z to the north celestial pole, fixed to the ground.
Hour angle counts positive to the west, so a star is (cos d cos h, -cos d sin h, sin d). Matrices of axes hold
boresight, east and north in their columns. Everything here is a plain float array, angles in radians; the
functions with units are in `planner.tracking.drift`, `polar_axis` and `pointing_model`.

A tube with every error of `MountGeometry` looks at

    droop . pole . Rz(-(axis1 + hour_angle_zero)) . Rx(axes_not_square) . Ry(-(axis2 + declination_zero)) . k

with right-handed rotations, k = (cos c, sin c, 0) and c the collimation error. Nothing is small here: the forms hold
at the pole, in both hemispheres, and for errors of degrees.
"""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
from astropy import units as u

from planner.sky.refraction import refraction_constants, refraction_of_tangent

Array = npt.NDArray[np.float64]

# Below this sine of the altitude (2.9 deg) refraction is held, as ERFA does in eraAtioq: the two-constant form ends.
LOWEST_SINE = 0.05
# Step across the field for its linear map: 20 arcsec, where the curvature of the projection is below 1e-8.
FIELD_STEP = 1e-4
# Closer to an axis than this (2e-5 arcsec) the hour angle about it means nothing.
ON_THE_AXIS = 1e-10


@dataclass(frozen=True, kw_only=True)
class MountGeometry:
    """The constant angles of a mount on its pier, in radians."""

    zenith: Array  # (3,)
    pole: Array = field(default_factory=lambda: np.eye(3))  # turns the true pole into the mount's
    hour_angle_zero: float = 0.0
    declination_zero: float = 0.0
    collimation: float = 0.0
    axes_not_square: float = 0.0
    tube_flexure: float = 0.0  # drop of the line of sight at the horizon
    reversed: bool = False  # through the pole: telescope west of the pier


def turn_x(angle: npt.ArrayLike) -> Array:
    """Return the right-handed rotation about x, shape (..., 3, 3)."""
    return _plane_turn(angle, 1, 2)


def turn_y(angle: npt.ArrayLike) -> Array:
    """Return the right-handed rotation about y, shape (..., 3, 3)."""
    return _plane_turn(angle, 2, 0)


def turn_z(angle: npt.ArrayLike) -> Array:
    """Return the right-handed rotation about z, shape (..., 3, 3)."""
    return _plane_turn(angle, 0, 1)


def _plane_turn(angle: npt.ArrayLike, first: int, second: int) -> Array:
    angle = np.asarray(angle, dtype=float)
    matrix = np.zeros((*angle.shape, 3, 3))
    cosine, sine = np.cos(angle), np.sin(angle)
    matrix[..., first, first] = matrix[..., second, second] = cosine
    matrix[..., second, first], matrix[..., first, second] = sine, -sine
    matrix[..., 3 - first - second, 3 - first - second] = 1.0
    return matrix


def turn_about(axis: Array, angle: float) -> Array:
    """Return the right-handed rotation about a unit vector (3,), by Rodrigues' formula."""
    cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    return np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * (cross @ cross)


def zenith_of(latitude: float) -> Array:
    """Return the direction of the zenith (3,)."""
    return np.array([np.cos(latitude), 0.0, np.sin(latitude)])


def sky_axes(hour_angle: npt.ArrayLike, declination: npt.ArrayLike) -> Array:
    """Return star, east and north on the sky as columns (..., 3, 3); they turn with the sky, at its pole too."""
    return turn_z(-np.asarray(hour_angle)) @ turn_y(-np.asarray(declination))


def angles_of(direction: Array) -> tuple[Array, Array]:
    """Return hour angle and declination of directions (..., 3)."""
    x, y, z = np.moveaxis(direction, -1, 0)
    return np.arctan2(-y, x), np.arctan2(z, np.hypot(x, y))


def raised(direction: Array, zenith: Array, angle: Array) -> Array:
    """Return unit directions (..., 3) turned by `angle` (...) towards the zenith."""
    sine = direction @ zenith
    cosine = np.maximum(np.sqrt(np.maximum(1 - sine**2, 0)), 1e-12)
    towards = (zenith - sine[..., None] * direction) / cosine[..., None]
    return np.cos(angle)[..., None] * direction + np.sin(angle)[..., None] * towards


def refracted(direction: Array, zenith: Array, constants: tuple[float, float]) -> Array:
    """Return where the air shows true unit directions (..., 3).

    The true zenith distance is z + R(tan z) of the observed z (`planner.sky.refraction`); the root by Newton steps.
    """
    refa, refb = constants
    if refa == 0 and refb == 0:
        return direction
    sine = direction @ zenith
    true = np.arctan2(np.sqrt(np.maximum(1 - sine**2, 0)), np.maximum(sine, LOWEST_SINE))
    bend = np.zeros_like(true)
    for _ in range(4):
        tangent = np.tan(true - bend)
        lift, slope = refraction_of_tangent(tangent, refa, refb)
        bend = bend + (lift - bend) / (1 + slope * (1 + tangent**2))
    return raised(direction, zenith, bend)


def drooped(direction: Array, geometry: MountGeometry) -> Array:
    """Return the line of sight of a tube (..., 3) after its own weight bends it down by flexure x sin(z)."""
    if geometry.tube_flexure == 0:
        return direction
    sine = direction @ geometry.zenith
    return raised(direction, geometry.zenith, -geometry.tube_flexure * np.sqrt(np.maximum(1 - sine**2, 0)))


def undrooped(direction: Array, geometry: MountGeometry) -> Array:
    """Return the line of sight that bends to `direction` (..., 3): the inverse of `drooped`."""
    if geometry.tube_flexure == 0:
        return direction
    sine = direction @ geometry.zenith
    bent = np.arctan2(np.sqrt(np.maximum(1 - sine**2, 0)), sine)
    drop = np.zeros_like(bent)
    for _ in range(8):  # a contraction by the flexure in radians: exact to rounding for one degree of it
        drop = geometry.tube_flexure * np.sin(bent - drop)
    return raised(direction, geometry.zenith, drop)


def tube_axes(geometry: MountGeometry, axis1: Array, axis2: Array) -> Array:
    """Return boresight and the camera's east and north (..., 3, 3) for axis readings, before droop.

    Through the pole the camera hangs upside down; its east and north are still those of the sky.
    """
    tube = geometry.pole @ turn_z(-(axis1 + geometry.hour_angle_zero)) @ turn_x(geometry.axes_not_square)
    tube = tube @ turn_y(-(axis2 + geometry.declination_zero)) @ turn_z(geometry.collimation)
    return tube * np.array([1.0, -1.0, -1.0]) if geometry.reversed else tube


def axes_towards(geometry: MountGeometry, direction: Array) -> tuple[Array, Array]:
    """Return the axis readings that put `direction` (..., 3), before droop, on the boresight.

    Nearer to the mount's pole than collimation and axis error let the tube reach: the nearest reading.
    """
    x, y, z = np.moveaxis(direction @ geometry.pole, -1, 0)
    sin_c, cos_c = np.sin(geometry.collimation), np.cos(geometry.collimation)
    sin_n, cos_n = np.sin(geometry.axes_not_square), np.cos(geometry.axes_not_square)
    sine = np.clip((z - sin_c * sin_n) / (cos_c * cos_n), -1, 1)
    across = sin_c * cos_n - cos_c * sine * sin_n
    along = np.sqrt(np.maximum(x**2 + y**2 - across**2, 0))
    along = -along if geometry.reversed else along
    axis1 = np.arctan2(across, along) - np.arctan2(y, x)
    return axis1 - geometry.hour_angle_zero, np.arctan2(sine * cos_c, along) - geometry.declination_zero


def sensor_place(axes: Array, direction: Array) -> Array:
    """Return where `direction` (..., 3) falls east and north of the boresight (..., 2), as arcs in radians."""
    local = np.squeeze(np.swapaxes(axes, -1, -2) @ direction[..., None], -1)
    distance = np.hypot(local[..., 1], local[..., 2])
    arc = np.arctan2(distance, local[..., 0])
    scale = np.where(distance > 0, arc / np.where(distance > 0, distance, 1), 1.0)
    return scale[..., None] * local[..., 1:]


def field_directions(hour_angle: Array, declination: float) -> Array:
    """Return the target and points a small step east, west, north and south of it on the sky, (5, n, 3)."""
    axes = sky_axes(hour_angle, declination)
    star, east, north = axes[..., 0], axes[..., 1] * FIELD_STEP, axes[..., 2] * FIELD_STEP
    length = np.sqrt(1 + FIELD_STEP**2)
    return np.stack([star, *((star + step) / length for step in (east, -east, north, -north))])


def field_map(places: Array) -> Array:
    """Return how the field lies on the sensor against its first moment, (n, 2, 2), from places (5, n, 2).

    The map takes (east, north) of a star at the first moment to (east, north) now, by rotation and differential
    refraction.
    """
    slopes = np.stack([places[1] - places[2], places[3] - places[4]], axis=-1) / (2 * FIELD_STEP)
    return slopes @ np.linalg.inv(slopes[0])


def rotation_of(maps: Array) -> Array:
    """Return the rotation in field maps (n, 2, 2): sky against sensor, north through east positive, unwrapped."""
    return np.unwrap(np.arctan2(maps[:, 0, 1] - maps[:, 1, 0], maps[:, 0, 0] + maps[:, 1, 1]))


def hour_angle_about(pole: Array, direction: Array, fallback: Array) -> Array:
    """Return the hour angle (n,) about a tilted pole (3, 3), continuous along the track; `fallback` on the axis."""
    x, y, _ = np.moveaxis(direction @ pole, -1, 0)
    turned = np.unwrap(np.arctan2(-y, x))
    return np.where(np.hypot(x, y) > ON_THE_AXIS, turned, fallback)


def refraction_pair(pressure: u.Quantity, temperature: u.Quantity, wavelength: u.Quantity) -> tuple[float, float]:
    """Return the refraction constants A and B in radians (`planner.sky.refraction_constants`), 0 without air."""
    celsius = temperature.to(u.deg_C, u.temperature())
    constants = refraction_constants(pressure=pressure, temperature=celsius, wavelength=wavelength)
    return float(constants.a.to_value(u.rad)), float(constants.b.to_value(u.rad))
