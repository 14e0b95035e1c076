"""Which cause moves the star how far: each one alone, and all together, so that a cancellation shows."""

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.checks import check_units
from planner.constants import SIDEREAL_RATE
from planner.rig.choices import AXES, Axis, DriveRate, PierSide
from planner.tracking.drift import STILL, SmoothTrack, mount_geometry, smooth_track_kernel
from planner.tracking.drive import NO_AMPLITUDES, NO_PERIODS, step_rms
from planner.tracking.moments.window_moments import SERIES_NORM, smooth_series
from planner.tracking.mount_frame import Array, MountGeometry, refraction_pair
from planner.tracking.pointing_model import PointingTerms, geometry_of, polar_error, without_pole
from planner.tracking.polar_axis import STANDARD_PRESSURE, STANDARD_TEMPERATURE, VISUAL, pole_turn

# Hour angles are sampled this finely between the first start and the end of the last exposure.
TRACK_STEP_DEG = 1.0
CENTRE = u.Quantity([0, 0], u.deg)
UNMOVED = u.Quantity([0, 0], u.arcsec)


@dataclass(frozen=True)
class BudgetTerm:
    """The motion that one cause, or all of them, makes on one axis."""

    term: Annotated[str, "cause, or total"]
    axis: Annotated[Axis, "that it moves the star along"]
    rms: Annotated[u.Quantity[u.arcsec], "about the mean place of one exposure"]


def track_hour_angles(hour_angle: u.Quantity[u.deg], longest: u.Quantity[u.s]) -> u.Quantity[u.deg]:
    """Return hour angles (n,) in equal steps of at most 1 deg that cover exposures starting at `hour_angle`.

    `hour_angle` (h,): starts of exposures. `longest`: the longest exposure.
    Returns (n,): at least three, from the first start to the end of the last exposure: a track for `exposure_motion`.
    """
    starts = hour_angle.to_value(u.deg)
    end = np.max(starts) + (np.max(longest) * SIDEREAL_RATE).to_value(u.deg)
    count = max(3, int(np.ceil((end - np.min(starts)) / TRACK_STEP_DEG)) + 1)
    return np.linspace(np.min(starts), end, count) * u.deg


@check_units
def motion_budget(
    *, latitude: u.Quantity[u.deg], declination: u.Quantity[u.deg], hour_angle: u.Quantity[u.deg],
    duration: u.Quantity[u.s], polar_altitude_error: u.Quantity[u.arcmin] = 0 * u.arcmin,
    polar_azimuth_error: u.Quantity[u.arcmin] = 0 * u.arcmin, rate: DriveRate = "sidereal", rate_error_ppm: float = 0.0,
    flexure_ra: u.Quantity[u.arcsec / u.h] = STILL, flexure_dec: u.Quantity[u.arcsec / u.h] = STILL,
    pressure: u.Quantity[u.hPa] = STANDARD_PRESSURE, temperature: u.Quantity = STANDARD_TEMPERATURE,
    wavelength: u.Quantity[u.nm] = VISUAL, pointing_terms: PointingTerms | None = None, pier_side: PierSide = "east",
    periods: u.Quantity[u.s] = NO_PERIODS, amplitudes: u.Quantity[u.arcsec] = NO_AMPLITUDES,
    jitter: u.Quantity[u.arcsec] = 0 * u.arcsec,
    wander: u.Quantity[u.arcsec / u.min**0.5] = 0 * u.arcsec / u.min**0.5,
    encoder_step: u.Quantity[u.arcsec] = 0 * u.arcsec, corner: u.Quantity[u.deg] = CENTRE,
    dispersion: u.Quantity[u.arcsec] = UNMOVED,
) -> tuple[BudgetTerm, ...]:
    """Return how far each cause alone moves an unguided star within one exposure, and all of them together.

    Parameters
    ----------
    hour_angle : Quantity [angle], (h,)
        Starts of exposures over the target's window; the rms is taken over all of them and all phases of the drive.
    duration : Quantity [s], scalar
        Of one exposure.
    corner : Quantity [angle], (2,)
        The worst corner's place east and north of the field centre, for the rotation of the field.
    dispersion : Quantity [arcsec], (2,)
        rms by which the air draws the star out along RA and Dec within the filter.
    latitude, declination, polar_altitude_error, polar_azimuth_error, rate, rate_error_ppm, flexure_ra, flexure_dec, \
pressure, temperature, wavelength, pointing_terms, pier_side
        As for `smooth_track`.
    periods, amplitudes, jitter, wander, encoder_step
        As for `exposure_motion`.

    Returns
    -------
    tuple of BudgetTerm
        One per cause and axis: polar altitude error, polar azimuth error, refraction, drive rate, pointing model,
        flexure, periodic error, wander, jitter, encoder, dispersion, field rotation at the corner (refraction at the
        chosen rate; the other causes in still air without it); then ``total drift`` (all smooth causes with their
        signs, at the field centre: less than its parts where they cancel) and ``total`` (all, at the corner).

    Raises
    ------
    InvalidInputError
        As for `smooth_track` and `exposure_motion`.
    """
    phi = latitude.to_value(u.rad)
    place = (phi, declination.to_value(u.rad), track_hour_angles(hour_angle, duration).to_value(u.rad))
    constants = refraction_pair(pressure, temperature, wavelength)
    flexure = (flexure_ra.to_value(u.arcsec / u.s), flexure_dec.to_value(u.arcsec / u.s))
    terms = pointing_terms if pointing_terms is not None else PointingTerms()
    mount = mount_geometry(latitude, polar_altitude_error, polar_azimuth_error, pointing_terms, pier_side)
    altitude, azimuth = _axis(terms, latitude, polar_altitude_error, polar_azimuth_error)
    perfect = geometry_of(None, phi, pier_side)
    # Without air there is no King rate to follow; a drive that knows the mount removes each cause it knows.
    airless: DriveRate = "model" if rate == "model" else "sidereal"
    causes = {
        "polar altitude error": smooth_track_kernel(_on_axis(perfect, phi, altitude, 0), *place, airless),
        "polar azimuth error": smooth_track_kernel(_on_axis(perfect, phi, 0, azimuth), *place, airless),
        "refraction": smooth_track_kernel(perfect, *place, rate, 0.0, constants),
        "drive rate": smooth_track_kernel(perfect, *place, airless, rate_error_ppm),
        "pointing model": smooth_track_kernel(geometry_of(without_pole(terms), phi, pier_side), *place, airless),
        "flexure": smooth_track_kernel(perfect, *place, airless, flexure_arcsec_per_s=flexure),
    }
    whole = smooth_track_kernel(mount, *place, rate, rate_error_ppm, constants, flexure)
    at = (duration.reshape(1).to_value(u.s), hour_angle.to_value(u.rad))
    smooth = {name: _smooth(track, at) for name, track in causes.items()}
    drive = _drive_variances(at[0], periods, amplitudes, declination, jitter, wander, encoder_step)
    drive["dispersion"] = dispersion.to_value(u.arcsec) ** 2
    together = {"field rotation at the corner": _smooth(_turning(whole), at, corner),
                "total drift": _smooth(whole, at),
                # Over all phases of the drive its covariance with the drift is nil.
                "total": _smooth(whole, at, corner) + sum(drive.values())}
    return tuple(BudgetTerm(name, axis_name, np.sqrt(variance) * u.arcsec)
                 for name, pair in {**smooth, **drive, **together}.items()
                 for axis_name, variance in zip(AXES, pair, strict=True))


