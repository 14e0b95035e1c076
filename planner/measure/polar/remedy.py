"""What to do about a polar axis that is off: which way to turn it, and by how many turns of a screw."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.checks import require_positive
from planner.measure.error_text import with_error
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


@dataclass(frozen=True, kw_only=True)
class ScrewTurns:
    """By how much to turn the screws; None for a screw that is not known."""

    altitude_turns: Annotated[float | None, "turns of the altitude screw; positive raises the axis"]
    azimuth_turns: Annotated[float | None, "turns of the azimuth screw; positive swings the axis east"]


def screw_turns(found: PolarAlignment, screws: Mapping[str, Adjuster | None]) -> ScrewTurns:
    """Return the turns of the screws named altitude and azimuth that take the error away."""
    altitude, azimuth = (None if screw is None else float(adjuster_turns(error, screw)) for error, screw in (
        (found.altitude_error, screws["altitude"]), (found.azimuth_error, screws["azimuth"])))
    return ScrewTurns(altitude_turns=altitude, azimuth_turns=azimuth)


def instructions(up: u.Quantity, up_error: u.Quantity, east: u.Quantity, east_error: u.Quantity) -> tuple[str, str]:
    """Return where the axis points and which way to turn it, in words: in altitude and in azimuth, each with its error.

    An angle [angle, scalar] that its error covers asks for nothing.
    """
    return (_instruction(up, up_error, ("too high: lower it", "too low: raise it"), "in altitude"),
            _instruction(east, east_error, ("east of the pole: swing it west", "west of the pole: swing it east"),
                         "in azimuth"))


def _instruction(angle: u.Quantity, error: u.Quantity, words: tuple[str, str], name: str) -> str:
    size, spread = angle.to_value(u.arcmin), error.to_value(u.arcmin)
    if abs(size) < spread:
        return f"right {name}, {with_error(size, spread, '′', sign='+')}: leave it"
    return f"{with_error(abs(size), spread, '′')} {words[0] if size > 0 else words[1]}"
