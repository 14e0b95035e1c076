"""Useful hours of many targets over many nights: hours within the limits, each weighted by `Usefulness`.

The dark of each night is cut into cells, finer towards dusk and dawn, with an edge where the Moon rises or sets. The
hours within the limits are exact in each cell (`planner.visibility.up_hours`); the usefulness is that of its middle.
"""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.checks import Rule, check
from planner.rig import Mount, Site
from planner.session.worth.usefulness import MomentTables, Usefulness, moment_tables
from planner.visibility import altitude_factors, lit_share, moon, season_dark, sun_altitude, up_hours, utc_time
from planner.visibility.clock import as_date
from planner.visibility.darkness import DARKEST
from planner.visibility.earth_rotation import mjd_tt
from planner.visibility.moving_targets import placed_each_night
from planner.visibility.target import Target

CELLS = 16  # per night: usefulness of a night within 1 % of an integral by minutes
FEW = 12  # where a hundred thousand target-nights are ranked: within 2 %
BLOCK = 256  # targets at once: the working arrays stay in the cache
BAND = 12  # deg of declination within which targets are taken in order of right ascension
NIGHTS = Rule(kind="whole", at_least=1, at_most=366, remedy="Count the nights, 1 to 366.")


@dataclass(frozen=True)
class Cells:
    """The dark of a season, cut into cells, and what the sky does in each."""

    dates: tuple[datetime.date, ...]
    dark_hours: u.Quantity[u.h]  # (k,)
    moon_illumination: u.Quantity[u.one]  # in the middle of each night, (k,)
    start: Time  # (k · cells,)
    middle: Time
    end: Time
    tables: MomentTables = field(repr=False)
    moon_ra: u.Quantity[u.deg] = field(repr=False)  # in the middle of each cell
    moon_dec: u.Quantity[u.deg] = field(repr=False)

    def watch_hours(self, watches: int) -> u.Quantity[u.h]:
        """Return the hours of dark in each watch, (k, w)."""
        long = (mjd_tt(self.end) - mjd_tt(self.start)).reshape(len(self.dates), watches, -1).sum(axis=2)
        return long * 24 * u.h


@dataclass(frozen=True)
class UsefulHours:
    """Hours of each target (n) in each watch (w) of each night (k): useful ones, and those on the clock."""

    measure: Usefulness
    cells: Cells
    useful_in_watch: u.Quantity[u.h]  # (n, k, w)
    up_in_watch: u.Quantity[u.h]  # (n, k, w)

    @property
    def useful(self) -> u.Quantity[u.h]:
        """Useful hours of each night, (n, k)."""
        return self.useful_in_watch.sum(axis=2)

    @property
    def up(self) -> u.Quantity[u.h]:
        """Hours on the clock of each night, (n, k)."""
        return self.up_in_watch.sum(axis=2)


def useful_hours(
    ra: u.Quantity[u.deg], dec: u.Quantity[u.deg], measure: Usefulness, first: datetime.date | str, nights: int, *,
    depression: u.Quantity[u.deg], minimum_altitude: u.Quantity[u.deg], mount: Mount | None = None, cells: int = CELLS,
    watches: int = 1, cut: Cells | None = None,
) -> UsefulHours:
    """Return the useful hours of targets, night by night.

    Parameters
    ----------
    measure : Usefulness
        Gives rig, site and filter.
    ra, dec, first, nights, depression, minimum_altitude, mount
        As in `planner.visibility.season_dark` and `up_hours`, up to 366 nights; the site's skyline counts.
    cells : int
        Of a night.
    watches : int
        Parts of a night that are told apart, as many cells each; a divisor of `cells`.
    cut : Cells, optional
        What `season_cells` gives for the same question, where it is there already.

    Returns
    -------
    UsefulHours
        Within 1 % of an integral by minutes where the target stands still in altitude or not.
    """
    count = check("nights", nights, NIGHTS)
    parts = cut or season_cells(measure, first, count, depression=depression, cells=cells)
    order = np.lexsort((ra.value, np.floor(dec.value / BAND)))  # neighbours are up together
    found = up_hours(ra[order], dec[order], measure.site, parts.start, parts.end, minimum_altitude=minimum_altitude,
                     mount=mount)
    useful, up = np.zeros((2, len(order), count, watches))
    places = _Places.of(ra, dec, measure.site, parts)
    for begin in range(0, len(order), BLOCK):
        here = order[begin:begin + BLOCK]
        hours = found.of(begin, begin + len(here)).value
        useful[here] = _in_watches(_weighted(hours, places, parts, here), count, watches)
        up[here] = _in_watches(hours, count, watches)
    return UsefulHours(measure=measure, cells=parts, useful_in_watch=u.Quantity(useful, u.h, copy=False),
                       up_in_watch=u.Quantity(up, u.h, copy=False))


