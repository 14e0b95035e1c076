"""What a drift log says about the mount: rates, periodic terms, wander and jitter of an unguided star.

A log holds the place of a star that the mount followed without guiding: `ra` positive where the star went east of
its first place, `dec` positive north, both true arcsec on the sky. Each axis is drift (straight, or bent if the data
insist) + periodic terms + a random walk (*wander*) + white noise (*jitter*; it holds the noise of measuring the star
too). All are fitted together, uneven steps and gaps as they are; see `wander_noise` and `periodic_terms`.
"""

from dataclasses import dataclass, replace

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.measure.log_cleaning import CleanLog, clean
from planner.measure.periodic_terms import Detection, basis, frequency_fit, search
from planner.measure.wander_noise import AveragedFit, Differences, averaged, best, deletion_residuals, fit_all

# Per axis; half a percent of pure-noise logs would show a term on one of the two.
FALSE_ALARM = 0.002
# Twice the gain of log-likelihood at which a drift counts as bent: one in a thousand straight ones (chi-squared, 1 free).
BEND_GAIN = 10.8
# A row further than this from what the others predict is set aside: one good row in 26 million.
OUTLIER_SIGMA = 5.5
FEWEST_ROWS = 12
HIGHEST_ORDER = 6
ROOT_MINUTE = u.arcsec / u.min**0.5


@dataclass(frozen=True, kw_only=True)
class DriftLog:
    """Places of one unguided star, and what is known about where it was."""

    time: u.Quantity  # (n,) s, any zero point
    ra: u.Quantity  # (n,) arcsec on the sky, east positive
    dec: u.Quantity  # (n,) arcsec, north positive
    declination: u.Quantity | None = None
    hour_angle: u.Quantity | None = None  # at time zero, west positive
    latitude: u.Quantity | None = None

    def __post_init__(self) -> None:
        if not self.time.shape == self.ra.shape == self.dec.shape or self.time.ndim != 1:
            raise InvalidInputError("drift log", f"{self.time.shape}, {self.ra.shape}, {self.dec.shape}",
                                    "time, ra and dec must have one row each", "Give three columns of one length.")


@dataclass(frozen=True, kw_only=True)
class MeasuredTerm:
    """One periodic term with its errors (1 sigma)."""

    period: u.Quantity
    period_error: u.Quantity
    amplitude: u.Quantity  # zero to peak, on the sky where the log was taken
    amplitude_error: u.Quantity
    phase: u.Quantity  # of the sine at time zero of the log
    false_alarm: float
    base_period: u.Quantity | None = None  # of the common base, if it is a harmonic or a base
    order: int | None = None  # 1 for the base itself


@dataclass(frozen=True, kw_only=True)
class AxisReport:
    """One axis of the log; errors are 1 sigma and know of the wander."""

    rate: u.Quantity  # arcsec/min, in the middle of the log
    rate_error: u.Quantity
    bend: u.Quantity | None  # change of the rate, arcsec/min/h; None where a straight drift is enough
    bend_error: u.Quantity | None
    jitter: u.Quantity  # rms of the white noise
    jitter_error: u.Quantity
    wander: u.Quantity  # random walk after one minute
    wander_error: u.Quantity
    periodic: tuple[MeasuredTerm, ...]
    time_s: np.ndarray  # (n,) rows used
    residual_arcsec: np.ndarray  # (n,) what drift and periodic terms leave
    model_arcsec: np.ndarray  # (n,) drift and periodic terms


@dataclass(frozen=True, kw_only=True)
class DriftReport:
    """The log, both axes, and what was done with its rows."""

    log: DriftLog
    ra: AxisReport
    dec: AxisReport
    rows: int
    used: int
    notes: tuple[str, ...]
    outlier_times: u.Quantity
    duration: u.Quantity
    step: u.Quantity

    @property
    def jitter(self) -> u.Quantity:
        """White noise per axis, rms over both."""
        return np.sqrt((self.ra.jitter**2 + self.dec.jitter**2) / 2)

    @property
    def wander(self) -> u.Quantity:
        """Random walk per axis after one minute, rms over both."""
        return np.sqrt((self.ra.wander**2 + self.dec.wander**2) / 2)


