"""Field of view, and how much of a target fits into it."""

import math
from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import Rule, check, require_not_negative, require_positive

_ANGLE = Rule(unit=u.deg, kind="quantity", remedy="Count it from north through east.")


@dataclass(frozen=True)
class FieldOfView:
    """The sky that a sensor sees."""

    width: u.Quantity[u.deg]
    height: u.Quantity[u.deg]
    diagonal: u.Quantity[u.deg]


def field_of_view(
    pixel_pitch: u.Quantity[u.um], columns: int, rows: int, focal_length: u.Quantity[u.mm],
) -> FieldOfView:
    r"""Return the field of a sensor behind distortion-free optics: :math:`2\arctan\frac{w}{2f}` for each length.

    Parameters
    ----------
    columns, rows : int
        Pixels along the width and along the height.
    focal_length : Quantity [mm], scalar
        Effective focal length, reducer included.

    Raises
    ------
    InvalidInputError
        If a length is not positive or a count is not a whole number from 1.
    """
    pitch = require_positive("pixel_pitch", pixel_pitch, u.mm, "Give the side of one pixel.").value
    length = require_positive("focal_length", focal_length, u.mm, "Give the effective focal length.").value
    whole = Rule(kind="whole", at_least=1, remedy="Count the pixels.")
    width = check("columns", columns, whole) * pitch
    height = check("rows", rows, whole) * pitch
    angles = [math.degrees(2 * math.atan(side / (2 * length))) * u.deg
              for side in (width, height, math.hypot(width, height))]
    return FieldOfView(*angles)


def share_inside(
    width: u.Quantity[u.deg], height: u.Quantity[u.deg], size_major: u.Quantity[u.arcmin],
    size_minor: u.Quantity[u.arcmin], *, position_angle: u.Quantity[u.deg] = 0 * u.deg,
    camera_angle: u.Quantity[u.deg] = 0 * u.deg,
) -> float:
    """Return the share of an elliptical target's area inside a centred rectangular field.

    Exact on a plane: the ellipse is squeezed to a disc, the rectangle with it, and the overlap of a disc and a polygon
    is a sum of triangles and sectors.

    `width` and `height`: sides of the field. `size_major` and `size_minor`: full axes of the ellipse.
    `position_angle`: of the long axis, north through east. `camera_angle`: position angle of the field's height: 0
    with north up.
    1 if all of it is inside; 1 for a target of no size.
    Raises InvalidInputError if a side is not positive, an axis is negative or a unit is wrong.
    """
    sides = [require_positive(name, value, u.arcmin, "Give the side of the field.").value
             for name, value in (("width", width), ("height", height))]
    axes = [require_not_negative(name, value, u.arcmin, "Give the full axis.").value
            for name, value in (("size_major", size_major), ("size_minor", size_minor))]
    turn = (check("position_angle", position_angle, _ANGLE) - check("camera_angle", camera_angle, _ANGLE))
    along, across = (max(axis / 2, 1e-6 * max(sides)) for axis in axes)
    half = np.array(sides) / 2
    corners = half * np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)])  # (right, up); east is left, up is the height
    sine, cosine = math.sin(turn.to_value(u.rad)), math.cos(turn.to_value(u.rad))
    # Coordinates along and across the ellipse's long axis, in units of its half axes.
    squeezed = np.column_stack([(-corners[:, 0] * sine + corners[:, 1] * cosine) / along,
                                (corners[:, 0] * cosine + corners[:, 1] * sine) / across])
    area = sum(_disc_triangle(a, b) for a, b in zip(squeezed, np.roll(squeezed, -1, axis=0), strict=True))
    return min(abs(area) / math.pi, 1.0)


def _disc_triangle(a: np.ndarray, b: np.ndarray) -> float:
    """Compute the signed area that the unit disc shares with the triangle of its centre and an edge from a to b."""
    edge = b - a
    length2, along = float(edge @ edge), float(a @ edge)
    under_root = length2 - float(a[0] * edge[1] - a[1] * edge[0]) ** 2
    if under_root <= 0:
        return _sector(a, b)
    root = math.sqrt(under_root)
    enter, leave = max((-along - root) / length2, 0.0), min((-along + root) / length2, 1.0)
    if enter >= leave:
        return _sector(a, b)
    first, last = a + enter * edge, a + leave * edge
    return _sector(a, first) + (first[0] * last[1] - first[1] * last[0]) / 2 + _sector(last, b)


def _sector(a: np.ndarray, b: np.ndarray) -> float:
    """Compute the signed area of the unit disc's sector between two directions."""
    return math.atan2(a[0] * b[1] - a[1] * b[0], float(a @ b)) / 2
