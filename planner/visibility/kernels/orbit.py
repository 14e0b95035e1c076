"""Orbits: where a comet or a minor planet stands, from its osculating elements, the Sun's pull alone counting.

Ellipses, parabolas and hyperbolas by one equation (universal variables, from perihelion). Elements are heliocentric,
of the ecliptic and equinox J2000.0. The planets' pull is left out: elements of an epoch within weeks of the night are
good to arcseconds, those of another year may be degrees off (`STALE_DAYS`).
"""

import math
from dataclasses import dataclass

import erfa
import numpy as np
from astropy import units as u

from planner.checks import Model, plain, quantity
from planner.visibility.earth_rotation import FIRST_MJD, LAST_MJD, MJD_ZERO

GAUSS = 0.01720209895  # the Sun's pull, au^1.5 / day: Gaussian gravitational constant, IAU 1976
OBLIQUITY = np.radians(84381.448 / 3600)  # of the ecliptic J2000.0, IAU 1976, which published elements keep to
LIGHT_DAYS_PER_AU = erfa.AULT / erfa.DAYSEC
STALE_DAYS = 200  # common practice, no source: elements are published for epochs at most so far apart
_ANGLE = {"at_least": -360, "at_most": 360}


@dataclass(frozen=True, kw_only=True)
class Orbit(Model):
    """Osculating elements; times are MJD in TT."""

    perihelion_distance: u.Quantity[u.au] = quantity("AU", more_than=0, at_most=1000, remedy="Give q in au.")
    eccentricity: float = plain("number", at_least=0, at_most=20, remedy="Give e: 1 is a parabola.")
    inclination: u.Quantity[u.deg] = quantity("deg", at_least=0, at_most=180, remedy="Give i, 0 to 180 deg.")
    node: u.Quantity[u.deg] = quantity("deg", **_ANGLE, remedy="Give the ascending node's longitude.")
    argument: u.Quantity[u.deg] = quantity("deg", **_ANGLE, remedy="Give the argument of perihelion.")
    perihelion: float = plain("number", at_least=FIRST_MJD - 1e6, at_most=LAST_MJD + 1e6,
                              remedy="Give the date of perihelion.")
    epoch: float | None = plain("number", default=None, at_least=FIRST_MJD - 1e6, at_most=LAST_MJD + 1e6,
                                remedy="Give the date that the elements are for.")

    def heliocentric(self, mjd_tt: np.ndarray) -> np.ndarray:
        """Return places from the Sun along the axes of the equator J2000.0 [au], (..., 3)."""
        distance, shape = self.perihelion_distance.to_value(u.au), self.eccentricity
        curve = (1 - shape) / distance  # one over the semi-major axis
        swept = GAUSS * (np.asarray(mjd_tt, float) - self.perihelion)
        if curve > 0:  # the nearest perihelion
            turn = 2 * np.pi / curve**1.5
            swept = swept - turn * np.round(swept / turn)
        anomaly = _universal_anomaly(swept, distance, shape)
        second, third = _stumpff(curve * anomaly**2)
        along = distance - anomaly**2 * second
        across = np.sqrt((1 + shape) / distance) * (distance * anomaly - (1 - shape) * anomaly**3 * third)
        towards, ahead = self._axes()
        return along[..., np.newaxis] * towards + across[..., np.newaxis] * ahead

    def _axes(self) -> tuple[np.ndarray, np.ndarray]:
        """Return the directions towards perihelion and 90 deg ahead of it, along the equator's axes."""
        node, inclination, argument = (
            angle.to_value(u.rad) for angle in (self.node, self.inclination, self.argument))
        to_orbit = erfa.rz(argument, erfa.rx(inclination, erfa.rz(node, erfa.rx(OBLIQUITY, np.eye(3)))))
        return to_orbit[0], to_orbit[1]

    def direction(self, mjd_tt: np.ndarray, observer_au: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return astrometric directions (..., 3) in ICRS and distances [au], light time counted.

        `observer_au` (..., 3) is from the Earth's centre, along the axes of GCRS.
        """
        here = erfa.epv00(MJD_ZERO, mjd_tt)[0]["p"] + observer_au
        seen = self.heliocentric(mjd_tt) - here
        for _ in range(3):
            late = np.linalg.norm(seen, axis=-1) * LIGHT_DAYS_PER_AU
            seen = self.heliocentric(mjd_tt - late) - here
        distance = np.linalg.norm(seen, axis=-1)
        return seen / distance[..., np.newaxis], distance


def _universal_anomaly(swept: np.ndarray, distance: float, shape: float) -> np.ndarray:
    """Solve q χ + e χ³ S(αχ²) = k Δt for χ [au^0.5] by Newton's way from beyond: there it falls towards the root."""
    curve = (1 - shape) / distance
    wanted = np.abs(swept)
    found = wanted / distance
    found = np.minimum(found, np.pi / np.sqrt(curve)) if curve > 0 else np.minimum(
        found, np.cbrt(6 * wanted / shape))  # S is at least 1/6
    for _ in range(200):
        second, third = _stumpff(curve * found**2)
        step = (distance * found + shape * found**3 * third - wanted) / (distance + shape * found**2 * second)
        found = found - step
        if np.all(np.abs(step) <= 1e-14 * (1 + found)):
            break
    return np.copysign(found, swept)


def _stumpff(z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return (1 − cos √z)/z and (√z − sin √z)/√z³, with cosh and sinh below 0 and their series about it."""
    near, above = np.abs(z) < 0.5, z > 0
    root = np.sqrt(np.where(near, 1.0, np.abs(z)))
    flat = np.where(above, 0.0, root)
    second = np.where(above, 1 - np.cos(root), np.cosh(flat) - 1) / root**2
    third = np.where(above, root - np.sin(root), np.sinh(flat) - root) / root**3
    return np.where(near, _series(z, 2), second), np.where(near, _series(z, 3), third)


def _series(z: np.ndarray, order: int) -> np.ndarray:
    """Sum (−z)^k / (2k + order)!, order 2 or 3; to 1e-16 for |z| below 0.5."""
    term = np.full_like(z, 1 / math.factorial(order))
    total = np.zeros_like(z)
    for power in range(order + 1, order + 17, 2):
        total = total + term
        term = term * -z / (power * (power + 1))
    return total
