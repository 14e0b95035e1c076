"""Night and twilight: when the Sun is down far enough, what there is when it never is, and where it stands.

Altitudes of the Sun are those of its centre without refraction; sunset is at −0.8333 deg, 34 arcmin of refraction
and 16 arcmin of semidiameter (USNO, Rise, Set and Twilight Definitions), whatever the height of the site.
"""

import datetime
from dataclasses import dataclass, field

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.checks import Rule, check
from planner.rig import Site
from planner.visibility.clock import as_date, clock_change, clock_of, evening_date, lived, mean_midnight
from planner.visibility.earth_rotation import earth_rotation_note, mjd_tt, tt_from_utc, utc_time
from planner.visibility.kernels.ephemeris import Track, sun_track
from planner.visibility.kernels.local_frame import LocalFrame, local_frame
from planner.visibility.kernels.roots import roots

SUNSET_DEG = -50 / 60
TWILIGHTS = (("civil", 6.0), ("nautical", 12.0), ("astronomical", 18.0))
# Where the Sun is not that deep for so long, the darkest hours of the night count, down to nautical twilight: its glow
# is in the brightness of the sky (common practice, no source).
DARKEST, DARKEST_FROM = 3 * u.h, 12.0
DEPRESSION = Rule(unit=u.deg, more_than=0, at_most=30,
                   remedy="Give the Sun's depth below the horizon: 18 deg, or as little as 12 deg for narrow bands.")


@dataclass(frozen=True)
class Twilight:
    """Evening and morning at one depression of the Sun; None where the Sun does not cross it."""

    name: str
    depression: u.Quantity[u.deg]
    dusk: Time | None
    dawn: Time | None


@dataclass(frozen=True)
class Night:
    """One night at a site, named by its evening's local date, from one noon to the next.

    Attributes
    ----------
    date : datetime.date
    site : Site
    depression, asked : Quantity [deg]
        Of the Sun's centre, from which it counts as dark, and what was asked for.
    start, end : Time
        The Sun's noon before and after; `middle` is its lower transit.
    dark : (Time, Time) or None
    sunset, sunrise : Time or None
    twilights : tuple of Twilight
        Civil, nautical, astronomical.
    reason : str
        Why there is no dark time, with the next best; empty if there is.
    notes : tuple of str
        Polar night, a change of clocks, Earth rotation predicted too far.
    """

    date: datetime.date
    site: Site
    depression: u.Quantity[u.deg]
    asked: u.Quantity[u.deg]
    noons_tt: np.ndarray = field(repr=False)  # MJD: noon, midnight, noon
    _levels: np.ndarray = field(repr=False)  # deg: sunset, three twilights, the depression asked for
    _events: np.ndarray = field(repr=False)  # MJD in TT: evening and morning by level, NaN where none, (2, 5)
    _altitudes: np.ndarray = field(repr=False)  # deg: of the Sun at noon, midnight, noon

    def _event(self, level: int, side: int) -> Time | None:
        tt = self._events[side, level]
        return None if np.isnan(tt) else utc_time(tt)

    def below(self, level: int) -> tuple[float, float] | None:
        """Return from when to when (MJD in TT) the Sun is below a level; noon to noon if always."""
        if not self._altitudes[1] < self._levels[level]:
            return None
        dusk, dawn = self._events[:, level]
        start = self.noons_tt[0] if np.isnan(dusk) else float(dusk)
        return start, self.noons_tt[2] if np.isnan(dawn) else float(dawn)

    @property
    def start(self) -> Time:
        """The noon before."""
        return utc_time(self.noons_tt[0])

    @property
    def middle(self) -> Time:
        """The Sun's lower transit."""
        return utc_time(self.noons_tt[1])

    @property
    def end(self) -> Time:
        """The noon after."""
        return utc_time(self.noons_tt[2])

    @property
    def sunset(self) -> Time | None:
        """The upper limb touches the horizon in the evening."""
        return self._event(0, 0)

    @property
    def sunrise(self) -> Time | None:
        """The upper limb touches the horizon in the morning."""
        return self._event(0, 1)

    @property
    def twilights(self) -> tuple[Twilight, ...]:
        """Civil, nautical and astronomical."""
        return tuple(Twilight(name, depression * u.deg, self._event(place + 1, 0), self._event(place + 1, 1))
                     for place, (name, depression) in enumerate(TWILIGHTS))

    @property
    def dark(self) -> tuple[Time, Time] | None:
        """From when to when the Sun is deeper than `depression`."""
        below = self.below(4)
        return None if below is None else (utc_time(below[0]), utc_time(below[1]))

    @property
    def dark_hours(self) -> u.Quantity[u.h]:
        """Length of the dark time, zero if none."""
        below = self.below(4)
        return (0.0 if below is None else (below[1] - below[0]) * 24) * u.h

    @property
    def reason(self) -> str:
        """Why there is no dark time."""
        return "" if self.below(4) else _no_dark(self)

    @property
    def notes(self) -> tuple[str, ...]:
        """What else to know about this night."""
        found = (_darkest_note(self), _polar_note(self), clock_change(self.noons_tt[0], self.noons_tt[2], self.site),
                 earth_rotation_note(self.end))
        return tuple(note for note in found if note)


