"""Why a star drifted: the polar axis and the drive rate that explain a measured drift log, and the mount they make.

What the air and the rest of the mount's table do is computed with `planner.tracking.smooth_track` and taken off first.
A declination drift near the meridian tells of the azimuth of the axis, one near the east or west horizon of its
altitude; one log of some minutes therefore knows one combination of the two, and a log of hours knows both.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import given
from planner.constants import SIDEREAL_RATE
from planner.errors import InvalidInputError
from planner.measure.drift.model import DriftLog, DriftReport
from planner.measure.drift.periodic_terms import basis
from planner.measure.drift.wander_noise import Differences, averaged
from planner.rig import Mount, PeriodicTerm
from planner.tracking import PointingTerms, smooth_track
from planner.tracking.drive import encoder_step, step_rms
from planner.tracking.polar_axis import STANDARD_PRESSURE, STANDARD_TEMPERATURE

# Steps of the numerical derivatives; the track is linear in both to a part in a thousand at this size.
POLAR_STEP = 1 * u.arcmin
RATE_STEP_PPM = 1000.0
# Both errors of the axis are told apart when neither is less certain than this: a fifth of common polar errors.
SEPARABLE = 1 * u.arcmin
NODES = 61
# Nearer to the pole the RA axis hardly moves the star.
HIGHEST_DECLINATION = 85 * u.deg
# Logs from which the advice comes out as from the true mount in tests/session/test_closed_loop.py.
SHORTEST_MIN, CYCLES = 60.0, 5.0
FASTER = u.arcsec / u.min
Air = dict[str, u.Quantity]  # pressure and temperature
ONE_ANGLE = "This log knows one angle of the polar axis only: the {} error is fitted, the {} error stays as it was."


@dataclass(frozen=True, kw_only=True)
class ImpliedPolarError:
    """The polar axis that explains a declination drift; each `_uncertainty` is 1 sigma."""

    altitude_error: u.Quantity  # both at once; axis too high: positive
    altitude_uncertainty: u.Quantity
    azimuth_error: u.Quantity  # axis east of the pole: positive, an azimuth angle
    azimuth_uncertainty: u.Quantity
    separable: bool
    altitude_alone: u.Quantity  # if the azimuth is as the mount's table says
    altitude_alone_uncertainty: u.Quantity
    azimuth_alone: u.Quantity  # if the altitude is as the mount's table says
    azimuth_alone_uncertainty: u.Quantity
    least: u.Quantity  # smallest angle between axis and pole that explains the drift at the middle of the log


def _hour_angles(log: DriftLog, time_s: np.ndarray) -> u.Quantity:
    """Return the hour angle at times from the first row."""
    return given(log.hour_angle) + (SIDEREAL_RATE * time_s * u.s).to(u.deg)


def _track(log: DriftLog, mount: Mount, time_s: np.ndarray, **changes: Any) -> tuple[np.ndarray, np.ndarray]:
    """Return RA and Dec in arcsec (n,) that the mount's table predicts at times from the first row, with changes."""
    nodes_s = np.linspace(-1e-3, time_s[-1] + 1e-3, NODES)
    settings: dict[str, Any] = {
        "polar_altitude_error": mount.polar_altitude_error, "polar_azimuth_error": mount.polar_azimuth_error,
        "rate": mount.rate, "rate_error_ppm": 0.0, "flexure_ra": mount.flexure_ra, "flexure_dec": mount.flexure_dec,
        "pointing_terms": PointingTerms(tube_flexure=mount.tube_flexure),
    }
    track = smooth_track(latitude=log.latitude, declination=log.declination, hour_angle=_hour_angles(log, nodes_s),
                         **{**settings, **changes})
    return tuple(np.interp(time_s, nodes_s, part.to_value(u.arcsec)) for part in (track.ra, track.dec))


