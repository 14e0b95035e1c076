"""Stretches of hour angle in which targets may be observed, for many targets at once."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from planner.visibility.horizon import Limits
from planner.visibility.kernels.roots import steps

TURN = 2 * np.pi
SAMPLES = 720  # of hour angle per turn where there is a skyline: what a target passes in 2 min may be missed
NUDGE = 1e-5  # rad (2 arcsec) of declination, for the rate at which edges move with it
STEEPEST = 100.0  # rad of hour angle per rad of declination: beyond it an edge is about to vanish
BLOCK = 256  # targets sampled at once: the grids stay in the cache


@dataclass(frozen=True)
class Pieces:
    """A flat list of stretches, sorted by target and then by start."""

    index: np.ndarray  # (m,), the target of each
    start: np.ndarray  # (m,), hour angle [rad]: start from −π to π (2π after a merge), end up to one turn later
    end: np.ndarray


def pieces_of(declination: np.ndarray, latitude: float, limits: Limits) -> Pieces:
    """Find the stretches of hour angle within the limits for declinations (n,) [rad]."""
    if limits.nodes is None:
        pieces = _closed_form(declination, latitude, limits)
    else:
        blocks = [_sampled(declination[first:first + BLOCK], latitude, limits)
                  for first in range(0, len(declination), BLOCK)]
        pieces = Pieces(
            np.concatenate([block.index + BLOCK * at for at, block in enumerate(blocks)] or [np.empty(0, int)]),
            np.concatenate([block.start for block in blocks] or [np.empty(0)]),
            np.concatenate([block.end for block in blocks] or [np.empty(0)]))
    return _without_gap(pieces, limits) if limits.gap else pieces


def hour_angle_at(altitude: float | np.ndarray, sine: float | np.ndarray, cosine: float | np.ndarray,
                  latitude: float | np.ndarray) -> Any:
    """Compute the hour angle (0 to π) at which declinations stand at an altitude; 0 never above, π always above."""
    denominator = np.maximum(np.cos(latitude) * cosine, 1e-15)
    return np.arccos(np.clip((np.sin(altitude) - np.sin(latitude) * sine) / denominator, -1, 1))


def _closed_form(declination: np.ndarray, latitude: float, limits: Limits) -> Pieces:
    """Find the stretches between a floor and a ceiling: cos H = (sin h − sin φ sin δ) / (cos φ cos δ)."""
    sine, cosine = np.sin(declination), np.cos(declination)
    far = hour_angle_at(limits.floor, sine, cosine, latitude)
    if limits.ceiling >= np.pi / 2:
        index = np.flatnonzero(far > 0)
        return Pieces(index, -far[index], far[index])
    near = hour_angle_at(limits.ceiling, sine, cosine, latitude)
    whole = np.flatnonzero((near == 0) & (far > 0))
    around = np.flatnonzero((near > 0) & (near < np.pi) & (far == np.pi))
    split = np.flatnonzero((near > 0) & (far > near) & (far < np.pi))
    return _sorted(np.concatenate([whole, around, split, split]),
                   np.concatenate([-far[whole], near[around], -far[split], near[split]]),
                   np.concatenate([far[whole], TURN - near[around], -near[split], far[split]]))


def _sampled(declination: np.ndarray, latitude: float, limits: Limits) -> Pieces:
    """Find the stretches above a skyline: sampled, each edge then halved to 0.001 arcsec; walls are met exactly."""
    angles = -np.pi + TURN / SAMPLES * np.arange(SAMPLES)
    sine, cosine = np.sin(declination), np.cos(declination)

    def clear(hour_angle: np.ndarray, row: np.ndarray) -> np.ndarray:
        return limits.clear(*horizontal(hour_angle, sine[row], cosine[row], latitude))

    up = np.sin(latitude) * sine[:, np.newaxis] + np.cos(latitude) * np.outer(cosine, np.cos(angles))
    good = (up >= np.sin(limits.floor)) & (up <= np.sin(limits.ceiling))
    highest = np.pi / 2 if limits.skyline is None else float(np.max(limits.skyline))
    doubtful = np.nonzero(good & (up < np.sin(highest)))  # only there does azimuth matter
    good[doubtful] = clear(angles[doubtful[1]], doubtful[0])
    following = np.roll(good, -1, axis=1)
    always = np.flatnonzero(good.all(axis=1))
    row, column = np.nonzero(good != following)
    edge = steps(lambda at: clear(at, row), angles[column], angles[column] + TURN / SAMPLES, 22)
    opens = ~good[row, column]
    index, start, end = _paired(row[opens], edge[opens], edge[~opens])
    return _sorted(np.concatenate([index, always]), np.concatenate([start, np.full(len(always), -np.pi)]),
                   np.concatenate([end, np.full(len(always), np.pi)]))


def edge_rates(declination: np.ndarray, latitude: float, limits: Limits, pieces: Pieces) -> np.ndarray:
    """Compute how fast starts and ends move with declination (2, m), by moving it a little both ways.

    An edge that jumps (a wall's corner, a target about to set or not) or stands (the mount's sides) is left there.
    """
    if limits.nodes is None:
        low, high = (pieces_of(declination + nudge, latitude, limits) for nudge in (-NUDGE, NUDGE))
        key, in_low, in_high = (_keys(found.index) for found in (pieces, low, high))
        kept = np.isin(key, in_low, assume_unique=True) & np.isin(key, in_high, assume_unique=True)
        before, after = np.searchsorted(in_low, key[kept]), np.searchsorted(in_high, key[kept])
        rates = np.zeros((2, len(key)))
        rates[0, kept] = (high.start[after] - low.start[before]) / (2 * NUDGE)
        rates[1, kept] = (high.end[after] - low.end[before]) / (2 * NUDGE)
    else:
        rates = np.stack([_moved(edge, declination[pieces.index], latitude, limits)
                          for edge in (pieces.start, pieces.end)])
    return np.where(np.abs(rates) < STEEPEST, rates, 0.0)


def _keys(index: np.ndarray) -> np.ndarray:
    """Name each stretch by its target, the number of the target's stretches and its own place among them."""
    first, beyond = (np.searchsorted(index, index, side=side) for side in ("left", "right"))
    return (index * 16 + (beyond - first)) * 16 + np.arange(len(index)) - first