def analyse_drift(log: DriftLog, *, false_alarm: float = FALSE_ALARM) -> DriftReport:
    """Return rates, periodic terms, wander and jitter of a drift log.

    Parameters
    ----------
    log : DriftLog
        n rows, in any order; rows that are not finite and repeated ones are dropped.
    false_alarm : float
        Chance, per axis, that pure noise shows a periodic term.

    Returns
    -------
    DriftReport
        Periods from two typical steps to two thirds of the log's length are searched on both axes.

    Raises
    ------
    InvalidInputError
        If fewer than 12 usable rows are left, or nothing in them changes.
    """
    rows = clean(log.time.to_value(u.s), log.ra.to_value(u.arcsec), log.dec.to_value(u.arcsec), FEWEST_ROWS)
    for _ in range(3):
        differences = Differences(rows.time_s)
        fits = [_fit_axis(differences, y, false_alarm) for y in (rows.ra_arcsec, rows.dec_arcsec)]
        bad = np.logical_or(*(np.abs(fit.deletion) > OUTLIER_SIGMA for fit in fits))
        if not bad.any() or rows.time_s.size - bad.sum() < FEWEST_ROWS:
            break
        rows = rows.without(bad)
    ra, dec = (_axis_report(fit, rows) for fit in fits)
    return DriftReport(
        log=log, ra=ra, dec=dec, rows=log.time.size, used=rows.time_s.size * rows.block, notes=tuple(rows.notes()),
        outlier_times=rows.outlier_times_s * u.s, duration=(rows.time_s[-1] - rows.time_s[0]) * u.s,
        step=np.median(np.diff(rows.time_s)) / rows.block * u.s,
    )


@dataclass(frozen=True)
class _AxisFit:
    """One axis in plain floats: columns (n, k) = drift (1 or 2), sines and cosines, then slopes in frequency."""

    fit: AveragedFit
    detections: list[Detection]
    frequency_errors_hz: np.ndarray
    drifts: int
    columns: np.ndarray
    values: np.ndarray
    deletion: np.ndarray

    @property
    def explained(self) -> int:
        """Number of columns that describe the star's motion."""
        return self.drifts + 2 * len(self.detections)


def _fit_axis(differences: Differences, values: np.ndarray, false_alarm: float) -> _AxisFit:
    """Return drift, terms and noise of one axis (n,)."""
    y = np.diff(values)
    centred = differences.time_s - differences.time_s.mean()
    powers = np.column_stack([centred, centred**2])
    drifts = 2 if _bends(differences, y, powers) else 1
    detections = search(differences, y, np.diff(powers[:, :drifts], axis=0), threshold=false_alarm)
    if drifts == 2 and detections:  # a long term may have looked like a bend
        straight = search(differences, y, np.diff(powers[:, :1], axis=0), threshold=false_alarm)
        waves = basis(differences.time_s, np.array([term.frequency_hz for term in straight]))
        if not _bends(differences, y, powers, waves):
            drifts, detections = 1, straight
    frequencies = np.array([term.frequency_hz for term in detections])
    columns = np.column_stack([powers[:, :drifts], basis(differences.time_s, frequencies)])
    errors = np.empty(0)
    if detections:
        errors = frequency_fit(differences, y, np.diff(powers[:, :drifts], axis=0), frequencies)[1]
    return _finished(differences, values, columns, drifts, detections, errors)


def _finished(
    differences: Differences, values: np.ndarray, columns: np.ndarray, drifts: int, detections: list[Detection],
    errors: np.ndarray,
) -> _AxisFit:
    """Return the last fit, with slopes in frequency beside the waves so that unknown periods widen all errors."""
    y = np.diff(values)
    slopes = np.empty((values.size, 0))
    if detections:
        linear = best(fit_all(differences, y, np.diff(columns, axis=0)), differences.count)
        amplitudes, waves = linear.coefficients[drifts:], columns[:, drifts:]
        centred = (differences.time_s - differences.time_s.mean())[:, None]
        slopes = centred * (waves[:, 1::2] * amplitudes[::2] - waves[:, ::2] * amplitudes[1::2])
    everything = np.column_stack([columns, slopes])
    fit = averaged(differences, y, np.diff(everything, axis=0))
    residual = y - np.diff(everything, axis=0) @ fit.coefficients
    deletion = deletion_residuals(differences, fit.ratio, residual) / fit.scale_arcsec
    return _AxisFit(fit, detections, errors, drifts, columns, values, deletion)