def implied_polar_error(
    report: DriftReport, mount: Mount | None = None, *, pressure: u.Quantity = STANDARD_PRESSURE,
    temperature: u.Quantity = STANDARD_TEMPERATURE,
) -> ImpliedPolarError | None:
    """Return the polar axis that explains the declination drift of a log.

    Parameters
    ----------
    report : DriftReport
        Of a log that knows its declination, hour angle and latitude.
    mount : Mount, optional
        Its flexure and rate are taken off first, and its polar error is what the other angle is held at;
        a perfect mount if not given.
    pressure, temperature : Quantity, scalar
        Of the air, for refraction.

    Returns
    -------
    ImpliedPolarError or None
        None if the log does not say where the star was.
    """
    log = report.log
    if log.declination is None or log.hour_angle is None or log.latitude is None:
        return None
    mount = mount or Mount(name="perfect")
    time_s, air = report.dec.time_s, {"pressure": pressure, "temperature": temperature}
    still = _track(log, mount, time_s, **air)[1]
    held = (mount.polar_altitude_error, mount.polar_azimuth_error)
    names = ("polar_altitude_error", "polar_azimuth_error")
    pulls = [(_track(log, mount, time_s, **air, **{name: value + POLAR_STEP})[1] - still)
             for name, value in zip(names, held, strict=True)]
    measured = report.dec.model_arcsec + report.dec.residual_arcsec - still
    waves = basis(time_s, np.array([1 / term.period.to_value(u.s) for term in report.dec.periodic]))
    fits = [_pole_fit(report.differences, measured, [*chosen, *waves.T], len(chosen))
            for chosen in (pulls, pulls[:1], pulls[1:])]
    on_pole = _track(log, mount, time_s, **air, polar_altitude_error=0 * u.deg, polar_azimuth_error=0 * u.deg)[1]
    return _with_units(fits, held, report.dec.rate.to_value(FASTER) - _slope(time_s, on_pole))


def _slope(time_s: np.ndarray, track_arcsec: np.ndarray) -> float:
    """Return the mean rate of a track (n,) in arcsec/min."""
    return 60 * float(np.polynomial.Polynomial.fit(time_s, track_arcsec, 1).convert().coef[1])


def _pole_fit(differences: Differences, measured: np.ndarray, columns: list[np.ndarray], count: int) -> np.ndarray:
    """Return values and errors (2, count) of the first `count` columns, in units of `POLAR_STEP`."""
    fit = averaged(differences, np.diff(measured), np.diff(np.column_stack(columns), axis=0))
    return np.array([fit.coefficients[:count], np.sqrt(np.diag(fit.covariance)[:count])])


def _with_units(
    fits: list[np.ndarray], held: tuple[u.Quantity, u.Quantity], rate_arcsec_per_min: float
) -> ImpliedPolarError:
    both, altitude, azimuth = (fit * POLAR_STEP for fit in fits)
    rotation = SIDEREAL_RATE.to(u.rad / u.min, u.dimensionless_angles()).to_value(u.rad / u.min)
    return ImpliedPolarError(
        altitude_error=held[0] + both[0, 0], altitude_uncertainty=both[1, 0],
        azimuth_error=held[1] + both[0, 1], azimuth_uncertainty=both[1, 1],
        separable=bool(np.all(both[1] < SEPARABLE)),
        altitude_alone=held[0] + altitude[0, 0], altitude_alone_uncertainty=altitude[1, 0],
        azimuth_alone=held[1] + azimuth[0, 0], azimuth_alone_uncertainty=azimuth[1, 0],
        least=(abs(rate_arcsec_per_min) / rotation * u.arcsec).to(u.arcmin),
    )


@dataclass(frozen=True, kw_only=True)
class MountChange:
    """One key of the mount's table, as text, before and after the measurement."""

    key: str
    before: str
    after: str


@dataclass(frozen=True, kw_only=True)
class MeasuredMount:
    """The mount's table with what a drift log measured in it."""

    mount: Mount
    changes: tuple[MountChange, ...]
    notes: tuple[str, ...]