def _moved(edge: np.ndarray, declination: np.ndarray, latitude: float, limits: Limits) -> np.ndarray:
    """Compute the rate of edges (m,) with declination by finding them again close by; 0 where they are not."""
    found = []
    for nudge in (-NUDGE, NUDGE):
        sine, cosine = np.sin(declination + nudge), np.cos(declination + nudge)

        def clear(at: np.ndarray, sine: np.ndarray = sine, cosine: np.ndarray = cosine) -> np.ndarray:
            return limits.clear(*horizontal(at, sine, cosine, latitude))

        reach = STEEPEST * NUDGE
        switches = clear(edge - reach) != clear(edge + reach)
        found.append((steps(clear, edge - reach, edge + reach, 17), switches))
    (low, at_low), (high, at_high) = found
    return np.where(at_low & at_high, (high - low) / (2 * NUDGE), 0.0)


def _paired(row: np.ndarray, opens: np.ndarray, closes: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Match each opening edge with the next closing one of its row, over the seam where needed."""
    first = np.searchsorted(row, row, side="left")
    last = np.searchsorted(row, row, side="right") - 1
    here = np.arange(len(row))
    late = closes[first] < opens[first] if len(row) else np.empty(0, bool)
    following = np.where(here == last, first, here + 1)
    return row, opens, np.where(late, closes[following] + TURN * (here == last), closes)


def horizontal(hour_angle: float | np.ndarray, sine: float | np.ndarray, cosine: float | np.ndarray,
               latitude: float | np.ndarray) -> Any:
    """Compute altitude and azimuth [rad] from hour angle and declination's sine and cosine; they broadcast."""
    along = cosine * np.cos(hour_angle)
    east = -cosine * np.sin(hour_angle)
    north = np.cos(latitude) * sine - np.sin(latitude) * along
    up = np.sin(latitude) * sine + np.cos(latitude) * along
    return np.arctan2(up, np.hypot(east, north)), np.mod(np.arctan2(east, north), TURN)


def _without_gap(pieces: Pieces, limits: Limits) -> Pieces:
    """Cut out what neither side of the pier reaches, at the upper and at the lower transit."""
    west, east = limits.west_until or 0.0, limits.east_from or 0.0
    found = []
    for low, high in ((east, np.pi + west), (east - np.pi, west)):
        for turn in (-TURN, 0.0, TURN):
            start = np.maximum(pieces.start, low + turn)
            end = np.minimum(pieces.end, high + turn)
            kept = end > start
            found.append((pieces.index[kept], start[kept], end[kept]))
    return _sorted(*(np.concatenate([part[at] for part in found]) for at in range(3)))


def _sorted(index: np.ndarray, start: np.ndarray, end: np.ndarray) -> Pieces:
    order = np.lexsort((start, index))
    return Pieces(index[order], start[order], end[order])
