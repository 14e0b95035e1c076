"""Hours in the dark and above the limits for many targets over many nights, in one vectorised pass.

Stretches of hour angle depend on declination alone, so they are found once; the slow change of apparent place
(precession, nutation, aberration) moves their ends linearly and is interpolated between a few moments of the season.
What falls into the dark is then a few operations on whole arrays: no loop over nights.
"""

import datetime
from dataclasses import dataclass, field

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.checks import Rule, check
from planner.rig import Mount, Site
from planner.visibility.clock import evenings, mean_midnight
from planner.visibility.darkness import DEPRESSION, depths, sun_events
from planner.visibility.earth_rotation import mjd_tt, tt_from_utc, utc_time
from planner.visibility.horizon import limits_of
from planner.visibility.kernels.ephemeris import apparent_at_moments, sun_track, unit_vectors
from planner.visibility.kernels.local_frame import STELLAR_DAY, local_frame
from planner.visibility.kernels.pieces import TURN, edge_rates, pieces_of

NODE_DAYS = 30.0  # between moments at which apparent places are computed
PRODUCT = 200_000  # multiplications of one matrix product: it stays on one core
ROWS = 24  # stretches of hour angle at once: their arrays stay in the cache
_NIGHTS = Rule(kind="whole", at_least=1, at_most=800, remedy="Count the nights, 1 to 800.")


@dataclass(frozen=True)
class SeasonDark:
    """The dark of each night; where there is none it starts and ends at the Sun's lower transit."""

    dates: tuple[datetime.date, ...]  # (k,), evenings on the site's clock
    start: Time  # (k,)
    end: Time
    hours: u.Quantity[u.h]  # (k,)


def season_dark(site: Site, first: datetime.date | str, nights: int, *, depression: u.Quantity[u.deg] = 18 * u.deg,
                least: u.Quantity[u.h] = 0 * u.h) -> SeasonDark:
    """Return the dark of many nights.

    `first`: the first evening's date on the site's clock. `nights`: 1 to 800. `depression` and `least`: as for `night`.
    Raises InvalidInputError for a limit out of range, or dates outside 1973 to 2098.
    """
    depth = check("depression", depression, DEPRESSION).value
    dates = evenings(first, check("nights", nights, _NIGHTS))
    midnights = tt_from_utc(np.array([mean_midnight(site, date) for date in dates]))
    frame = local_frame(site, midnights[0] - 1, midnights[-1] + 1)
    track = sun_track(midnights[0] - 1, midnights[-1] + 1)
    deep = depths(frame, track, midnights, depth, least)
    tt, events, altitudes = sun_events(frame, track, midnights, -deep[np.newaxis])
    below = altitudes[1] < -deep
    start, end = (np.where(np.isnan(edge), np.where(below, tt[side * 2], tt[1]), edge)
                  for side, edge in enumerate(events[:, 0]))
    return SeasonDark(dates=dates, start=utc_time(start), end=utc_time(end), hours=(end - start) * 24 * u.h)


def _nodes(start: float, end: float) -> np.ndarray:
    """Return Chebyshev moments for polynomials over a season, (m,)."""
    count = 2 + int(np.ceil((end - start) / NODE_DAYS))
    return (start + end) / 2 + (end - start) / 2 * np.cos(np.pi * (np.arange(count) + 0.5) / count)


def _interpolation(nodes: np.ndarray, times: np.ndarray) -> np.ndarray:
    """Return the weights (m, k) that take values at nodes (m,) to times (k,): Lagrange's polynomial."""
    centre, half = (nodes.min() + nodes.max()) / 2, max((nodes.max() - nodes.min()) / 2, 1e-9)
    basis = np.polynomial.chebyshev.chebvander((nodes - centre) / half, len(nodes) - 1)
    wanted = np.polynomial.chebyshev.chebvander((times - centre) / half, len(nodes) - 1)
    return np.linalg.solve(basis.T, wanted.T)