def night(site: Site, date: datetime.date | str, *, depression: u.Quantity[u.deg] = 18 * u.deg,
          least: u.Quantity[u.h] = 0 * u.h) -> Night:
    """Return the Sun's events of one night.

    `date`: the evening's date on the site's clock. `depression`: of the Sun's centre below the true horizon, 0 to 30
    deg, from which it counts as dark. `least`: where the Sun is not that deep for so long, the darkest hours count as
    dark, as long as it is `DARKEST_FROM` deep.
    Events within 0.5 s of DE421 up to 65 deg of latitude; see `Night` for what is None, and why.
    Raises InvalidInputError for a date outside 1973 to 2098 or left out of the site's calendar, or a depression out of
    range.
    """
    day = lived(as_date(date), site)
    asked = check("depression", depression, DEPRESSION)
    middle = np.array([float(tt_from_utc(mean_midnight(site, day)))])
    frame, track = local_frame(site, middle[0] - 0.6, middle[0] + 0.6), sun_track(middle[0] - 0.6, middle[0] + 0.6)
    depth = depths(frame, track, middle, float(asked.value), least)[0]
    levels = np.array([SUNSET_DEG, *(-depth for _, depth in TWILIGHTS), -depth])
    tt, events, altitudes = sun_events(frame, track, middle, levels)
    return Night(date=day, site=site, depression=depth * u.deg, asked=asked, noons_tt=tt[:, 0], _levels=levels,
                 _events=events[:, :, 0], _altitudes=altitudes[:, 0])


def depths(frame: LocalFrame, track: Track, midnights: np.ndarray, asked_deg: float, least: u.Quantity[u.h]
           ) -> np.ndarray:
    """Return the Sun's depth from which it counts as dark around mean midnights (k,) [deg]; as for `night`."""
    if least.value == 0 or asked_deg <= DARKEST_FROM:
        return np.full(midnights.size, asked_deg)
    away = np.array([[-0.5], [0.5]]) * least.to_value(u.day)
    highest = np.degrees(track.altitude(frame, _lower_transit(frame, track, midnights) + away)).max(axis=0)
    return np.clip(-highest, DARKEST_FROM, asked_deg)


def _lower_transit(frame: LocalFrame, track: Track, midnights: np.ndarray) -> np.ndarray:
    """Return the Sun's lower transits near mean midnights, MJD in TT (k,)."""
    sun = track.at(midnights)
    hour_angle = frame.angle(midnights) + frame.longitude - np.arctan2(sun[..., 1], sun[..., 0])
    return midnights + (np.mod(2 * np.pi - hour_angle, 2 * np.pi) - np.pi) / (2 * np.pi)


