"""The year: useful hours per night and target, the best night and fortnight, and the nights a project still takes.

What an hour is worth is in `planner.session.worth.usefulness`. Nights needed are clear nights given to this target
alone. The hours still to do are equivalent hours, those that a night's plan counts
(`planner.session.night.slots.slot_worth`): a night brings its useful hours times the speed that the rig has in the
zenith, with what the mount does to this target's stars.
"""

import datetime
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.fields import Key, Spread, rows, told
from planner.rig import Filter, Rig, Site
from planner.session.advice.answer import LOWEST_ALTITUDE, SAMPLES, depression_for
from planner.session.advice.guide_star import NearbyStars
from planner.session.night.motion import mount_motions, stand_ins
from planner.session.night.slots.slot_worth import kept_of_useful, zenith_speed
from planner.session.worth.useful_hours import Cells, UsefulHours, season_cells, useful_hours_of
from planner.session.worth.usefulness import Usefulness, usefulness
from planner.visibility import Target, earth_rotation_note, night, target_window
from planner.visibility.darkness import DARKEST
from planner.visibility.kernels.pieces import hour_angle_at
from planner.visibility.moving_targets import placed

FORTNIGHT = 14
WIDEST = 90.0  # hour angle [deg] up to which the mount's motion is looked at
Left = Mapping[str, u.Quantity]  # filter name: equivalent hours still to do


@dataclass(frozen=True)
class Fortnight:
    """The fourteen nights in a row with the most useful hours."""

    first: Annotated[datetime.date, "its first evening", Key("first_night")]
    last: Annotated[datetime.date, "its last evening", Key("last_night")]
    hours: Annotated[u.Quantity[u.h], "useful, all of it together", Key("hours")]


@dataclass(frozen=True)
class ToDo:
    """What is left, and how many clear nights it takes; None: more than this season holds."""

    left: Left
    nights: Annotated[int | None, "clear ones, the fewest; null: more than there are", Key("clear_nights_needed")]
    finished: Annotated[datetime.date | None, "if every night is clear", Key("finished_if_all_clear")]
    lacking: tuple[str, ...] = ()  # filters that the rig has not: their hours are not in the nights
    by_filter = rows("equivalent hours still to do", lambda to_do: to_do.left.items(), key="left",
                     filter=(str, "its name"), hours=(u.h, "through it", Key("hours")))


@dataclass(frozen=True)
class SeasonTarget:
    """One target over the season."""

    target: Annotated[Target, Spread(only="name ra dec")]
    dates: tuple[datetime.date, ...]
    useful: u.Quantity[u.h]  # by night, (k,)
    up: u.Quantity[u.h]  # on the clock: dark and within the limits, (k,)
    best_night: Annotated[datetime.date | None, "the one with the most useful hours; null without any"]
    fortnight: Annotated[Fortnight | None, "the 14 nights in a row with the most", Key("best_fortnight")]
    to_do: Annotated[ToDo | None, "null where nothing is said of it"]
    reason: Annotated[str, "why there is no hour at all; empty otherwise"]
    nights = rows("one by one", lambda row: zip(row.dates, row.useful.to_value(u.h), row.up.to_value(u.h), strict=True),
                  night=(datetime.date, "its evening"), hours=(float, "useful ones"), up_hours=(float, "on the clock"))
    total_up_hours = told(float, "on the clock", lambda row: row.up.sum().to_value(u.h))

    @property
    def total(self) -> Annotated[u.Quantity[u.h], "useful hours of all nights", Key("total_hours")]:
        """Useful hours of all nights."""
        return self.useful.sum()