@dataclass(frozen=True)
class UpHours:
    """Hours within the limits for many targets in many stretches of time; computed target by target when asked."""

    count: int  # targets
    _index: np.ndarray = field(repr=False)  # the target of each stretch of hour angle, ascending, (m,)
    _starts: np.ndarray = field(repr=False)  # in turns of sidereal time at the nodes, (m, nodes)
    _lengths: np.ndarray = field(repr=False)
    _weights: np.ndarray = field(repr=False)  # from the nodes to the stretches of time, (nodes, k)
    _first: np.ndarray = field(repr=False)  # sidereal time at their start, in turns, (k,)
    _duration: np.ndarray = field(repr=False)

    def of(self, begin: int, end: int) -> u.Quantity[u.h]:
        """Return the hours of the targets from `begin` to before `end`, (end − begin, k)."""
        return u.Quantity(self._of(begin, end), u.h, copy=False)

    def _of(self, begin: int, end: int) -> np.ndarray:
        hours = np.zeros((end - begin, len(self._first)))
        low, high = np.searchsorted(self._index, (begin, end))
        for at in range(low, high, ROWS):
            here = slice(at, min(at + ROWS, high))
            lengths = np.clip(_product(self._lengths[here], self._weights), 0, 1)
            found = _overlap(_product(self._starts[here], self._weights), lengths, self._first, self._duration)
            index = self._index[here] - begin
            if np.all(index[1:] > index[:-1]):
                hours[index] += found
            else:
                np.add.at(hours, index, found)
        hours *= STELLAR_DAY * 24
        return hours


def _product(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Multiply matrices in parts too small to be spread over cores."""
    out = np.empty((len(left), right.shape[1]))
    step = max(1, PRODUCT // max(1, left.size))
    for at in range(0, out.shape[1], step):
        np.matmul(left, right[:, at:at + step], out=out[:, at:at + step])
    return out


def up_hours(
    ra: u.Quantity[u.deg], dec: u.Quantity[u.deg], site: Site, start: Time, end: Time, *,
    minimum_altitude: u.Quantity[u.deg] = 0 * u.deg, mount: Mount | None = None,
) -> UpHours:
    """Return how long targets are within the limits in given stretches of time, dark or not.

    `ra`, `dec`, `site`, `minimum_altitude` and `mount`: as for `night_windows`. `start` and `end` (k,): in order of
    time, within 800 days; each stretch at most one day.
    The hours of `night_windows` where the stretches are the dark of nights, within 1 s for 99 of 100 target-nights.
    """
    limits = limits_of(site, minimum_altitude=minimum_altitude, mount=mount)
    dark = np.stack([mjd_tt(start), mjd_tt(end)])
    frame = local_frame(site, dark[0, 0] - 1, dark[1, -1] + 1)
    units = unit_vectors(ra.to_value(u.rad), dec.to_value(u.rad))
    middle = dark.mean(axis=0)
    nodes = _nodes(middle[0], middle[-1] + 1e-3)
    places = apparent_at_moments(units, nodes)
    alpha = np.unwrap(np.arctan2(places[..., 1], places[..., 0]), axis=0)
    delta = np.arctan2(places[..., 2], np.hypot(places[..., 0], places[..., 1]))
    centre = len(nodes) // 2
    pieces = pieces_of(delta[centre], frame.latitude, limits)
    rates = edge_rates(delta[centre], frame.latitude, limits, pieces)
    shift = (delta - delta[centre])[:, pieces.index]
    return UpHours(
        count=len(units), _index=pieces.index, _weights=_interpolation(nodes, middle),
        _starts=(alpha[:, pieces.index] + pieces.start + rates[0] * shift).T / TURN,
        _lengths=(pieces.end - pieces.start + (rates[1] - rates[0]) * shift).T / TURN,
        _first=np.mod((frame.angle(dark[0]) + frame.longitude) / TURN, 1),
        _duration=(dark[1] - dark[0]) / STELLAR_DAY)


def _overlap(start: np.ndarray, length: np.ndarray, first: np.ndarray, duration: np.ndarray) -> np.ndarray:
    """Compute in turns how much of the dark falls into stretches that return every turn, (m, k).

    The dark begins at `first` (k,) and lasts `duration` (k,), stretches begin at `start` (m, k), which is used up,
    and last `length` (m, k), 0 to 1.
    """
    since = np.subtract(first, start, out=start)
    whole = np.floor(since)
    since -= whole  # from the start of the last stretch to nightfall, 0 to 1
    until = np.add(since, duration, out=whole)
    total = np.minimum(until, length)
    total -= since
    np.maximum(total, 0, out=total)
    for _ in range(1 if np.all(duration <= 1) else 2):
        until -= 1
        total += np.clip(until, 0, length)
    return total
