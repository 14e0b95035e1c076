"""How a target sits in a field: how much of it one frame holds, how the camera is turned, how many panels it takes."""

import math
from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import Rule, check
from planner.optics import FieldOfView, share_inside
from planner.visibility.target import Target

FITS = 0.98  # share of the target from which one frame is enough (common practice, no source)
# Of the target, and of what the fullest panel holds: one that holds less than both is not taken (common practice, no
# source).
LEAST_SHARE, LEAST_OF_FULLEST = 0.03, 0.1
POINTS = 200  # across the ellipse and around it
OVERLAP = 0.15  # of a panel's side, shared with its neighbour (common practice, no source)
OVERLAP_RULE = Rule(at_least=0, at_most=0.8, remedy="Give a share of the side, e.g. 0.15.")


@dataclass(frozen=True, kw_only=True)
class Framing:
    """One target in one field, the camera turned as suits it."""

    share: float  # of the target's area inside one frame; 1 for a target of no known size
    camera_angle: u.Quantity[u.deg] | None  # position angle of the field's height; None where it does not matter
    panels: int  # frames that hold the whole target
    grid: tuple[int, int]  # of those frames, along the field's width and height; corners may be left out


def framing(field: FieldOfView, target: Target | None, *, overlap: float = OVERLAP) -> Framing:
    """Return how a target sits in a field.

    The camera is turned so that the longer side of the field lies along the target, or the field's diagonal where that
    holds more of it. Panels lie along the target; those that hold next to nothing of it are not taken.

    Parameters
    ----------
    field : FieldOfView
    target : Target or None
        Taken as an ellipse; a point where it has no known size.
    overlap : float
        Of a panel's side that neighbours share, 0 to 0.8.

    Raises
    ------
    InvalidInputError
        If the overlap is out of range.
    """
    check("overlap", overlap, OVERLAP_RULE)
    if target is None or target.size_major is None:
        return Framing(share=1.0, camera_angle=None, panels=1, grid=(1, 1))
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
        return Framing(share=shares[best], camera_angle=_if_known(best, target), panels=1, grid=(1, 1))
    sides = [side.to_value(u.arcmin) for side in (field.width, field.height)]
    axes = [axis.to_value(u.arcmin) for axis in ((major, minor) if wide else (minor, major))]
    centres = [_centres(side, axis, overlap) for side, axis in zip(sides, axes, strict=True)]
    panels = _worth_taking(centres, sides, axes)
    return Framing(share=shares[best], camera_angle=_if_known(straight.to_value(u.deg) % 180, target), panels=panels,
                   grid=(len(centres[0]), len(centres[1])))


def _if_known(angle_deg: float, target: Target) -> u.Quantity[u.deg] | None:
    return None if target.position_angle is None else angle_deg * u.deg


def _centres(side: float, length: float, overlap: float) -> list[float]:
    """Return the middles of the panels that cover a length, in its unit, from its middle."""
    step = side * (1 - overlap)
    count = 1 if length <= side else math.ceil((length - side) / step - 1e-9) + 1
    return [(place - (count - 1) / 2) * step for place in range(count)]


def _worth_taking(centres: list[list[float]], sides: list[float], axes: list[float]) -> int:
    """Return how many panels hold more of an ellipse about the origin than is worth a frame.

    Shares of the ellipse's area, of points spread evenly over it.
    """
    steps = (np.arange(POINTS) + 0.5) / POINTS
    radius, turn = np.meshgrid(np.sqrt(steps) / 2, 2 * np.pi * steps)
    places = (axes[0] * radius * np.cos(turn), axes[1] * radius * np.sin(turn))
    inside = [[np.abs(place - middle) <= side / 2 for middle in middles]
              for place, middles, side in zip(places, centres, sides, strict=True)]
    shares = np.array([np.mean(along & across) for along in inside[0] for across in inside[1]])
    return max(int(np.count_nonzero(shares >= min(LEAST_SHARE, LEAST_OF_FULLEST * shares.max()))), 1)