def sun_events(frame: LocalFrame, track: Track, midnights: np.ndarray, levels_deg: np.ndarray
               ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Find when the Sun passes levels, (levels,) or (levels, k), around mean midnights, MJD in TT (k,).

    `tt` (3, k): upper transit before, lower transit, upper transit after. `events` (2, levels, k): evening and
    morning; NaN where it does not pass. `altitudes` (3, k): at `tt` [deg].
    """
    middle = _lower_transit(frame, track, midnights)
    tt = np.stack([middle - 0.5, middle, middle + 0.5])
    altitudes = np.degrees(track.altitude(frame, tt))
    levels = np.broadcast_to(levels_deg.reshape(len(levels_deg), -1), (len(levels_deg), midnights.size))
    passes = (np.stack([altitudes[0], altitudes[2]])[:, np.newaxis] > levels) & (altitudes[1] < levels)
    side, level, night_number = np.nonzero(passes)
    wanted = np.radians(levels[level, night_number])
    events = np.full(passes.shape, np.nan)
    events[passes] = roots(lambda at: track.altitude(frame, at) - wanted, tt[side * 2, night_number],
                            tt[1, night_number])
    return tt, events, altitudes


def _no_dark(night: Night) -> str:
    """Say why there is no dark time and from when to when the deepest twilight lasts."""
    deepest = -night._altitudes[1]
    if deepest < -SUNSET_DEG:
        return "No dark time: the Sun does not set."
    text = (f"No dark time at {night.depression.value:g}°: the Sun stays within {deepest:.1f}° of the horizon")
    for level in (3, 2, 1):
        below = night.below(level)
        if below is not None:
            name = {3: "astronomical", 2: "nautical", 1: "civil"}[level]
            return (f"{text}; {name} dark from {clock_of(below[0], night.site)} to {clock_of(below[1], night.site)}.")
    return f"{text}; it is bright twilight all night."


def _darkest_note(night: Night) -> str:
    """Say that the Sun is not as deep as asked for as long as wanted."""
    if night.depression >= night.asked or night.below(4) is None:
        return ""
    hours = night.dark_hours.to_value(u.h)
    return (f"The Sun is below −{night.asked.value:g}° for less than {DARKEST.value:g} h: the darkest {hours:.1f} h "
            f"count as dark, with the Sun below −{night.depression.value:.1f}°.")


def _polar_note(night: Night) -> str:
    """Say whether the Sun stays down at noon."""
    if max(night._altitudes[0], night._altitudes[2]) > SUNSET_DEG:
        return ""
    noon = -max(night._altitudes[0], night._altitudes[2])
    return f"Polar night: the Sun does not rise; at noon it is {noon:.1f}° below the horizon."


def sun_altitude(site: Site, times: Time) -> u.Quantity[u.deg]:
    """Return the altitude of the Sun's centre without refraction at times (t,), up to a year in all.

    The Earth's pole is taken in their middle: it moves by less than an arcsecond.
    """
    tt = np.atleast_1d(mjd_tt(times))
    start, end = float(tt.min()), float(tt.max())
    return np.degrees(sun_track(start, end).altitude(local_frame(site, start, end), tt)) * u.deg


def night_to_plan(now: datetime.datetime, site: Site) -> datetime.date:
    """Return the local date of the evening that names the night now running, or once the Sun has risen the coming one.

    `now`: a moment with its time zone. `site`: gives clock and place. Where the Sun never rises a night ends at noon,
    where it never sets at midnight.
    """
    moment, evening, day = Time(now), evening_date(now, site), datetime.timedelta(days=1)
    night = next(night for night in (evening + day, evening, evening - day)
                 if mean_midnight(site, night) < moment.utc.mjd + 0.5)
    over = mean_midnight(site, night) < moment.utc.mjd and sun_altitude(site, moment)[0].to_value(u.deg) > SUNSET_DEG
    return night + over * day
