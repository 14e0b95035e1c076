"""Sun, Moon and apparent places of targets, from pyerfa, as float kernels for the rest of the room.

Directions are unit vectors or kilometres in the celestial intermediate frame of date (see `frame`). The Sun comes
from the IAU's Earth ephemeris (erfa.epv00), the Moon from Meeus's short series (erfa.moon98, within 14 arcsec of
DE421), precession and nutation from IAU 2000B (1 mas). Left out: a target's parallax and proper motion, and the
aberration by the observer's own turn with the Earth (0.3 arcsec).
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import erfa
import numpy as np

from planner.visibility.earth_rotation import MJD_ZERO
from planner.visibility.kernels.local_frame import LocalFrame

AU_KM = erfa.DAU / 1000
LIGHT_KM_PER_DAY = erfa.CMPS * erfa.DAYSEC / 1000
MOON_RADIUS_KM = 1737.4  # IAU Working Group on Cartographic Coordinates 2015, doi:10.1007/s10569-017-9805-5
BLOCK = 20_000  # entries of a grid at once: they stay in the cache
SUN_STEP, MOON_STEP = 2.0, 0.25  # days between the nodes of a track: cubics err by 10 mas (Sun) and 60 mas (Moon)


@dataclass(frozen=True)
class Track:
    """Apparent geocentric positions of a body at even steps of time, interpolated by cubics."""

    start: float  # MJD in TT of the first stretch, and its length in days
    step: float
    # (k, 4, 3), positions in the celestial intermediate frame [km] over each stretch: powers 0 to 3 of its share gone
    # by
    cubics: np.ndarray

    def at(self, mjd_tt: np.ndarray) -> np.ndarray:
        """Return positions [km] at MJD in TT, shape (..., 3)."""
        place = (np.asarray(mjd_tt) - self.start) / self.step
        stretch = np.minimum(np.maximum(np.floor(place).astype(int), 0), len(self.cubics) - 1)
        share = (place - stretch)[..., np.newaxis]
        cubic = self.cubics[stretch]
        return ((cubic[..., 3, :] * share + cubic[..., 2, :]) * share + cubic[..., 1, :]) * share + cubic[..., 0, :]

    def local(self, frame: LocalFrame, mjd_tt: np.ndarray) -> np.ndarray:
        """Return positions from the observer along north, east and up [km], shape (..., 3)."""
        return frame.local(self.at(mjd_tt), np.asarray(mjd_tt)) - frame.observer

    def altitude(self, frame: LocalFrame, mjd_tt: np.ndarray) -> np.ndarray:
        """Return true (airless) altitudes of the centre from the observer [rad], shape (...)."""
        return altitude_of(self.local(frame, mjd_tt))


def altitude_of(local: np.ndarray) -> np.ndarray:
    """Compute the altitude [rad] of vectors along north, east and up."""
    return np.arctan2(local[..., 2], np.hypot(local[..., 0], local[..., 1]))


def azimuth_of(local: np.ndarray) -> np.ndarray:
    """Compute the azimuth [rad], 0 to 2π from north through east."""
    return np.mod(np.arctan2(local[..., 1], local[..., 0]), 2 * np.pi)


def to_intermediate(mjd_tt: float | np.ndarray) -> Any:
    """Return the matrices (..., 3, 3) from GCRS to the intermediate frame of date."""
    return erfa.c2i00b(MJD_ZERO, mjd_tt)


def sun_gcrs(mjd_tt: np.ndarray) -> np.ndarray:
    """Compute the apparent Sun (aberration included) from the Earth's centre in GCRS [km], (..., 3)."""
    heliocentric, barycentric = erfa.epv00(MJD_ZERO, mjd_tt)
    sun = -heliocentric["p"]
    distance = np.linalg.norm(sun, axis=-1, keepdims=True)
    # First order in v/c, 1e-4: the second order is 2 mas.
    return (sun + distance * barycentric["v"] * (AU_KM / LIGHT_KM_PER_DAY)) * AU_KM


def _moon_gcrs(mjd_tt: np.ndarray) -> np.ndarray:
    """Compute the apparent Moon from the Earth's centre in GCRS [km], (..., 3).

    Light time and the Earth's aberration cancel but for the Moon's own motion about the Earth.
    """
    light_days = 384400 / LIGHT_KM_PER_DAY
    return erfa.moon98(MJD_ZERO, mjd_tt - light_days)["p"] * AU_KM


