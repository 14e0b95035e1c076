"""The Moon from where the observer stands: place, phase, rise, set and transit, parallax included."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.errors import InvalidInputError
from planner.rig import Site
from planner.visibility.earth_rotation import mjd_tt, utc_time
from planner.visibility.kernels.air import air_at
from planner.visibility.kernels.ephemeris import (
    MOON_RADIUS_KM,
    Track,
    altitude_of,
    apparent_directions,
    azimuth_of,
    moon_track,
    sun_track,
    to_intermediate,
    unit_vectors,
)
from planner.visibility.kernels.local_frame import LocalFrame, local_frame
from planner.visibility.kernels.roots import roots
from planner.visibility.target import Target

HORIZON_REFRACTION = np.radians(34 / 60)  # USNO, Rise, Set and Twilight Definitions
GRID = 10 / 1440  # days between samples; a Moon up or down for less than this may be missed


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
        Topocentric, along the axes of the ICRS (not of date), aberration included; computed when asked for.
    phase_angle : Quantity [deg]
        Sun, Moon, observer: 0 at full Moon, 180 at new Moon.
    distance : Quantity [km]
        From the observer.
    """

    times: Time
    altitude: u.Quantity[u.deg]
    azimuth: u.Quantity[u.deg]
    apparent_altitude: u.Quantity[u.deg]
    phase_angle: u.Quantity[u.deg]
    distance: u.Quantity[u.km]
    _directions: np.ndarray = field(repr=False)  # unit vectors of date from the observer, (..., 3)

    @property
    def ra(self) -> u.Quantity[u.deg]:
        """Right ascension, 0 to 360 deg."""
        icrs = self._icrs()
        return np.degrees(np.arctan2(icrs[..., 1], icrs[..., 0])) % 360 * u.deg

    @property
    def dec(self) -> u.Quantity[u.deg]:
        """Declination."""
        return np.degrees(np.arcsin(self._icrs()[..., 2])) * u.deg

    def _icrs(self) -> np.ndarray:
        """Return the directions along the axes of the ICRS, (..., 3)."""
        return np.einsum("...ji,...j->...i", to_intermediate(mjd_tt(self.times)), self._directions)

    def separation_from(self, target: Target) -> u.Quantity[u.deg]:
        """Return the angle between the Moon's centre and a target, both apparent, shape of the times."""
        return self.separations_from([target])[0]

    def separations_from(self, targets: Sequence[Target]) -> u.Quantity[u.deg]:
        """Return the angles between the Moon's centre and targets (n,), all apparent, (n, ...) by the times.

        Apparent places are taken once, in the middle of the times: 40 arcsec over a year.
        """
        places = np.array([unit_vectors(one.ra.to_value(u.rad), one.dec.to_value(u.rad)) for one in targets])
        directions = apparent_directions(places, float(np.mean(mjd_tt(self.times))))
        each = directions.reshape(len(targets), *(1,) * (self._directions.ndim - 1), 3)
        return _angle(self._directions, each) * u.deg