def measured_mount(
    mount: Mount, report: DriftReport, *, centroid_noise: u.Quantity = 0 * u.arcsec, keep_axis: bool = False,
    pressure: u.Quantity = STANDARD_PRESSURE, temperature: u.Quantity = STANDARD_TEMPERATURE,
) -> MeasuredMount:
    """Return the mount with rate error, periodic terms, jitter, wander and polar axis from a drift log.

    Parameters
    ----------
    mount : Mount
        As the equipment file has it: its flexure, rate choice and everything not measured stay.
    report : DriftReport
        Of a log that knows its declination at least.
    centroid_noise : Quantity [arcsec], scalar
        How well one row of the log places the star, rms per axis, air included; taken off the jitter in quadrature,
        as is the encoder's step.
    keep_axis : bool
        The polar axis was measured by itself: it stays, and the declination drift that it leaves is flexure.
    pressure, temperature : Quantity, scalar
        Of the air, for refraction.

    Raises
    ------
    InvalidInputError
        If the log does not give a declination, or one too near to the pole to tell of the RA drive.
    """
    declination = _usable_declination(report.log)
    notes: list[str] = []
    air = {"pressure": pressure, "temperature": temperature}
    dec_values = _flexure_values if keep_axis else _polar_values
    values: dict[str, object] = dec_values(mount, report, air, notes)
    values["rate_error_ppm"] = _rate_error(replace(mount, **values), report, air, notes)  # type: ignore[arg-type]
    scale = 1 / np.cos(declination.to_value(u.rad))
    values["periodic"] = tuple(
        PeriodicTerm(period=_rounded(term.period, term.period_error),
                     amplitude=_rounded(scale * term.amplitude, scale * term.amplitude_error))
        for term in report.ra.periodic
    )
    values["jitter"] = _rounded(_own_jitter(mount, report, centroid_noise), report.ra.jitter_error)
    values["wander"] = _rounded(report.wander, report.ra.wander_error)
    new = replace(mount, **values)  # type: ignore[arg-type]
    notes += _too_short(report)
    changes = [MountChange(key=key, before=_text(getattr(mount, key)),
                           after=_text(getattr(new, key))) for key in values]
    return MeasuredMount(mount=new, notes=tuple(notes),
                         changes=tuple(change for change in changes if change.before != change.after))


def _too_short(report: DriftReport) -> list[str]:
    """Return a warning if the log is shorter than what its figures need."""
    longest = max((term.period.to_value(u.min) for term in report.ra.periodic), default=0.0)
    need, minutes = max(SHORTEST_MIN, CYCLES * longest), report.duration.to_value(u.min)
    if minutes > 0.95 * need:
        return []
    return [f"This log of {minutes:.0f} min is short: drive rate, wander and slow periodic terms need at least "
            f"{need:.0f} min."]


def _own_jitter(mount: Mount, report: DriftReport, centroid_noise: u.Quantity) -> u.Quantity:
    """Return the white noise less what the star's image and the steps of the encoder add to it, rms over both axes."""
    steps = 0 * u.arcsec if mount.encoder_counts is None else step_rms(encoder_step(mount.encoder_counts))
    declination = _usable_declination(report.log)
    in_both = (steps * np.cos(declination.to_value(u.rad))) ** 2 / 2  # RA alone has them
    return np.sqrt(np.maximum(report.jitter**2 - centroid_noise**2 - in_both, 0 * u.arcsec**2))


def _usable_declination(log: DriftLog) -> u.Quantity:
    if log.declination is None:
        raise InvalidInputError("dec_deg", "(missing)", "is needed to turn the log into the mount's errors",
                                "Write # dec_deg: 12.3 at the top of the log, or give --dec.")
    if abs(log.declination) > HIGHEST_DECLINATION:
        raise InvalidInputError("dec_deg", f"{log.declination.to_value(u.deg):g}",
                                "is too near to the pole to measure the RA drive", "Take a star below 85 deg.")
    return log.declination


