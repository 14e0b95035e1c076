"""Which cause moves the star how far: each one alone, and all together, so that a cancellation shows."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from astropy import units as u

from planner.tracking.drift import STILL, SmoothTrack, smooth_track
from planner.tracking.exposure_motion import exposure_motion
from planner.tracking.mount_frame import Array
from planner.tracking.pointing_model import PointingTerms, polar_error, without_pole
from planner.tracking.polar_axis import STANDARD_PRESSURE, STANDARD_TEMPERATURE, VISUAL

# Hour angles are sampled this finely between the first start and the end of the last exposure.
TRACK_STEP_DEG = 0.5
AIRLESS = 0 * u.hPa


@dataclass(frozen=True)
class BudgetTerm:
    """The motion that one cause, or all of them, makes on one axis."""

    term: str
    axis: str  # "ra" or "dec"
    rms: u.Quantity  # arcsec, about the mean place of one exposure


def track_hour_angles(hour_angle: u.Quantity[u.deg], longest: u.Quantity[u.s]) -> u.Quantity[u.deg]:
    """Return hour angles (n,) in equal steps of about 0.5 deg that cover exposures starting at `hour_angle`.

    Parameters
    ----------
    hour_angle : Quantity [angle], (h,)
        Starts of exposures.
    longest : Quantity [s], scalar
        The longest exposure.

    Returns
    -------
    Quantity [deg], (n,)
        At least three, from the first start to the end of the last exposure: a track for `exposure_motion`.
    """
    from planner.constants import SIDEREAL_RATE

    starts = hour_angle.to_value(u.deg)
    end = np.max(starts) + (np.max(longest) * SIDEREAL_RATE).to_value(u.deg)
    count = max(3, int(np.ceil((end - np.min(starts)) / TRACK_STEP_DEG)) + 1)
    return np.linspace(np.min(starts), end, count) * u.deg


@u.quantity_input
def motion_budget(
    *, latitude: u.Quantity[u.deg], declination: u.Quantity[u.deg], hour_angle: u.Quantity[u.deg],
    duration: u.Quantity[u.s], polar_altitude_error: u.Quantity[u.arcmin] = 0 * u.arcmin,
    polar_azimuth_error: u.Quantity[u.arcmin] = 0 * u.arcmin, rate: str = "sidereal", rate_error_ppm: float = 0.0,
    flexure_ra: u.Quantity[u.arcsec / u.h] = STILL, flexure_dec: u.Quantity[u.arcsec / u.h] = STILL,
    pressure: u.Quantity[u.hPa] = STANDARD_PRESSURE, temperature: u.Quantity = STANDARD_TEMPERATURE,
    wavelength: u.Quantity[u.nm] = VISUAL, pointing_terms: PointingTerms | None = None, pier_side: str = "east",
    periods: u.Quantity[u.s] = [] * u.s, amplitudes: u.Quantity[u.arcsec] = [] * u.arcsec,
    jitter: u.Quantity[u.arcsec] = 0 * u.arcsec,
    wander: u.Quantity[u.arcsec / u.min**0.5] = 0 * u.arcsec / u.min**0.5,
    encoder_step: u.Quantity[u.arcsec] = 0 * u.arcsec, corner: u.Quantity[u.deg] = [0, 0] * u.deg, phases: int = 32,
) -> tuple[BudgetTerm, ...]:
    """Return how far each cause alone moves an unguided star within one exposure, and all of them together.

    Parameters
    ----------
    hour_angle : Quantity [angle], (h,)
        Starts of exposures over the target's window; the rms is taken over all of them and all drive phases.
    duration : Quantity [s], scalar
        Of one exposure.
    corner : Quantity [angle], (2,)
        The worst corner's place east and north of the field centre, for the rotation of the field.
    latitude, declination, polar_altitude_error, polar_azimuth_error, rate, rate_error_ppm, flexure_ra, flexure_dec, \