@dataclass(frozen=True)
class Season:
    """Targets over many nights, for one rig, site and filter."""

    measure: Annotated[Usefulness, Spread()]
    lowest_altitude: Annotated[u.Quantity[u.deg], "of a target"]
    depression: Annotated[u.Quantity[u.deg], "of the Sun, from which it is dark", Key("sun_below_deg")]
    dates: tuple[datetime.date, ...]
    dark_hours: u.Quantity[u.h]  # (k,)
    moon_illumination: u.Quantity[u.one]  # (k,)
    targets: Annotated[tuple[SeasonTarget, ...], "in the order asked for"]
    notes: Annotated[tuple[str, ...], "what else is to be known"]
    first_night = told(datetime.date, "its evening", lambda season: season.dates[0])
    last_night = told(datetime.date, "its evening", lambda season: season.dates[-1])
    nights = rows("one by one", lambda season: zip(
        season.dates, season.dark_hours.to_value(u.h), season.moon_illumination.value, strict=True),
        night=(datetime.date, "its evening"), dark_hours=(float, "on the clock"),
        moon_illumination=(float, "lit share of the Moon"))

    def months(self) -> dict[tuple[int, int], np.ndarray]:
        """Return the numbers of the nights of each month by (year, month), in order of time."""
        found: dict[tuple[int, int], list[int]] = {}
        for place, date in enumerate(self.dates):
            found.setdefault((date.year, date.month), []).append(place)
        return {month: np.array(places) for month, places in found.items()}


def season(targets: Sequence[Target], rig: Rig, site: Site, first: datetime.date | str, *, nights: int = 365,
           band: Filter | None = None, lowest_altitude: u.Quantity[u.deg] = LOWEST_ALTITUDE,
           left: Sequence[Left | None] | None = None,
           stars_around: Callable[[Target], NearbyStars | None] | None = None, cut: Cells | None = None) -> Season:
    """Return the useful hours of targets night by night.

    Parameters
    ----------
    targets : sequence of Target, (n,)
    rig : Rig
        Its mount's limits count.
    site : Site
        Its skyline counts.
    first : datetime.date or str
        The first evening's date on the site's clock.
    nights : int
        1 to 366.
    band : Filter, optional
        One of the rig's; its first one if absent.
    lowest_altitude : Quantity [deg], scalar
        Apparent.
    left : sequence of mappings, (n,), optional
        Per target the equivalent hours still to do by filter name, or None; each filter of the rig is weighed by
        itself.
    stars_around : callable, optional
        Catalogue stars around a target, to guide on where something is to do.
    cut : Cells, optional
        What `dark_of` gives for the same rig, site, nights and filter: with it other targets are answered sooner.

    Raises
    ------
    InvalidInputError
        For a date, a number of nights or an altitude out of range.
    """
    band = rig.filters[0] if band is None else band
    found = _hours(targets, rig, site, first, nights, band, lowest_altitude, cut)
    dates = found.cells.dates
    targets = [placed(target, site, dates[int(np.argmax(hours))])
               for target, hours in zip(targets, found.useful.value, strict=True)]
    wants = [None] * len(targets) if left is None else list(left)
    stars = stars_around or (lambda target: None)
    todo = [_to_do(target, want, found, place, lowest_altitude, stars)
            for place, (target, want) in enumerate(zip(targets, wants, strict=True))]
    rows = tuple(_row(target, found, place, lowest_altitude, todo[place]) for place, target in enumerate(targets))
    note = earth_rotation_note(found.cells.end[-1])
    return Season(measure=found.measure, lowest_altitude=lowest_altitude,
                  depression=depression_for(band), dates=dates, dark_hours=found.cells.dark_hours,
                  moon_illumination=found.cells.moon_illumination, targets=rows, notes=(note,) if note else ())


def _hours(targets: Sequence[Target], rig: Rig, site: Site, first: datetime.date | str, nights: int, band: Filter,
           lowest: u.Quantity, cut: Cells | None = None) -> UsefulHours:
    return useful_hours_of(targets, usefulness(rig, site, band), first, nights, depression=depression_for(band),
                           minimum_altitude=lowest, mount=rig.mount, cut=cut)


def dark_of(rig: Rig, site: Site, first: datetime.date | str, band: Filter, *, nights: int = 365) -> Cells:
    """Return the dark of the nights, cut into cells, with what the sky does in each: what all targets share."""
    return season_cells(usefulness(rig, site, band), first, nights, depression=depression_for(band))


def _row(target: Target, found: UsefulHours, place: int, lowest: u.Quantity, to_do: ToDo | None) -> SeasonTarget:
    useful, up, dates = found.useful[place], found.up[place], found.cells.dates
    if not useful.max() > 0:
        return SeasonTarget(target, dates, useful, up, None, None, to_do, why_never(
            target, found.measure.rig, found.measure.site, dates, found.cells.dark_hours.to_value(u.h), lowest))
    return SeasonTarget(target, dates, useful, up, dates[int(np.argmax(useful))], best_fortnight(useful, dates), to_do,
                        "")