def _bends(differences: Differences, y: np.ndarray, powers: np.ndarray, waves: np.ndarray | None = None) -> bool:
    """Return whether a quadratic drift is demanded beyond a straight one and the waves given."""
    gains = []
    for drifts in (1, 2):
        columns = powers[:, :drifts] if waves is None else np.column_stack([powers[:, :drifts], waves])
        fits = fit_all(differences, y, np.diff(columns, axis=0))
        gains.append(best(fits, differences.count).likelihood(differences.count))
    return 2 * (gains[1] - gains[0]) > BEND_GAIN


def _axis_report(axis: _AxisFit, rows: CleanLog) -> AxisReport:
    """Return the axis with units; the jitter of averaged rows is brought back to single rows."""
    fit, errors = axis.fit, np.sqrt(np.diag(axis.fit.covariance))
    model = axis.columns @ fit.coefficients[: axis.explained]
    model += np.mean(axis.values - model)
    bent = axis.drifts == 2
    root = np.sqrt(rows.block)
    minute = u.arcsec / u.min
    return AxisReport(
        rate=60 * fit.coefficients[0] * minute, rate_error=60 * errors[0] * minute,
        bend=2 * 60 * 3600 * fit.coefficients[1] * minute / u.h if bent else None,
        bend_error=2 * 60 * 3600 * errors[1] * minute / u.h if bent else None,
        jitter=root * fit.jitter_arcsec * u.arcsec, jitter_error=root * fit.jitter_error_arcsec * u.arcsec,
        wander=np.sqrt(60) * fit.wander_arcsec_per_root_s * ROOT_MINUTE,
        wander_error=np.sqrt(60) * fit.wander_error_arcsec_per_root_s * ROOT_MINUTE,
        periodic=with_bases(_terms(axis)), time_s=rows.time_s, residual_arcsec=axis.values - model, model_arcsec=model,
    )


def _terms(axis: _AxisFit) -> list[MeasuredTerm]:
    """Return the terms of one axis, the largest amplitude first."""
    terms = []
    for index, detection in enumerate(axis.detections):
        first = axis.drifts + 2 * index
        sine, cosine = axis.fit.coefficients[first : first + 2]
        covariance = axis.fit.covariance[first : first + 2, first : first + 2]
        amplitude = np.hypot(sine, cosine)
        direction = np.array([sine, cosine]) / amplitude
        period = 1 / detection.frequency_hz
        terms.append(MeasuredTerm(
            period=period * u.s, period_error=period**2 * axis.frequency_errors_hz[index] * u.s,
            amplitude=amplitude * u.arcsec, amplitude_error=np.sqrt(direction @ covariance @ direction) * u.arcsec,
            phase=np.degrees(np.arctan2(cosine, sine)) % 360 * u.deg, false_alarm=detection.false_alarm,
        ))
    return sorted(terms, key=lambda term: -term.amplitude.value)


def with_bases(terms: list[MeasuredTerm]) -> tuple[MeasuredTerm, ...]:
    """Return the terms with those marked that are a base and its harmonics: periods P, P/2, P/3 … within 3 errors."""
    marked = list(terms)
    for base in sorted(range(len(terms)), key=lambda index: -terms[index].period.value):
        if marked[base].order is not None:
            continue
        for other in range(len(terms)):
            order = _order(terms[base], terms[other])
            if order and marked[other].order is None:
                marked[base] = replace(marked[base], base_period=terms[base].period, order=1)
                marked[other] = replace(marked[other], base_period=terms[base].period, order=order)
    return tuple(marked)


def _order(base: MeasuredTerm, other: MeasuredTerm) -> int | None:
    """Return how many of the other's periods fit the base's, if that is a whole number within its error."""
    ratio = float(base.period / other.period)
    error = ratio * np.hypot(float(base.period_error / base.period), float(other.period_error / other.period))
    order = round(ratio)
    # An error above a tenth would let any ratio pass for a whole number.
    if 2 <= order <= HIGHEST_ORDER and abs(ratio - order) < 3 * error < 0.3:
        return order
    return None
