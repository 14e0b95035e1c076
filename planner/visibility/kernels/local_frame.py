"""The frame of one place on the turning Earth: from the intermediate equator of date to north, east and up.

Vectors of celestial directions are in the celestial intermediate frame (CIRS): true pole of date, right ascension
counted from the celestial intermediate origin, so that hour angle = Earth rotation angle + longitude − ra.
"""

from dataclasses import dataclass
from typing import Any

import erfa
import numpy as np
from astropy import units as u

from planner.rig import Site
from planner.visibility.earth_rotation import DAY_S, MJD_ZERO, pole_xy, ut1_minus_tt_s

# IAU 2000 resolution B1.8, Earth rotation angle: turns at J2000.0 UT1, and excess turns per day of UT1.
ERA_J2000 = 0.7790572732640
ERA_EXCESS = 0.00273781191135448
TURNS_PER_DAY = 1 + ERA_EXCESS
RADIANS_PER_DAY = 2 * np.pi * TURNS_PER_DAY
STELLAR_DAY = 1 / TURNS_PER_DAY  # in days, the stars' return to the same hour angle
MJD_J2000 = 51544.5


def rotation_angle(mjd_ut1: float | np.ndarray) -> Any:
    """Compute the Earth rotation angle in radians, not reduced to one turn by more than the whole days."""
    return 2 * np.pi * (np.mod(mjd_ut1, 1.0) + 0.5 + ERA_J2000 + ERA_EXCESS * (mjd_ut1 - MJD_J2000))


@dataclass(frozen=True)
class LocalFrame:
    """North, east and up at a site, for a stretch of time."""

    # (3, 3), north, east and up in the frame that turns with the Earth about the pole of date (polar motion included)
    rows: np.ndarray
    observer: np.ndarray  # (3,), the site from the Earth's centre, along north, east and up [km]
    latitude: float  # of the zenith, about the pole of date [rad]
    longitude: float
    nodes: np.ndarray  # (k,), MJD in TT, and UT1−TT [d] there; interpolated between
    ut1_minus_tt: np.ndarray

    def angle(self, mjd_tt: float | np.ndarray) -> Any:
        """Return the Earth rotation angle in radians, modulo nothing."""
        return rotation_angle(mjd_tt + np.interp(mjd_tt, self.nodes, self.ut1_minus_tt))

    def local(self, vectors: np.ndarray, mjd_tt: np.ndarray) -> np.ndarray:
        """Turn directions (..., 3) at their times (...) to north, east and up; geocentric still."""
        angle = self.angle(mjd_tt)
        cosine, sine = np.cos(angle), np.sin(angle)
        x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
        turned = np.empty(vectors.shape)
        turned[..., 0] = cosine * x + sine * y
        turned[..., 1] = cosine * y - sine * x
        turned[..., 2] = z
        return turned @ self.rows.T

    def axis(self, row: int, mjd_tt: np.ndarray) -> np.ndarray:
        """Return north (0), east (1) or up (2) at the times (t,) as directions on the sky, (t, 3)."""
        angle = self.angle(mjd_tt)
        cosine, sine = np.cos(angle), np.sin(angle)
        x, y, z = self.rows[row]
        return np.stack([cosine * x - sine * y, sine * x + cosine * y, np.full_like(cosine, z)], axis=-1)


def local_frame(site: Site, start: float, end: float) -> LocalFrame:
    """Build the frame of a site for MJD `start` to `end` in TT; the pole is taken in the middle."""
    longitude, latitude = site.longitude.to_value(u.rad), site.latitude.to_value(u.rad)
    sine, cosine = np.sin(latitude), np.cos(latitude)
    east = np.array([-np.sin(longitude), np.cos(longitude), 0.0])
    out = np.array([np.cos(longitude), np.sin(longitude), 0.0])
    pole = np.array([0.0, 0.0, 1.0])
    fixed = np.stack([cosine * pole - sine * out, east, sine * pole + cosine * out])
    middle = (start + end) / 2
    rows = fixed @ erfa.pom00(*pole_xy(middle), erfa.sp00(MJD_ZERO, middle))
    position = erfa.gd2gc(1, longitude, latitude, site.height.to_value(u.m)) / 1000
    nodes = np.arange(np.floor(start) - 1, np.ceil(end) + 2)
    return LocalFrame(rows=rows, observer=fixed @ position, latitude=float(np.arcsin(rows[2, 2])),
                 longitude=float(np.arctan2(rows[2, 1], rows[2, 0])), nodes=nodes,
                 ut1_minus_tt=ut1_minus_tt_s(nodes) / DAY_S)
