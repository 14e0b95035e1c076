"""What to do about a polar axis that is off: which way to turn it, and by how many turns of a screw."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import require_positive
from planner.measure.polar.alignment import PolarAlignment


@dataclass(frozen=True, kw_only=True)
class Adjuster:
    """One adjusting screw of the wedge or base."""

    thread_pitch: u.Quantity  # mm the screw advances per turn
    lever_arm: u.Quantity  # mm from the pivot to where the screw pushes

    def __post_init__(self) -> None:
        require_positive("thread_pitch", self.thread_pitch, u.mm, "Give the advance per turn, e.g. 1.5 mm for M10.")
        require_positive("lever_arm", self.lever_arm, u.mm, "Measure from the pivot to where the screw pushes.")


def adjuster_turns(error: u.Quantity, adjuster: Adjuster) -> u.Quantity:
    """Return the turns of a screw that take away an error of the axis.

    `error` [angle] (any shape): altitude or azimuth error of the axis. `adjuster`: the screw pushes at right angles to
    its lever.
    Returns [dimensionless] (same shape): turns; the sign says the sense of the correction: positive raises the axis,
    or swings it to the east.
    """
    return (-np.tan(error) * adjuster.lever_arm / adjuster.thread_pitch).to(u.one)


def instructions(alignment: PolarAlignment) -> tuple[str, str]:
    """Return what to do with the axis, in words: for altitude and for azimuth."""
    altitude, azimuth = alignment.altitude_error, alignment.azimuth_error
    up = "lower" if altitude > 0 else "raise"
    side = "west" if azimuth > 0 else "east"
    return (f"The axis points {_size(altitude)} too {'high' if altitude > 0 else 'low'}: {up} it.",
            f"The axis points {_size(azimuth)} {'east' if azimuth > 0 else 'west'} of the pole: swing it {side}.")


def _size(angle: u.Quantity) -> str:
    return f"{abs(angle.to_value(u.arcmin)):.1f}′"