def _axis(terms: PointingTerms, latitude: u.Quantity, altitude_error: u.Quantity,
          azimuth_error: u.Quantity) -> tuple[float, float]:
    """Return the polar errors in radians, whether they come as such or in the pointing terms."""
    if terms.polar_altitude == 0 and terms.polar_azimuth == 0:
        return altitude_error.to_value(u.rad), azimuth_error.to_value(u.rad)
    error = polar_error(terms, latitude=latitude)
    return error.altitude_error.to_value(u.rad), error.azimuth_error.to_value(u.rad)


def _on_axis(mount: MountGeometry, latitude: float, altitude_error: float, azimuth_error: float) -> MountGeometry:
    """Return the mount with its polar axis off by these angles, in radians."""
    return replace(mount, pole=pole_turn(latitude, altitude_error, azimuth_error))


def _turning(track: SmoothTrack) -> SmoothTrack:
    """Return the track without the drift of its centre."""
    return SmoothTrack(track.hour_angle, 0 * track.ra, 0 * track.dec, track.rotation, track.field_map)


def _smooth(track: SmoothTrack, at: tuple[Array, Array], offset: u.Quantity = CENTRE) -> Array:
    """Return the variance (2,) of the smooth motion on either axis, arcsec2, averaged over the hour angle."""
    series = smooth_series(track, *at, offset.to_value(u.arcsec).reshape(1, 2))
    return np.mean(np.sum(series**2 * SERIES_NORM, axis=-1), axis=(1, 2))


def _drive_variances(seconds: Array, periods: u.Quantity, amplitudes: u.Quantity, declination: u.Quantity,
                     jitter: u.Quantity, wander: u.Quantity, encoder_step: u.Quantity) -> dict[str, Array]:
    """Return the variance (2,) of each drive error on either axis, arcsec2, averaged over its phase."""
    cosine2 = np.cos(declination.to_value(u.rad)) ** 2
    share = 1 - np.sinc(seconds / periods.to_value(u.s)) ** 2
    periodic = float(np.sum(amplitudes.to_value(u.arcsec) ** 2 / 2 * share)) * cosine2
    walk = wander.to_value(u.arcsec / u.s**0.5) ** 2 * seconds[0] / 6
    step2 = step_rms(encoder_step).to_value(u.arcsec) ** 2 * cosine2
    return {"periodic error": np.array([periodic, 0.0]), "wander": np.array([walk, walk]),
            "jitter": np.broadcast_to(jitter.to_value(u.arcsec) ** 2, 2), "encoder": np.array([step2, 0.0])}