def best_fortnight(useful: u.Quantity[u.h], dates: Sequence[datetime.date]) -> Fortnight:
    """Return the 14 nights in a row (all of them, if fewer) with the most useful hours (k,); the earliest of equals."""
    length = min(FORTNIGHT, len(dates))
    sums = np.convolve(useful.to_value(u.h), np.ones(length), mode="valid")
    start = int(np.argmax(sums > sums.max() - 1e-9))
    return Fortnight(dates[start], dates[start + length - 1], sums[start] * u.h)


def why_never(target: Target, rig: Rig, site: Site, dates: Sequence[datetime.date], dark: np.ndarray,
              lowest: u.Quantity[u.deg]) -> str:
    """Say why a target has no hour in any night; `dark` (nights,) says how much of it each has."""
    if not dark.max() > 0:
        return f"No dark time in any of these {len(dates)} nights."
    longest = night(site, dates[int(np.argmax(dark))], least=DARKEST)
    reason = target_window(target, site, longest, minimum_altitude=lowest, mount=rig.mount).reason
    if not reason or "not dark" in reason:
        return f"Within the limits only when it is not dark, in all of these {len(dates)} nights."
    return reason


def _to_do(target: Target, want: Left | None, found: UsefulHours, place: int, lowest: u.Quantity,
           stars_around: Callable[[Target], NearbyStars | None]) -> ToDo | None:
    """Return the nights that the hours still to do take, filters that the rig lacks left aside."""
    if want is None:
        return None
    rig, site, dates = found.measure.rig, found.measure.site, found.cells.dates
    bands = {band.name.lower(): band for band in rig.filters}
    left = {bands[name.lower()]: time.to_value(u.h) for name, time in want.items()
            if name.lower() in bands and time > 0}
    if not left:
        return ToDo(want, 0, None)
    if not found.up[place].max() > 0:
        return ToDo(want, None, None)
    each = [(found, place) if band == found.measure.band
            else (_hours([target], rig, site, dates[0], len(dates), band, lowest), 0) for band in left]
    motions = mount_motions(target, rig, site, stand_ins(rig, site), list(left),
                            widest_hour_angle(target, site, lowest), stars_around(target))
    (kept, *_) = kept_of_useful(found.measure, list(motions.values()))
    useful = np.stack([hours.useful[at].value * kept * zenith_speed(rig, site, band, motions[band.name])
                       for band, (hours, at) in zip(left, each, strict=True)])
    hours = np.array(list(left.values()))
    last = nights_to_do(hours, useful, np.arange(len(dates)))
    fewest = nights_to_do(hours, useful, np.argsort(-useful.mean(axis=0), kind="stable"))
    lacking = tuple(name for name in want if name.lower() not in bands)
    return ToDo(want, fewest, None if last is None else dates[last - 1], lacking)


def widest_hour_angle(target: Target, site: Site, lowest: u.Quantity[u.deg]) -> u.Quantity[u.deg]:
    """Return hour angles (SAMPLES,) at which a target is above an altitude, at most `WIDEST` to either side."""
    dec = target.dec.to_value(u.rad)
    widest = hour_angle_at(lowest.to_value(u.rad), np.sin(dec), np.cos(dec), site.latitude.to_value(u.rad))
    return np.linspace(-1, 1, SAMPLES) * min(np.degrees(widest), WIDEST) * u.deg


def nights_to_do(left_h: np.ndarray, useful_h: np.ndarray, order: np.ndarray) -> int | None:
    """Count the nights, taken in an order, until the time left in every filter is done.

    `left_h` (f,): hours still to do by filter. `useful_h` (f, k): hours that each night brings by filter, if it goes
    to that filter alone. `order` (k,): the nights as they are used.
    Each night goes first to the filter that loses least on it, by what it brings over what its best night does. None
    if the nights do not suffice.
    """
    left = np.array(left_h, dtype=float)
    best = np.maximum(useful_h.max(axis=1), 1e-12)
    for count, at in enumerate(order, start=1):
        share = 1.0
        for band in np.argsort(-useful_h[:, at] / best, kind="stable"):
            if left[band] > 0 and useful_h[band, at] > 0:
                used = min(left[band] / useful_h[band, at], share)
                left[band] -= used * useful_h[band, at]
                share -= used
        if np.all(left <= 1e-9):
            return count
    return None
