"""What a tilt of the pier does to the polar axis, by rigid rotations; how far a column leans that the Sun warms.

East, north and up make a right-handed frame. A tilt to the east lowers what looks east. Altitude error: axis too high,
positive. Azimuth error: axis points east of its pole, positive, in either hemisphere.
"""

import math
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.constants import SIDEREAL_RATE
from planner.pier.column.beam import Bending
from planner.pier.column.model import DENSITY, Column
from planner.tracking.mount_frame import turn_about

# Thermal expansion: EN 1991-1-5 table C.1, from memory.
EXPANSION = {"steel": 12e-6 / u.K, "aluminium": 24e-6 / u.K, "concrete": 10e-6 / u.K}
# Conductivity and specific heat at 20 °C: EN 1993-1-2 clause 3.4.1, EN 1999-1-2 clause 3.3, EN 1992-1-2 clause 3.3, all
# from memory.
CONDUCTIVITY = {"steel": 53 * u.W / u.m / u.K, "aluminium": 190 * u.W / u.m / u.K, "concrete": 1.6 * u.W / u.m / u.K}
HEAT = {"steel": 440 * u.J / u.kg / u.K, "aluminium": 900 * u.J / u.kg / u.K, "concrete": 900 * u.J / u.kg / u.K}
SURFACE = 10 * u.W / u.m**2 / u.K  # of a wall in still air by radiation and air (common practice, no source)
BESSEL = 1.8412  # first zero of J1': the slowest way in which heat crosses a solid cylinder


@dataclass(frozen=True, kw_only=True)
class PolarShift:
    """Where the polar axis of a well-aligned mount points after the pier has tilted."""

    altitude_error: Annotated[u.Quantity[u.arcsec], "axis too high: positive"]
    azimuth_error: Annotated[u.Quantity[u.arcsec], "as an azimuth angle"]
    separation: Annotated[u.Quantity[u.arcsec], "between axis and pole"]
    drift_rate: Annotated[u.Quantity[u.arcsec / u.h], "largest drift of any star"]


def polar_shift(*, tilt_east: u.Quantity[u.arcsec], tilt_north: u.Quantity[u.arcsec], latitude: u.Quantity[u.deg]
                ) -> PolarShift:
    """Return the polar error that a tilt of the pier makes.

    `tilt_east` and `tilt_north`: by how much the top of the pier leans that way; both together are one tilt about a
    level axis. `latitude`: of the site; the axis is raised to the pole above the horizon, the north pole on the
    equator.
    A star drifts at most by the sidereal rate times the sine of the separation.
    """
    angle = latitude.to_value(u.rad)
    towards = 1.0 if angle >= 0 else -1.0
    pole = np.array([0.0, math.cos(angle) * towards, math.sin(abs(angle))])
    east, north = tilt_east.to_value(u.rad), tilt_north.to_value(u.rad)
    size = math.hypot(east, north)
    hinge = np.array([-north, east, 0.0]) / (size or 1.0)  # level, square to the lean: up turns towards the lean
    axis = turn_about(hinge, size) @ pole
    separation = math.atan2(float(np.linalg.norm(np.cross(pole, axis))), float(pole @ axis)) * u.rad
    level = math.hypot(axis[0], axis[1])
    altitude = (math.atan2(axis[2], level) - abs(angle)) * u.rad
    at_zenith = math.cos(angle) < 1e-12
    azimuth = (np.nan if at_zenith else math.atan2(axis[0], axis[1] * towards)) * u.rad
    return PolarShift(altitude_error=altitude.to(u.arcsec), azimuth_error=azimuth.to(u.arcsec),
                      separation=separation.to(u.arcsec),
                      drift_rate=(SIDEREAL_RATE * math.sin(separation.value)).to(u.arcsec / u.h))


def warm_bending(column: Column, difference: u.Quantity[u.K]) -> Bending:
    r"""Return what a difference between two sides does to the top: a cantilever bent evenly, free of stress.

    .. math:: \theta = \alpha\,\Delta T\,h/D,\qquad \delta = \alpha\,\Delta T\,h^2/(2D)

    Parameters
    ----------
    difference : Quantity [K], scalar
        Between the sunny and the shady side, even along the height and straight across.

    References
    ----------
    .. [TG] S. P. Timoshenko and J. M. Gere, Mechanics of Materials, beams whose top and bottom differ in temperature:
       d²v/dx² = α (T2 - T1)/h; cantilever δ = α L² (T2 - T1)/(2 h) (from memory).
    """
    angle = float((EXPANSION[column.material] * difference * column.height / column.width).to_value(u.one))
    return Bending(deflection=(angle * column.height / 2).to(u.um), angle=(angle * u.rad).to(u.arcsec))


def straight_again(column: Column) -> u.Quantity[u.min]:
    r"""Return how long a difference across the column takes to fall to a tenth, once the Sun has left it.

    It falls as :math:`e^{-kt}`: around a tube's wall :math:`k = a/r^2 + h/(\rho c t)`, across a solid cylinder
    :math:`k = 3.39\,a/r^2` without its surface's help, a the diffusivity; a square counts as a circle of its width.
    """
    stored = DENSITY[column.material] * HEAT[column.material]
    diffusivity, radius = CONDUCTIVITY[column.material] / stored, column.width / 2
    if column.wall is None:
        rate = BESSEL**2 * diffusivity / radius**2
    else:
        rate = diffusivity / (radius - column.wall / 2) ** 2 + SURFACE / (stored * column.wall)
    return (np.log(10) / rate).to(u.min)


def warm_words(column: Column, difference: u.Quantity[u.K]) -> str:
    """Return what the Sun does to the polar axis, and from when on it can be measured."""
    if difference == 0:
        return ""
    minutes = straight_again(column).value
    wait = f"{10 * math.ceil(minutes / 10):.0f} minutes" if minutes < 90 else f"{math.ceil(minutes / 60):.0f} hours"
    lean = warm_bending(column, difference).angle
    return (f"With one side {difference.value:g} K warmer the top leans by {lean.value:.0f}″, and the "
            f"polar axis with it: aligned then, it is {lean.to_value(u.arcmin):.1f}′ off once the column is straight. "
            f"Measure it no sooner than {wait} after the Sun has left the column; shade keeps the lean small.")
