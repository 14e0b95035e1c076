"""The sky of one night as it is drawn: where targets and Moon stand, what is in the way, when there is work on them."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.rig import Mount, Site
from planner.session.night.model import NightPlan
from planner.visibility import MoonPlace, Night, Places, Target, local_time, moon, places, skyline, utc_time
from planner.visibility.earth_rotation import mjd_tt

STEP = 5 * u.min
SKYLINE_STEP = 1.0  # deg of azimuth


class NightClock:
    """The site's clock as it stands in the evening, run on through the night without a jump."""

    def __init__(self, night: Night) -> None:
        evening, morning = (local_time(time, night.site) for time in (night.start, night.end))
        self._offset = evening.utcoffset() or datetime.timedelta(0)
        minutes = int(self._offset.total_seconds() // 60)
        sign = "−" if minutes < 0 else "+"
        part = f":{abs(minutes) % 60:02d}" if minutes % 60 else ""
        name = evening.tzname() or ""
        offset = f"UTC{sign}{abs(minutes) // 60}{part}"
        self.zone = f"{name}, {offset}" if name.isalpha() and name != "UTC" else offset
        self.changes = evening.utcoffset() != morning.utcoffset()

    def __call__(self, time: Time) -> datetime.datetime:
        """Return what the clock shows, to the second, without a zone."""
        moment = time.utc.to_datetime(leap_second_strict="silent") + self._offset
        return (moment + datetime.timedelta(seconds=0.5)).replace(microsecond=0)

    def full_hours(self, start: Time, end: Time) -> list[datetime.datetime]:
        """Return the full hours on this clock between two moments."""
        first = self(start).replace(minute=0, second=0) + datetime.timedelta(hours=1)
        return [first + datetime.timedelta(hours=hour)
                for hour in range(max(0, int((self(end) - first) / datetime.timedelta(hours=1)) + 1))
                if first + datetime.timedelta(hours=hour) <= self(end)]

    def moment(self, shown: datetime.datetime) -> Time:
        """Return the moment at which this clock shows a time."""
        return Time(shown - self._offset, scale="utc")


@dataclass(frozen=True, kw_only=True)
class NightSky:
    """Places from sunset to sunrise, every `STEP`; grids are (targets, times)."""

    night: Night
    site: Site
    clock: NightClock
    targets: tuple[Target, ...]
    times: Time
    places: Places
    moon: MoonPlace
    clear: np.ndarray  # above the skyline and the lowest altitude, below the zenith keep-out
    working: np.ndarray  # A block of the plan is on this target
    hours: tuple[datetime.datetime, ...]
    marks: Places  # at the full hours of the clock; `hours` are what it shows then
    moon_marks: MoonPlace
    marks_working: np.ndarray
    # upper transits within the span, with the apparent altitude
    crossings: tuple[tuple[Target, Time, u.Quantity[u.deg]], ...]
    # planned changes of the pier side, with apparent altitude and azimuth
    flips: tuple[tuple[Target, Time, u.Quantity[u.deg], u.Quantity[u.deg]], ...]
    lowest_altitude: u.Quantity[u.deg]
    ceiling: u.Quantity[u.deg]
    skyline_azimuth: u.Quantity[u.deg]  # (k,), all around, from north to north
    skyline_altitude: u.Quantity[u.deg]  # (k,), 0 without a profile


def night_sky(plan: NightPlan, targets: Sequence[Target]) -> NightSky:
    """Return the sky of a plan's night for some of its targets.

    `targets` (n,): may be empty: skyline and Moon remain.
    """
    night, site, chosen = plan.night, plan.site, tuple(targets)
    start, end = night.sunset or night.start, night.sunrise or night.end
    first, last = float(mjd_tt(start)), float(mjd_tt(end))
    times = utc_time(np.linspace(first, last, max(2, int((last - first) / STEP.to_value(u.day)) + 2)))
    clock = NightClock(night)
    hours = tuple(clock.full_hours(start, end))
    marks = Time([clock.moment(hour) for hour in hours])
    found = places(chosen, site, times)
    lowest, ceiling = plan.lowest_altitude, 90 * u.deg - plan.rig.mount.zenith_keep_out
    around = np.arange(0, 360 + SKYLINE_STEP, SKYLINE_STEP) * u.deg
    return NightSky(
        night=night, site=site, clock=clock, targets=chosen, times=times, places=found, moon=moon(site, times),
        clear=_clear(found, site, plan.rig.mount, lowest), working=_working(plan, chosen, times), hours=hours,
        marks=places(chosen, site, marks), moon_marks=moon(site, marks), marks_working=_working(plan, chosen, marks),
        crossings=tuple(_crossings(plan, chosen, start, end)), flips=tuple(_flips(plan, chosen)),
        lowest_altitude=lowest, ceiling=ceiling, skyline_azimuth=around, skyline_altitude=_skyline(site, around))


def _skyline(site: Site, azimuth: u.Quantity[u.deg]) -> u.Quantity[u.deg]:
    return np.zeros(azimuth.shape) * u.deg if site.horizon is None else skyline(site.horizon, azimuth)


def _clear(found: Places, site: Site, mount: Mount, lowest: u.Quantity[u.deg]) -> np.ndarray:
    """Say where nothing is in the way, (n, t)."""
    altitude = found.apparent_altitude
    floor = np.maximum(_skyline(site, found.azimuth), lowest)
    return np.asarray((altitude >= floor) & (altitude <= 90 * u.deg - mount.zenith_keep_out))


def _working(plan: NightPlan, targets: Sequence[Target], times: Time) -> np.ndarray:
    """Say when the plan works on each target, (n, t)."""
    tt = np.asarray(mjd_tt(times))
    working = np.zeros((len(targets), len(tt)), bool)
    for row, target in enumerate(targets):
        for block in plan.blocks:
            if block.target.name == target.name:
                working[row] |= (tt >= float(mjd_tt(block.start))) & (tt <= float(mjd_tt(block.end)))
    return working


def _crossings(plan: NightPlan, targets: Sequence[Target], start: Time, end: Time
               ) -> list[tuple[Target, Time, u.Quantity]]:
    names = {target.name for target in targets}
    found = []
    for outlook in plan.outlooks:
        target, transit = outlook.request.target, outlook.reach.window.transit
        if target.name in names and float(mjd_tt(start)) <= float(mjd_tt(transit)) <= float(mjd_tt(end)):
            found.append((target, transit, places([target], plan.site, transit).apparent_altitude[0, 0]))
    return found


def _flips(plan: NightPlan, targets: Sequence[Target]) -> list[tuple[Target, Time, u.Quantity, u.Quantity]]:
    names = {target.name for target in targets}
    found = []
    for flip in plan.flips:
        if flip.target.name in names and flip.planned is not None:
            at = places([flip.target], plan.site, flip.planned)
            found.append((flip.target, flip.planned, at.apparent_altitude[0, 0], at.azimuth[0, 0]))
    return found
