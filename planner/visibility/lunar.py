"""The Moon from where the observer stands: place, phase, rise, set and transit, parallax and semidiameter included."""

from dataclasses import dataclass, field

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.errors import InvalidInputError
from planner.rig import Site
from planner.visibility.air import _air
from planner.visibility.earth_rotation import mjd_tt, utc_time
from planner.visibility.ephemeris import (
    MOON_RADIUS_KM,
    Track,
    _altitude,
    _apparent,
    _azimuth,
    _moon_track,
    _sun_track,
    _to_intermediate,
    _unit,
)
from planner.visibility.frame import Frame, _frame
from planner.visibility.roots import _crossings, _roots
from planner.visibility.target import Target

HORIZON_REFRACTION = np.radians(34 / 60)  # USNO, Rise, Set and Twilight Definitions
GRID = 5 / 1440  # days between samples: the Moon's altitude has one bend in it at most


@dataclass(frozen=True)
class MoonPlace:
    """The Moon as seen from a site; each value has the shape of the times.

    Attributes
    ----------
    altitude, azimuth : Quantity [deg]
        True altitude of the centre (refraction left out); azimuth from north through east.
    apparent_altitude : Quantity [deg]
        Altitude of the centre with refraction, as airmass and horizons want it.
    ra, dec : Quantity [deg]
        Topocentric, along the axes of the ICRS (not of date), aberration included.
    phase_angle : Quantity [deg]
        Sun, Moon, observer: 0 at full Moon, 180 at new Moon.
    illumination : Quantity [dimensionless]
        Lit share of the disc.
    distance : Quantity [km]
        From the observer.
    semidiameter : Quantity [arcmin]
    """

    times: Time
    altitude: u.Quantity[u.deg]
    azimuth: u.Quantity[u.deg]
    apparent_altitude: u.Quantity[u.deg]
    ra: u.Quantity[u.deg]
    dec: u.Quantity[u.deg]
    phase_angle: u.Quantity[u.deg]
    illumination: u.Quantity[u.one]
    distance: u.Quantity[u.km]
    semidiameter: u.Quantity[u.arcmin]
    _directions: np.ndarray = field(repr=False)  # unit vectors of date from the observer, (..., 3)

    def separation_from(self, target: Target) -> u.Quantity[u.deg]:
        """Return the angle between the Moon's centre and a target, both apparent, shape of the times."""
        middle = float(np.mean(mjd_tt(self.times)))
        direction = _apparent(_unit(target.ra.to_value(u.rad), target.dec.to_value(u.rad))[np.newaxis], middle)[0]
        return _angle(self._directions, direction) * u.deg


@dataclass(frozen=True)
class MoonEvents:
    """What the Moon does between two moments; times of rise and set are those of the upper limb.

    Attributes
    ----------
    rises, sets, transits : Time, (n,)
        In order of time; n is 0 when there is none, as happens about once a month.
    up_at_start : bool
        Is the upper limb above the horizon at the start?
    illumination : float
        Lit share of the disc in the middle of the stretch.
    reason : str
        Why there is neither rise nor set; empty otherwise.
    """

    start: Time
    end: Time
    rises: Time
    sets: Time
    transits: Time
    up_at_start: bool
    illumination: float
    reason: str

    @property
    def up(self) -> tuple[tuple[Time, Time], ...]:
        """From when to when the Moon is up."""
        starts, ends = list(self.rises), list(self.sets)
        if self.up_at_start:
            starts.insert(0, self.start)
        if len(starts) > len(ends):
            ends.append(self.end)
        return tuple(zip(starts, ends, strict=True))


def moon(site: Site, times: Time) -> MoonPlace:
    """Return the Moon's place and phase from a site.

    Parameters
    ----------
    site : Site
    times : Time, any shape
        Within one year of each other: the pole of the Earth is taken once, in the middle.

    Returns
    -------
    MoonPlace
        Within 20 arcsec of DE421; illumination within 0.001.
    """
    tt = mjd_tt(times)
    flat = np.atleast_1d(tt).ravel()
    start, end = float(flat.min()), float(flat.max())
    frame, track = _frame(site, start, end), _moon_track(start, end)
    local = track.local(frame, flat)
    directions = track.at(flat) - _observer_of_date(frame, flat)
    distance = np.linalg.norm(directions, axis=-1)
    phase = _phase_angle(directions, _sun_track(start, end).at(flat) - _observer_of_date(frame, flat))
    directions /= distance[:, np.newaxis]
    icrs = np.einsum("kji,kj->ki", _to_intermediate(flat), directions)
    altitude = np.degrees(_altitude(local))

    def shaped(values, unit):
        return values.reshape(tt.shape) * unit

    return MoonPlace(
        times=times, altitude=shaped(altitude, u.deg), azimuth=shaped(np.degrees(_azimuth(local)), u.deg),
        apparent_altitude=shaped(_air(site).apparent(altitude), u.deg),
        ra=shaped(np.degrees(np.arctan2(icrs[:, 1], icrs[:, 0])) % 360, u.deg),
        dec=shaped(np.degrees(np.arcsin(icrs[:, 2])), u.deg), phase_angle=shaped(phase, u.deg),
        illumination=shaped(_illumination(phase), u.one), distance=shaped(distance, u.km),
        semidiameter=shaped(np.degrees(np.arcsin(MOON_RADIUS_KM / distance)) * 60, u.arcmin),
        _directions=directions.reshape((*tt.shape, 3)))


