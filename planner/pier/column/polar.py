"""What a tilt of the pier does to the polar axis, by rigid rotations.

East, north and up make a right-handed frame. A tilt to the east lowers what looks east. Altitude error: axis too high,
positive. Azimuth error: axis points east of its pole, positive, in either hemisphere.
"""

import math
from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.constants import SIDEREAL_RATE
from planner.tracking.mount_frame import turn_about


@dataclass(frozen=True, kw_only=True)
class PolarShift:
    """Where the polar axis of a well-aligned mount points after the pier has tilted."""

    altitude_error: u.Quantity[u.arcsec]
    azimuth_error: u.Quantity[u.arcsec]  # as an azimuth angle; NaN at the poles of the Earth, where there is none
    separation: u.Quantity[u.arcsec]  # between axis and pole
    drift_rate: u.Quantity[u.arcsec / u.h]  # largest drift of any star


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
