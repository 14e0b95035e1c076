"""Where the polar axis points: from positions solved while only the RA axis turned, or from two drifts.

Altitude error: positive if the axis is too high. Azimuth error: positive if it points east of the elevated pole, as an
azimuth angle; on the sky it counts times the cosine of the latitude. Both are against the *true* pole, which lies
below the refracted one. `remedy` says what to do about it, and what it does to a sub-exposure.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.errors import InvalidInputError
from planner.measure.polar.small_circle import Circle, fit_circle, student_factor
from planner.rig import Site
from planner.tracking.mount_frame import refracted, refraction_pair, sky_axes, zenith_of
from planner.tracking.polar_axis import STANDARD_PRESSURE, STANDARD_TEMPERATURE, VISUAL, refracted_pole
from planner.visibility.target import Target

# Error of one solved position where no spare one tells, as well known as by so many spare ones; and the least that is
# believed where they agree by chance (common practice, no source).
SOLVED_POSITION, SOLVED_KNOWN, LEAST_SCATTER = 2 * u.arcsec, 8, 0.2 * u.arcsec
FEWEST_POSITIONS = 3
# An axis less certain than this is no answer: the axis was turned too little.
LARGEST_UNCERTAINTY = 3 * u.deg
# An equatorial mount whose axis is further from the pole is not set up, or was not turned at all.
FARTHEST_AXIS = 15 * u.deg


@dataclass(frozen=True, kw_only=True)
class PolarAlignment:
    """The polar axis against the true pole; each `_uncertainty` is 1 sigma."""

    altitude_error: Annotated[u.Quantity[u.arcmin], "axis too high: positive"]
    altitude_uncertainty: Annotated[u.Quantity[u.arcmin], "of the altitude error, one standard error"]
    azimuth_error: Annotated[u.Quantity[u.arcmin], "axis east of the pole: positive, as an azimuth angle"]
    azimuth_uncertainty: Annotated[u.Quantity[u.arcmin], "of the azimuth error, one standard error"]
    offset: Annotated[u.Quantity[u.arcmin], "angle between axis and true pole"]
    latitude: Annotated[u.Quantity[u.deg], "of the place, north positive"]
    refracted_pole: Annotated[u.Quantity[u.arcmin], "altitude error of an axis at the refracted pole"]
    scatter: Annotated[u.Quantity[u.arcsec] | None, "rms distance of the positions from their circle"] = None
    radius: u.Quantity[u.deg] | None = None  # of the circle
    notes: Annotated[tuple[str, ...], "what else is to be known"] = ()


def utc_times(texts: Sequence[str]) -> Time:
    """Return moments written in UTC, ISO 8601.

    Raises InvalidInputError if one is no time.
    """
    import planner.visibility.earth_rotation  # noqa: F401  offline settings, before the first conversion of time

    moments = []
    for text in texts:
        try:
            moments.append(Time(text.rstrip("Zz"), scale="utc"))
        except ValueError:
            raise InvalidInputError("time_utc", text, "must be a time in UTC",
                                    "Write it like 2026-11-25T21:04:30Z.") from None
    return Time(moments)


def ground_directions(ra: u.Quantity, dec: u.Quantity, time: Time, site: Site) -> tuple[u.Quantity, u.Quantity]:
    """Return the true hour angle and declination of date of positions on the sky at their times.

    `ra` and `dec` [angle] (n,): ICRS, as a plate solution gives them. `time` (n,): of the middle of each exposure.
    `site`: place of the telescope.
    Returns [deg] (n,): hour angle (west positive) and declination, without refraction.
    """
    from planner.visibility.places import places

    targets = [Target(name=f"position {i + 1}", ra=a, dec=d) for i, (a, d) in enumerate(zip(ra, dec, strict=True))]
    grid = places(targets, site, time)
    each = np.arange(len(targets))
    return grid.hour_angle[each, each], grid.declination


def alignment_from_positions(
    hour_angle: u.Quantity, declination: u.Quantity, *, latitude: u.Quantity, pressure: u.Quantity = STANDARD_PRESSURE,
    temperature: u.Quantity = STANDARD_TEMPERATURE, position_error: u.Quantity | None = None,
) -> PolarAlignment:
    """Return the polar axis from positions between which only the RA axis turned.

    `hour_angle` and `declination` [angle] (n,): true places (of date, without refraction) on the boresight; at least
    three, spread well along the circle. `latitude` [angle]: of the site. `pressure` and `temperature`: of the air,
    which shows each place higher than it is; no pressure, no refraction. `position_error` [arcsec]: error of one
    position per axis; if not given, from their scatter about the circle, 2 arcsec for only three.
    With errors such that one of them holds in 68 % of cases however few positions there are.
    Raises InvalidInputError if there are fewer than three positions or they do not fix an axis.
    """
    if hour_angle.size < FEWEST_POSITIONS:
        raise InvalidInputError("positions", hour_angle.size, f"must be at least {FEWEST_POSITIONS}",
                                "Turn the RA axis by 20 deg or more between positions and solve each.")
    phi = latitude.to_value(u.rad)
    true = sky_axes(hour_angle.to_value(u.rad), declination.to_value(u.rad))[..., 0]
    seen = refracted(true, zenith_of(phi), refraction_pair(pressure, temperature, VISUAL))
    circle = fit_circle(seen, _elevated_pole(phi))
    error, notes = _error_of_one(circle, position_error)
    uncertain = np.sqrt(np.trace(circle.covariance)) * max(error, 1e-12)
    if not uncertain < LARGEST_UNCERTAINTY.to_value(u.rad):
        misses = np.degrees(np.max(np.abs(circle.misses)))
        raise InvalidInputError("positions", f"{hour_angle.size}, off their circle by up to {misses:.3g} deg",
                                "do not fix the axis",
                                "Turn the RA axis alone, 20 deg or more between positions, and leave the Dec axis.")
    if not circle.axis @ _elevated_pole(phi) > np.cos(FARTHEST_AXIS.to_value(u.rad)):
        raise InvalidInputError("positions", f"{hour_angle.size} about an axis far from the pole",
                                f"must turn about one within {FARTHEST_AXIS:g} of it",
                                "Turn the RA axis between positions, and check latitude, times and signs.")
    return _alignment(circle, error, latitude, refracted_pole(
        latitude=latitude, pressure=pressure, temperature=temperature), tuple(notes))


def _elevated_pole(latitude_rad: float) -> np.ndarray:
    return np.array([0.0, 0.0, 1.0 if latitude_rad >= 0 else -1.0])


def _error_of_one(circle: Circle, given: u.Quantity | None) -> tuple[float, list[str]]:
    """Return the error of one position in radians, widened where few spare positions tell it."""
    if given is not None:
        return given.to_value(u.rad), []
    if circle.spare == 0:
        text = f"Three positions leave none to check with: {SOLVED_POSITION.value:g}″ per position assumed."
        return student_factor(SOLVED_KNOWN) * SOLVED_POSITION.to_value(u.rad), [text]
    notes = ["Few spare positions: the errors are wide because of that; two or three more would narrow them."]
    scatter = max(circle.scatter(), LEAST_SCATTER.to_value(u.rad))
    return student_factor(circle.spare) * scatter, notes if circle.spare < 3 else []


def _alignment(
    circle: Circle, error: float, latitude: u.Quantity, refracted: u.Quantity, notes: tuple[str, ...]
) -> PolarAlignment:
    phi = latitude.to_value(u.rad)
    values = axis_errors(circle.axis, phi)
    step = 1e-6
    slopes = np.column_stack([(axis_errors(circle.axis + step * tilt, phi) - values) / step for tilt in circle.tilts])
    uncertainty = error * np.sqrt(np.diag(slopes @ circle.covariance @ slopes.T))
    offset = np.arccos(np.clip(circle.axis @ _elevated_pole(phi), -1, 1))
    sine = np.linalg.norm(np.cross(circle.axis, _elevated_pole(phi)))
    scatter = None if circle.spare == 0 else (circle.scatter() * u.rad).to(u.arcsec)
    return PolarAlignment(
        altitude_error=_arcmin(values[0]), altitude_uncertainty=_arcmin(uncertainty[0]),
        azimuth_error=_arcmin(values[1]), azimuth_uncertainty=_arcmin(uncertainty[1]),
        offset=_arcmin(np.arctan2(sine, np.cos(offset))), latitude=latitude, refracted_pole=refracted,
        scatter=scatter, radius=np.degrees(circle.radius) * u.deg, notes=notes,
    )


def axis_errors(axis: np.ndarray, latitude_rad: float) -> np.ndarray:
    """Return altitude and azimuth error (2,) in radians of an axis (3,) in the frame of `tracking.mount_frame`."""
    hemisphere = 1.0 if latitude_rad >= 0 else -1.0
    horizon = np.array([-np.sin(latitude_rad), 0.0, np.cos(latitude_rad)]) * hemisphere  # below the elevated pole
    along, up = axis @ horizon, axis @ zenith_of(latitude_rad)
    altitude = np.arctan2(up, np.hypot(along, axis[1]))
    return np.array([altitude - abs(latitude_rad), np.arctan2(axis[1], along)])


def _arcmin(angle_rad: float) -> u.Quantity:
    return np.degrees(float(angle_rad)) * 60 * u.arcmin