pressure, temperature, wavelength, pointing_terms, pier_side
        As for `smooth_track`.
    periods, amplitudes, jitter, wander, encoder_step, phases
        As for `exposure_motion`.

    Returns
    -------
    tuple of BudgetTerm
        One per cause and axis: polar altitude error, polar azimuth error, refraction, drive rate, pointing model,
        flexure, periodic error, wander, jitter, encoder, field rotation at the corner; then ``total drift`` (all
        smooth causes with their signs, at the field centre: less than its parts where they cancel) and ``total``
        (all, at the corner).

    Raises
    ------
    InvalidInputError
        As for `smooth_track` and `exposure_motion`.
    """
    place = {"latitude": latitude, "declination": declination, "hour_angle": track_hour_angles(hour_angle, duration),
             "temperature": temperature, "wavelength": wavelength, "pier_side": pier_side}
    air = {"pressure": pressure, "rate": rate}
    # Without air there is no King rate to follow; a drive that knows the mount removes each cause it knows.
    still_air = {"pressure": AIRLESS, "rate": "model" if rate == "model" else "sidereal"}
    terms = pointing_terms if pointing_terms is not None else PointingTerms()
    axis = _axis(terms, latitude, polar_altitude_error, polar_azimuth_error)
    flexure = {"flexure_ra": flexure_ra, "flexure_dec": flexure_dec}
    causes: dict[str, dict[str, Any]] = {
        "polar altitude error": {**still_air, "polar_altitude_error": axis[0]},
        "polar azimuth error": {**still_air, "polar_azimuth_error": axis[1]},
        "refraction": air,
        "drive rate": {**still_air, "rate_error_ppm": rate_error_ppm},
        "pointing model": {**still_air, "pointing_terms": without_pole(terms)},
        "flexure": {**still_air, **flexure},
    }
    whole = smooth_track(**place, **air, **flexure, rate_error_ppm=rate_error_ppm, pointing_terms=pointing_terms,
                         polar_altitude_error=polar_altitude_error, polar_azimuth_error=polar_azimuth_error)
    at = {"duration": duration.reshape(1), "hour_angle": hour_angle, "declination": declination, "phases": phases}
    drive: dict[str, dict[str, Any]] = {
        "periodic error": {"periods": periods, "amplitudes": amplitudes}, "wander": {"wander": wander},
        "jitter": {"jitter": jitter}, "encoder": {"encoder_step": encoder_step}}
    still = _standing(whole)
    rows = [(name, smooth_track(**place, **cause), {}) for name, cause in causes.items()]
    rows += [(name, still, cause) for name, cause in drive.items()]
    rows += [("field rotation at the corner", _turning(whole), {"offsets": corner}), ("total drift", whole, {})]
    rows += [("total", whole, {**{k: v for cause in drive.values() for k, v in cause.items()}, "offsets": corner})]
    return tuple(term for name, track, cause in rows for term in _terms(name, track, at, cause))


def _axis(terms: PointingTerms, latitude: u.Quantity, altitude_error: u.Quantity,
          azimuth_error: u.Quantity) -> tuple[u.Quantity, u.Quantity]:
    """Return the polar errors, whether they come as such or in the pointing terms."""
    if terms.pole_elev == 0 and terms.pole_azim == 0:
        return altitude_error, azimuth_error
    error = polar_error(terms, latitude=latitude)
    return error.altitude_error, error.azimuth_error


def _standing(track: SmoothTrack) -> SmoothTrack:
    maps: Array = np.broadcast_to(np.eye(2), track.field_map.shape)
    return SmoothTrack(track.hour_angle, 0 * track.ra, 0 * track.dec, 0 * track.rotation, maps)


def _turning(track: SmoothTrack) -> SmoothTrack:
    return SmoothTrack(track.hour_angle, 0 * track.ra, 0 * track.dec, track.rotation, track.field_map)


def _terms(name: str, track: SmoothTrack, at: dict[str, Any], cause: dict[str, Any]) -> tuple[BudgetTerm, BudgetTerm]:
    motion = exposure_motion(track, **at, **cause)
    return (BudgetTerm(name, "ra", np.sqrt(np.mean(motion.variance_ra))),
            BudgetTerm(name, "dec", np.sqrt(np.mean(motion.variance_dec))))