def _track(body: Callable, step: float, start: float, end: float) -> Track:
    """Build the track of a body from MJD `start` to `end` in TT."""
    first, last = np.floor(start / step) - 1, max(np.ceil(end / step), np.floor(start / step) + 1) + 1
    times = np.arange(first, last + 1) * step
    vectors = np.einsum("kij,kj->ki", to_intermediate(times), body(times))
    return Track(start=float(times[1]), step=step, cubics=_cubics(vectors))


def _cubics(nodes: np.ndarray) -> np.ndarray:
    """Compute Lagrange's cubics (k − 3, 4, 3) through nodes (k, 3), each for the stretch between its middle two."""
    before, here, after, beyond = nodes[:-3], nodes[1:-2], nodes[2:-1], nodes[3:]
    second = (before + after) / 2 - here
    third = (beyond - before) / 6 + (here - after) / 2
    return np.stack([here, after - here - second - third, second, third], axis=1)


def sun_track(start: float, end: float) -> Track:
    return _track(sun_gcrs, SUN_STEP, start, end)


def moon_track(start: float, end: float) -> Track:
    return _track(_moon_gcrs, MOON_STEP, start, end)


def unit_vectors(ra_rad: float | np.ndarray, dec_rad: float | np.ndarray) -> Any:
    """Return unit vectors (..., 3) of ICRS places."""
    cosine = np.cos(dec_rad)
    return np.stack([cosine * np.cos(ra_rad), cosine * np.sin(ra_rad), np.sin(dec_rad)], axis=-1)


def apparent_directions(units: np.ndarray, mjd_tt: float) -> np.ndarray:
    """Turn ICRS unit vectors (n, 3) into apparent directions of date, (n, 3), for one moment.

    Light deflection by the Sun, aberration, precession and nutation.
    """
    heliocentric, barycentric = erfa.epv00(MJD_ZERO, mjd_tt)
    distance = np.linalg.norm(heliocentric["p"])
    deflected = erfa.ldsun(units, heliocentric["p"] / distance, distance)
    velocity = barycentric["v"] * (AU_KM / LIGHT_KM_PER_DAY)
    aberrated = erfa.ab(deflected, velocity, distance, np.sqrt(1 - velocity @ velocity))
    return aberrated @ to_intermediate(mjd_tt).T


def apparent_at_moments(units: np.ndarray, mjd_tt: np.ndarray) -> np.ndarray:
    """Turn ICRS unit vectors (n, 3) into directions of date, (k, n, 3), not normalised, at k moments.

    Aberration to first order and no light deflection: 4 mas at a right angle from the Sun, 0.1 arcsec at 5 deg.
    """
    velocity = erfa.epv00(MJD_ZERO, mjd_tt)[1]["v"] * (AU_KM / LIGHT_KM_PER_DAY)
    matrices = to_intermediate(mjd_tt)
    shift = np.einsum("kij,kj->ki", matrices, velocity)
    return np.einsum("kij,nj->kni", matrices, units, optimize=True) + shift[:, np.newaxis, :]


def altitudes_on_grid(directions: np.ndarray, frame: LocalFrame, mjd_tt: np.ndarray) -> np.ndarray:
    """Compute true altitudes [deg] of directions (n, 3) at times (t,), (n, t): matrix products by blocks."""
    # Less than 1 by a rounding, so that arcsin stays defined in the zenith (0.01 arcsec there).
    up = np.ascontiguousarray(frame.axis(2, mjd_tt).T) * (1 - 1e-15)
    grid = np.empty((len(directions), len(mjd_tt)))
    rows = max(1, BLOCK // max(1, len(mjd_tt)))
    for at in range(0, len(directions), rows):
        block = grid[at:at + rows]
        np.matmul(directions[at:at + rows], up, out=block)
        np.arcsin(block, out=block)
        block *= 180 / np.pi
    return grid


def azimuths_on_grid(directions: np.ndarray, frame: LocalFrame, mjd_tt: np.ndarray) -> np.ndarray:
    """Compute azimuths [rad] of directions (n, 3) at times (t,), 0 to 2π, (n, t)."""
    north = directions @ frame.axis(0, mjd_tt).T
    azimuth = np.arctan2(directions @ frame.axis(1, mjd_tt).T, north, out=north)
    azimuth[azimuth < 0] += 2 * np.pi
    return azimuth
