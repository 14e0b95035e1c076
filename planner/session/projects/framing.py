"""How a target sits in a field: how much of it one frame holds, how the camera is turned, how many panels it takes."""

import math
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.checks import Rule, check
from planner.fields import told
from planner.optics import FieldOfView, share_inside
from planner.visibility.target import Target

FITS = 0.98  # share of the target from which one frame is enough (common practice, no source)
# Of the target, and of what the fullest panel holds: one that holds less than both is not taken (common practice, no
# source).
LEAST_SHARE, LEAST_OF_FULLEST = 0.03, 0.1
STRIPS = 50  # of a panel, over which the target in it is added up
Pair = tuple[float, float]
ONE_FRAME = (((0.0, 0.0),),)
OVERLAP = 0.15  # of a panel's side, shared with its neighbour (common practice, no source)
OVERLAP_RULE = Rule(at_least=0, at_most=0.8, remedy="Give a share of the side, e.g. 0.15.")


@dataclass(frozen=True, kw_only=True)
class Framing:
    """One target in one field, the camera turned as suits it."""

    share: float  # of the target's area inside one frame; 1 for a target of no known size
    camera_angle: Annotated[u.Quantity[u.deg] | None, "position angle of the field's height; null where it does not "
                            "matter, or the target's is not known"]
    rows: tuple[tuple[Pair, ...], ...]  # middles of the frames, arcmin along the field's width and height, row by row
    panel_grid = told(tuple[int, ...], "panels in the longest row, and rows",
                      lambda framing: (max(map(len, framing.rows)), len(framing.rows)))
    centres = told(tuple[Pair, ...], "middles of the panels along the field's width and height, row by row",
                   lambda framing: [middle for row in framing.rows for middle in row], key="panel_centres_arcmin")

    @property
    def panels(self) -> Annotated[int, "frames that hold the whole target"]:
        """Frames that hold the whole target."""
        return sum(map(len, self.rows))


def framing(field: FieldOfView, target: Target | None, *, overlap: float = OVERLAP) -> Framing:
    """Return how a target sits in a field.

    The camera is turned so that the longer side of the field lies along the target, or the field's diagonal where that
    holds more of it. Panels of a mosaic lie in rows that slide, turned so that fewest are needed; those that hold
    next to nothing of the target are not taken.

    `target`: taken as an ellipse; a point where it has no known size. `overlap`: of a panel's side that neighbours
    share, 0 to 0.8.
    Raises InvalidInputError if the overlap is out of range.
    """
    check("overlap", overlap, OVERLAP_RULE)
    if target is None or target.size_major is None:
        return Framing(share=1.0, camera_angle=None, rows=ONE_FRAME)
    major = target.size_major
    minor = major if target.size_minor is None else target.size_minor
    along = 0 * u.deg if target.position_angle is None else target.position_angle
    wide = field.width >= field.height
    straight = along - 90 * u.deg if wide else along
    tilt = math.degrees(math.atan2(*sorted((field.height.to_value(u.deg), field.width.to_value(u.deg))))) * u.deg
    shares = {angle.to_value(u.deg) % 180: share_inside(field.width, field.height, major, minor, position_angle=along,
                                                        camera_angle=angle)
              for angle in (straight, straight + tilt)}
    best = max(shares, key=lambda angle: round(shares[angle], 9))  # the straight one where both hold as much
    if shares[best] >= FITS:
        return Framing(share=shares[best], camera_angle=_if_known(best, target), rows=ONE_FRAME)
    sides = (field.width.to_value(u.arcmin), field.height.to_value(u.arcmin))
    axes = (major.to_value(u.arcmin), minor.to_value(u.arcmin))
    turned = [(_mosaic(sides, axes, overlap), along - 90 * u.deg), (_mosaic(sides, axes[::-1], overlap), along)]
    rows, angle = min(turned if wide else turned[::-1], key=lambda one: sum(map(len, one[0])))
    return Framing(share=shares[best], camera_angle=_if_known(angle.to_value(u.deg) % 180, target), rows=rows)


def _if_known(angle_deg: float, target: Target) -> u.Quantity[u.deg] | None:
    return None if target.position_angle is None else angle_deg * u.deg


def _centres(side: float, length: float, overlap: float) -> list[float]:
    """Return the middles of the panels that cover a length, in its unit, from its middle."""
    step = side * (1 - overlap)
    count = 1 if length <= side else math.ceil((length - side) / step - 1e-9) + 1
    return [(place - (count - 1) / 2) * step for place in range(count)]


def _mosaic(sides: Pair, axes: Pair, overlap: float) -> tuple[tuple[Pair, ...], ...]:
    """Return the middles of the panels of an ellipse about the origin, by rows along the side that takes fewer.

    Each row slides: it is as long as the ellipse is there. Sides, axes and middles along the field's width and height.
    """
    return min((_rows(sides, axes, overlap, lengthwise) for lengthwise in (0, 1)), key=lambda rows: sum(map(len, rows)))


def _rows(sides: Pair, axes: Pair, overlap: float, lengthwise: int) -> tuple[tuple[Pair, ...], ...]:
    """Return the panels worth taking, in rows along the field's width (0) or height (1)."""
    across = 1 - lengthwise
    rows = []
    for middle in _centres(sides[across], axes[across], overlap):
        nearest = min(max(abs(middle) - sides[across] / 2, 0.0) / (axes[across] / 2), 1.0)
        chord = axes[lengthwise] * math.sqrt(1 - nearest**2)
        places = _centres(sides[lengthwise], chord, overlap)
        rows.append([(place, middle, _share(place, middle, lengthwise, sides, axes)) for place in places])
    fullest = max(share for row in rows for *_, share in row)
    worth = min(LEAST_SHARE, LEAST_OF_FULLEST * fullest)
    taken = [tuple((middle, place) if lengthwise else (place, middle) for place, middle, share in row if share >= worth)
             for row in rows]
    return tuple(row for row in taken if row)


def _share(place: float, middle: float, lengthwise: int, sides: Pair, axes: Pair) -> float:
    """Return the share of the ellipse's area in the panel at a place in the row at a middle."""
    across = 1 - lengthwise
    offsets = (np.arange(STRIPS) + 0.5) / STRIPS - 0.5
    inside = np.maximum(1 - ((middle + offsets * sides[across]) / (axes[across] / 2)) ** 2, 0.0)
    chord, half = axes[lengthwise] / 2 * np.sqrt(inside), sides[lengthwise] / 2
    lengths = np.maximum(np.minimum(place + half, chord) - np.maximum(place - half, -chord), 0.0)
    return float(lengths.mean() * sides[across] / (np.pi / 4 * axes[0] * axes[1]))