def moon_events(site: Site, start: Time, end: Time) -> MoonEvents:
    """Return moonrise, moonset and upper transit between two moments.

    Parameters
    ----------
    site : Site
    start, end : Time, scalar
        At most 400 days apart. For a night: ``moon_events(site, night.start, night.end)``.

    Returns
    -------
    MoonEvents
        Within 10 s of DE421 up to 65 deg of latitude. At the horizon the centre is 34 arcmin (refraction) and
        one topocentric semidiameter below it.

    Raises
    ------
    InvalidInputError
        If the end is not after the start, or too far from it.
    """
    first, last = float(mjd_tt(start)), float(mjd_tt(end))
    if not 0 < last - first <= 400:
        raise InvalidInputError("end", end.utc.isot, "must be after the start by at most 400 days",
                                f"The start is {start.utc.isot}.")
    frame, track = _frame(site, first, last), _moon_track(first, last)
    rises, sets, up = _rise_and_set(frame, track, first, last)
    middle = np.array([(first + last) / 2])
    place = track.at(middle) - _observer_of_date(frame, middle)
    phase = _phase_angle(place, _sun_track(*middle, *middle).at(middle))
    reason = ""
    if not rises.size and not sets.size:
        reason = "The Moon is up all the time." if up else "The Moon does not rise."
    return MoonEvents(start=start, end=end, rises=utc_time(rises), sets=utc_time(sets),
                      transits=utc_time(_transits(frame, track, first, last)), up_at_start=up,
                      illumination=float(_illumination(phase)[0]), reason=reason)


def _rise_and_set(frame: Frame, track: Track, first: float, last: float
                  ) -> tuple[np.ndarray, np.ndarray, bool]:
    """Find rises and sets (MJD in TT) and whether the upper limb is up at the start."""
    def upper_limb(tt):
        local = track.local(frame, tt)
        return _altitude(local) + np.arcsin(MOON_RADIUS_KM / np.linalg.norm(local, axis=-1)) + HORIZON_REFRACTION

    times = np.linspace(first, last, max(2, int(np.ceil((last - first) / GRID)) + 1))
    at, rising = _crossings(upper_limb, times)
    return at[rising], at[~rising], bool(upper_limb(times[:1])[0] >= 0)


def _transits(frame: Frame, track: Track, first: float, last: float) -> np.ndarray:
    """Find upper transits (MJD in TT): the centre crosses the half-plane zenith, pole, nadir towards the equator."""
    def hour_angle(tt):
        sub = track.at(tt) - _observer_of_date(frame, tt)
        angle = frame.angle(tt) + frame.longitude - np.arctan2(sub[:, 1], sub[:, 0])
        return np.mod(angle + np.pi, 2 * np.pi) - np.pi

    times = np.linspace(first, last, max(2, int(np.ceil((last - first) / (1 / 24))) + 1))
    angles = hour_angle(times)
    at = np.flatnonzero((angles[:-1] < 0) & (angles[1:] >= 0) & (angles[1:] - angles[:-1] < np.pi))
    return _roots(hour_angle, times[at], times[at + 1])


def _observer_of_date(frame: Frame, mjd_tt: np.ndarray) -> np.ndarray:
    """Return the observer from the Earth's centre in the frame of date [km], (t, 3)."""
    north, east, up = (frame.axis(row, mjd_tt) for row in range(3))
    return frame.observer[0] * north + frame.observer[1] * east + frame.observer[2] * up


def _phase_angle(moon_km: np.ndarray, sun_km: np.ndarray) -> np.ndarray:
    """Compute the angle at the Moon between the Sun and the observer [deg], vectors (..., 3) from the observer."""
    return _angle(sun_km - moon_km, -moon_km)


def _angle(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Compute the angle between vectors (..., 3) [deg], exact for small ones too."""
    return np.degrees(np.arctan2(np.linalg.norm(np.cross(one, other), axis=-1), np.sum(one * other, axis=-1)))


def _illumination(phase_angle_deg):
    """Compute the lit share of the disc (Meeus 1998, eq. 48.1)."""
    return (1 + np.cos(np.radians(phase_angle_deg))) / 2