@dataclass(frozen=True)
class MoonEvents:
    """What the Moon does between two moments; times of rise and set are those of the upper limb."""

    start: Time
    end: Time
    rises: Time  # (n,), in order of time; n is 0 when there is none, as happens about once a month
    sets: Time
    transits: Time
    up_at_start: bool  # is the upper limb above the horizon at the start?
    illumination: float  # lit share of the disc in the middle of the stretch, from the Earth's centre
    reason: str  # why there is neither rise nor set; empty otherwise

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

    `times` (any shape): within one year of each other: the pole of the Earth is taken once, in the middle.
    Within 20 arcsec of DE421.
    """
    tt = mjd_tt(times)
    flat = np.atleast_1d(tt).ravel()
    start, end = float(flat.min()), float(flat.max())
    frame, track = local_frame(site, start, end), moon_track(start, end)
    local = track.local(frame, flat)
    directions = track.at(flat) - _observer_of_date(frame, flat)
    distance = np.linalg.norm(directions, axis=-1)
    phase = _phase_angle(directions, sun_track(start, end).at(flat) - _observer_of_date(frame, flat))
    directions /= distance[:, np.newaxis]
    altitude = np.degrees(altitude_of(local))

    def shaped(values: np.ndarray, unit: u.UnitBase) -> u.Quantity:
        return values.reshape(tt.shape) * unit

    return MoonPlace(
        times=times, altitude=shaped(altitude, u.deg), azimuth=shaped(np.degrees(azimuth_of(local)), u.deg),
        apparent_altitude=shaped(air_at(site).apparent(altitude), u.deg),
        phase_angle=shaped(phase, u.deg),
        distance=shaped(distance, u.km),
        _directions=directions.reshape((*tt.shape, 3)))


def moon_events(site: Site, start: Time, end: Time) -> MoonEvents:
    """Return moonrise, moonset and upper transit between two moments.

    `start` and `end`: at most 400 days apart. For a night: ``moon_events(site, night.start, night.end)``.
    Within 10 s of DE421 up to 65 deg of latitude. At the horizon the centre is 34 arcmin (refraction) and one
    topocentric semidiameter below it.
    Raises InvalidInputError if the end is not after the start, or too far from it.
    """
    first, last = float(mjd_tt(start)), float(mjd_tt(end))
    if not 0 < last - first <= 400:
        raise InvalidInputError("end", end.utc.isot, "must be after the start by at most 400 days",
                                f"The start is {start.utc.isot}.")
    frame, track = local_frame(site, first, last), moon_track(first, last)
    rises, sets, transits, up = _rise_set_transit(frame, track, first, last)
    reason = ""
    if not rises.size and not sets.size:
        reason = "The Moon is up all the time." if up else "The Moon does not rise."
    return MoonEvents(start=start, end=end, rises=utc_time(rises), sets=utc_time(sets),
                      transits=utc_time(transits), up_at_start=up,
                      illumination=float(lit_share(utc_time((first + last) / 2)).value), reason=reason)


def lit_share(times: Time) -> u.Quantity[u.one]:
    """Return how much of the Moon's disc is lit as seen from the Earth's centre, the shape of the times.

    `times`: within one year of each other. Within 0.001 of DE421.
    """
    tt = mjd_tt(times)
    flat = np.atleast_1d(tt).ravel()
    span = float(flat.min()), float(flat.max())
    phase = _phase_angle(moon_track(*span).at(flat), sun_track(*span).at(flat))
    return _illumination(phase).reshape(np.shape(tt)) * u.one


def _rise_set_transit(frame: LocalFrame, track: Track, first: float, last: float
                      ) -> tuple[np.ndarray, np.ndarray, np.ndarray, bool]:
    """Find rises, sets and upper transits (MJD in TT), and whether the upper limb is up at the start."""
    cosine, sine = np.cos(frame.latitude), np.sin(frame.latitude)

    def limb_and_angle(tt: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        local = track.local(frame, tt)
        north, east, up = local[..., 0], local[..., 1], local[..., 2]
        across = np.hypot(north, east)
        limb = np.arctan2(up, across) + np.arcsin(MOON_RADIUS_KM / np.hypot(across, up)) + HORIZON_REFRACTION
        return limb, np.arctan2(-east, up * cosine - north * sine)  # the centre's hour angle as seen from here

    times = np.linspace(first, last, max(2, int(np.ceil((last - first) / GRID)) + 1))
    limb, angle = limb_and_angle(times)
    crosses = np.flatnonzero((limb[:-1] < 0) != (limb[1:] < 0))
    passes = np.flatnonzero((angle[:-1] < 0) & (angle[1:] >= 0) & (angle[1:] - angle[:-1] < np.pi))
    at, is_limb = np.concatenate([crosses, passes]), np.arange(len(crosses) + len(passes)) < len(crosses)
    found = roots(lambda tt: np.where(is_limb, *limb_and_angle(tt)), times[at], times[at + 1])
    rising = limb[crosses] < 0
    crossed = found[:len(crosses)]
    return crossed[rising], crossed[~rising], found[len(crosses):], bool(limb[0] >= 0)


def _observer_of_date(frame: LocalFrame, mjd_tt: np.ndarray) -> np.ndarray:
    """Return the observer from the Earth's centre in the frame of date [km], (t, 3)."""
    north, east, up = (frame.axis(row, mjd_tt) for row in range(3))
    return frame.observer[0] * north + frame.observer[1] * east + frame.observer[2] * up


def _phase_angle(moon_km: np.ndarray, sun_km: np.ndarray) -> np.ndarray:
    """Compute the angle at the Moon between the Sun and the observer [deg], vectors (..., 3) from the observer."""
    return _angle(sun_km - moon_km, -moon_km)


def _angle(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Compute the angle between vectors (..., 3) [deg], exact for small ones too."""
    return np.degrees(np.arctan2(np.linalg.norm(np.cross(one, other), axis=-1), np.sum(one * other, axis=-1)))


def _illumination(phase_angle_deg: np.ndarray) -> np.ndarray:
    """Compute the lit share of the disc (Meeus 1998, eq. 48.1)."""
    return (1 + np.cos(np.radians(phase_angle_deg))) / 2
