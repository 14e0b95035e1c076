"""How far a star moves within one exposure, over the hours of a night and the phases of the drive."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import check_units, require_positive
from planner.errors import InvalidInputError
from planner.tracking.drift import SmoothTrack
from planner.tracking.drive import NO_AMPLITUDES, NO_PERIODS, drive_phases
from planner.tracking.moments.drive_moments import Drive, Turns
from planner.tracking.moments.window_moments import ExposureGrid, smooth_series
from planner.tracking.mount_frame import Array

CENTRE = u.Quantity([[0, 0]], u.deg)


@dataclass(frozen=True)
class ExposureMotion:
    """The star's motion about its mean place, for (k places, t durations, h hour angles, p drive phases)."""

    variance_major: u.Quantity  # arcsec2 (k, t, h, p), along the direction of most motion
    variance_minor: u.Quantity  # arcsec2 (k, t, h, p)
    excess_kurtosis: Array  # (k, t, h, p), of the motion along the major axis; -1.2 uniform, -1.5 sinusoid, 0 Gaussian
    position_angle: u.Quantity  # deg (k, t, h, p), of the major axis, north through east, 0 to 180
    variance_ra: u.Quantity  # arcsec2 (k, t, h, p)
    variance_dec: u.Quantity  # arcsec2 (k, t, h, p)


@check_units
def exposure_motion(
    track: SmoothTrack, *, duration: u.Quantity[u.s], hour_angle: u.Quantity[u.deg], phases: int = 32,
    periods: u.Quantity[u.s] = NO_PERIODS, amplitudes: u.Quantity[u.arcsec] = NO_AMPLITUDES,
    declination: u.Quantity[u.deg] = 0 * u.deg, jitter: u.Quantity[u.arcsec] = 0 * u.arcsec,
    wander: u.Quantity[u.arcsec / u.min**0.5] = 0 * u.arcsec / u.min**0.5,
    encoder_step: u.Quantity[u.arcsec] = 0 * u.arcsec, offsets: u.Quantity[u.deg] = CENTRE,
) -> ExposureMotion:
    """Return how far a star wanders about its mean place within exposures.

    Parameters
    ----------
    track : SmoothTrack
        From `smooth_track` or `guided_track`; it must cover every exposure from start to end.
    duration : Quantity [s], (t,)
        Of the exposures.
    hour_angle : Quantity [angle], (h,)
        At the start of the exposures.
    phases : int
        Number p of drive phases, spread evenly over all periodic terms and always the same.
    periods, amplitudes : Quantity [s] and [arcsec], (m,)
        Of the drive's periodic terms, zero to peak, on the equator.
    declination : Quantity [angle], scalar
        Drive errors count times its cosine.
    jitter : Quantity [arcsec], scalar or (2,)
        rms per axis of motion faster than an exposure, both axes or (ra, dec).
    wander : Quantity [arcsec/min(1/2)], scalar
        Random walk per axis: rms after one minute. About the mean of a window T its variance is s^2 T/6.
    encoder_step : Quantity [arcsec], scalar
        Step of the polar axis, on the equator.
    offsets : Quantity [angle], (k, 2)
        The star's place east and north of the field centre.

    Returns
    -------
    ExposureMotion
        Arrays (k, t, h, p). On a track in steps of 1 deg the second moments are within 1e-3 of dense sampling, the
        kurtosis within 0.05. Wander counts by its expectation, as Gaussian.

    Raises
    ------
    InvalidInputError
        If an exposure leaves the track or is not longer than nothing, or periods and amplitudes do not pair.
    """
    if periods.shape != amplitudes.shape or periods.ndim != 1:
        raise InvalidInputError("periods", f"{periods.size} periods, {amplitudes.size} amplitudes",
                                "must be pairs of period and amplitude", "Give one amplitude per period.")
    require_positive("periods", periods, u.s, "Give the time of one turn.")
    require_positive("duration", duration, u.s, "Give the length of an exposure.")
    cosine = np.cos(declination.to_value(u.rad))
    seconds, places = np.atleast_1d(duration.to_value(u.s)), offsets.to_value(u.arcsec).reshape(-1, 2)
    turns = Turns(seconds, periods.to_value(u.s), drive_phases(phases, periods.size))
    windows = ExposureGrid(
        smooth_series(track, seconds, np.atleast_1d(hour_angle.to_value(u.rad)), places),
        Drive(turns, amplitudes.to_value(u.arcsec) * cosine), places=len(places), seconds=seconds,
        jitter_arcsec=np.broadcast_to(jitter.to_value(u.arcsec), 2),
        walk_arcsec=wander.to_value(u.arcsec / u.s**0.5), step_arcsec=encoder_step.to_value(u.arcsec) * cosine)
    return _motion(windows)


def _motion(windows: ExposureGrid) -> ExposureMotion:
    """Return the motion with its units, place by place."""
    moments = windows.moments()
    major, minor = moments.principal()
    angle = np.degrees(np.arctan2(2 * moments.across, moments.dec - moments.ra) / 2)
    angle = np.where(angle < 0, angle + 180, angle)

    def shaped(values: Array, unit: u.UnitBase) -> u.Quantity:
        return u.Quantity(windows.by_place(values), unit, copy=False)

    square = u.arcsec**2
    return ExposureMotion(shaped(major, square), shaped(minor, square), windows.by_place(windows.kurtosis(moments)),
                          shaped(angle, u.deg), shaped(moments.ra, square), shaped(moments.dec, square))