def _flexure_values(mount: Mount, report: DriftReport, air: Air, notes: list[str]) -> dict[str, object]:
    """Return the creep in declination that a known polar axis leaves."""
    log = report.log
    if log.hour_angle is None or log.latitude is None:
        notes.append("The flexure stays as it was: the log gives no hour angle or latitude.")
        return {}
    left = report.dec.rate - _slope(report.dec.time_s, _track(log, mount, report.dec.time_s, **air)[1]) * FASTER
    rate = u.arcsec / u.h
    return {"flexure_dec": _rounded((mount.flexure_dec + left).to(rate), report.dec.rate_error.to(rate))}


def _polar_values(mount: Mount, report: DriftReport, air: Air, notes: list[str]) -> dict[str, object]:
    """Return the keys of the polar axis that the log tells, and note what it cannot."""
    implied = implied_polar_error(report, mount, **air)
    if implied is None:
        notes.append("The polar axis stays as it was: the log gives no hour angle or latitude.")
        return {}
    if implied.separable:
        return {"polar_altitude_error": _rounded(implied.altitude_error, implied.altitude_uncertainty),
                "polar_azimuth_error": _rounded(implied.azimuth_error, implied.azimuth_uncertainty)}
    across = np.cos(given(report.log.latitude).to_value(u.rad))
    if implied.azimuth_alone_uncertainty * across <= implied.altitude_alone_uncertainty:
        notes.append(ONE_ANGLE.format("azimuth", "altitude"))
        return {"polar_azimuth_error": _rounded(implied.azimuth_alone, implied.azimuth_alone_uncertainty)}
    notes.append(ONE_ANGLE.format("altitude", "azimuth"))
    return {"polar_altitude_error": _rounded(implied.altitude_alone, implied.altitude_alone_uncertainty)}


def _rate_error(mount: Mount, report: DriftReport, air: Air, notes: list[str]) -> float:
    """Return the drive-rate error in ppm that the RA drift leaves after everything else in the mount's table."""
    log, time_s = report.log, report.ra.time_s
    declination = given(log.declination)
    if log.hour_angle is None or log.latitude is None:
        notes.append("The RA drift is taken as the drive's alone: the log gives no hour angle or latitude.")
        per_ppm = 1e-6 * SIDEREAL_RATE.to_value(u.arcsec / u.min) * np.cos(declination.to_value(u.rad))
        return float(f"{report.ra.rate.to_value(u.arcsec / u.min) / per_ppm:.3g}")
    still = _track(log, mount, time_s, **air)[0]
    pull = _track(log, mount, time_s, **air, rate_error_ppm=RATE_STEP_PPM)[0] - still
    rates = [_slope(time_s, track) for track in (still, pull)]
    error_ppm = report.ra.rate_error.to_value(u.arcsec / u.min) / abs(rates[1]) * RATE_STEP_PPM
    ppm = (report.ra.rate.to_value(u.arcsec / u.min) - rates[0]) / rates[1] * RATE_STEP_PPM
    return float(_rounded(ppm * u.one, error_ppm * u.one).value)


def _rounded(value: u.Quantity, error: u.Quantity) -> u.Quantity:
    """Return the value cut to two digits of its error, at most six of its own."""
    size = float(abs(error.to_value(value.unit)))
    if not np.isfinite(size) or size == 0:
        return value
    digits = 1 - int(np.floor(np.log10(size)))
    return float(f"{np.round(value.value, digits):.6g}") * value.unit


def _text(value: object) -> str:
    if isinstance(value, tuple):
        terms = (f"{term.period.to_value(u.s):g} s: {term.amplitude.to_value(u.arcsec):g} arcsec" for term in value)
        return ", ".join(terms) or "none"
    return f"{value:g}"