def useful_hours_of(targets: Sequence[Target], measure: Usefulness, first: datetime.date | str, nights: int,
                    **limits: Any) -> UsefulHours:
    """Return the useful hours of targets, those that move where they stand on each night; `limits` as `useful_hours`.

    Each night of a moving target is one more place, of which that night alone counts.
    """
    start, site = as_date(first), measure.site
    dates = [start + datetime.timedelta(days=day) for day in range(check("nights", nights, NIGHTS))]
    each = [placed_each_night(target, site, dates) if target.orbit is not None else [target] for target in targets]
    flat = [place for places in each for place in places]
    ra, dec = (np.array([getattr(place, name).to_value(u.deg) for place in flat]) * u.deg for name in ("ra", "dec"))
    found = useful_hours(ra, dec, measure, first, nights, **limits)
    if len(flat) == len(targets):
        return found
    row = np.cumsum([0, *(len(places) for places in each)])[:-1, np.newaxis]
    rows = row + np.array([np.arange(nights) if len(places) > 1 else np.zeros(nights, int) for places in each])
    useful, up = (hours[rows, np.arange(nights)] for hours in (found.useful_in_watch, found.up_in_watch))
    return replace(found, useful_in_watch=useful, up_in_watch=up)


def season_cells(measure: Usefulness, first: datetime.date | str, nights: int, *, depression: u.Quantity[u.deg],
                 cells: int = CELLS) -> Cells:
    """Cut the dark of each night into cells and look up the Moon and the Sun in the middle of each."""
    site = measure.site
    season = season_dark(site, first, nights, depression=depression, least=DARKEST)
    dark = np.stack([mjd_tt(season.start), mjd_tt(season.end)])
    edges = _edges(site, dark, cells)
    start, end = edges[:, :-1].ravel(), edges[:, 1:].ravel()
    middles = utc_time((start + end) / 2)
    place = moon(site, middles)
    tables = moment_tables(measure, moon_altitude=place.apparent_altitude, moon_phase_angle=place.phase_angle,
                           sun_altitude=sun_altitude(site, middles))
    return Cells(dates=season.dates, dark_hours=season.hours, start=utc_time(start), middle=middles,
                 end=utc_time(end), moon_illumination=lit_share(utc_time((edges[:, 0] + edges[:, -1]) / 2)),
                 tables=tables, moon_ra=place.ra, moon_dec=place.dec)


def _edges(site: Site, dark: np.ndarray, cells: int) -> np.ndarray:
    """Return edges of cells (k, cells + 1) for the dark (2, k), MJD in TT: one at each moonrise and moonset."""
    even = np.linspace(0, 1, cells + 1)
    share = (even + (1 - np.cos(np.pi * even)) / 2) / 2  # half even, half crowded towards dusk and dawn
    edges = dark[0, :, np.newaxis] + (dark[1] - dark[0])[:, np.newaxis] * share
    altitude = moon(site, utc_time(edges)).apparent_altitude.value
    night, cell = np.nonzero((altitude[:, :-1] > 0) != (altitude[:, 1:] > 0))
    before, after = altitude[night, cell], altitude[night, cell + 1]
    part = before / (before - after)
    moved = np.clip(cell + (part >= 0.5), 1, cells - 1)  # the nearer edge, but neither dusk nor dawn
    edges[night, moved] = edges[night, cell] + part * (edges[night, cell + 1] - edges[night, cell])
    return np.sort(edges, axis=1)


@dataclass(frozen=True)
class _Places:
    """Factors of sines of altitude and of cosines of the Moon's separation, (3, n) and (t, 3)."""

    of_date: np.ndarray
    zeniths: np.ndarray
    icrs: np.ndarray
    moons: np.ndarray

    @classmethod
    def of(cls, ra: u.Quantity, dec: u.Quantity, site: Site, cells: Cells) -> "_Places":
        directions, zeniths = altitude_factors(ra, dec, site, cells.middle)
        factors = directions.T, zeniths, _unit(ra, dec).T, _unit(cells.moon_ra, cells.moon_dec)
        return cls(*(np.ascontiguousarray(factor, dtype=np.float32) for factor in factors))


def _weighted(hours: np.ndarray, places: _Places, cells: Cells, here: np.ndarray) -> np.ndarray:
    """Weigh hours (n, t) of the targets `here` by the usefulness in the middle of each cell."""
    weighted = np.zeros_like(hours)
    seen, lit = hours.any(axis=0), cells.tables.row >= 0
    of_date, icrs = places.of_date[:, here], places.icrs[:, here]
    for moon_up in (False, True):
        moment = np.flatnonzero(seen & (lit == moon_up))
        if moment.size:
            cosine = places.moons[moment] @ icrs if moon_up else None
            worth = cells.tables.at(moment, places.zeniths[moment] @ of_date, cosine)
            weighted[:, moment] = hours[:, moment] * worth.T
    return weighted


def _in_watches(hours: np.ndarray, nights: int, watches: int) -> np.ndarray:
    """Sum cells (n, t) to watches (n, k, w)."""
    cells = hours.reshape(-1, hours.shape[1] // (nights * watches))
    return (cells @ np.ones(cells.shape[1])).reshape(len(hours), nights, watches)


def _unit(ra: u.Quantity, dec: u.Quantity) -> np.ndarray:
    alpha, delta = ra.to_value(u.rad), dec.to_value(u.rad)
    return np.stack([np.cos(delta) * np.cos(alpha), np.cos(delta) * np.sin(alpha), np.sin(delta)], axis=-1)
