"""What a drift log says about the mount: rates, periodic terms, wander and jitter of an unguided star.

A log holds the place of a star that the mount followed without guiding: `ra` positive where the star went east of
its first place, `dec` positive north, both true arcsec on the sky. Each axis is drift (bent, as polar axis and air
bend it) + periodic terms + a random walk (*wander*) + white noise (*jitter*; it holds the noise of measuring the star
too). All are fitted together, uneven steps and gaps as they are; see `wander_noise` and `periodic_terms`.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import given
from planner.constants import SIDEREAL_RATE
from planner.measure.drift.fit.harmonics import MeasuredTerm, with_bases
from planner.measure.drift.fit.log_cleaning import CleanLog, clean, gaps_in
from planner.measure.drift.fit.periodic_terms import Detection, basis, search
from planner.measure.drift.fit.slow_turn import CURVES, HIDDEN_SLOPE, fastest_hz, legendre, slow_turn
from planner.measure.drift.fit.steps import FALSE_STEP, find_steps
from planner.measure.drift.fit.wander_noise import AveragedFit, Differences, Regression, averaged, deletion_residuals
from planner.measure.drift.model import AxisReport, DriftLog, DriftReport
from planner.tracking import smooth_track
from planner.tracking.polar_axis import STANDARD_PRESSURE, STANDARD_TEMPERATURE

# Per axis and description of the drift (straight, bent): half a percent of pure-noise logs would show a term.
FALSE_ALARM = 0.001
# Twice the gain of log-likelihood at which a drift counts as bent: one in a thousand straight ones (chi-squared).
BEND_GAIN = 10.8
# A row further than this from what the others predict is set aside: one good row in 26 million.
OUTLIER_SIGMA = 5.5
# Degree of the bent drift: hours near the horizon, where refraction and polar axis bend it, need the fourth.
HIGHEST_DRIFT = 4
FEWEST_ROWS = 12
LOOKS = 3  # for steps, at most
FAR_S = 60.0  # over which rows are averaged to tell a walk from slow air
FEWEST_IN_FAR, FEWEST_FAR = 6, 15  # rows in a mean, means in a log
FAR_SIGMA = 3.0
SHOWN_SIGMA = 2.5  # errors by which a wander differs from none; else it is told as a bound
LEAST_SEEN = 0.2  # of an amplitude: a wave that rows average away further is not scaled up more
REFRACTION_NODES = 181
ROOT_MINUTE = u.arcsec / u.min**0.5


def analyse_drift(
    log: DriftLog, *, false_alarm: float = FALSE_ALARM, pressure: u.Quantity = STANDARD_PRESSURE,
    temperature: u.Quantity = STANDARD_TEMPERATURE,
) -> DriftReport:
    """Return rates, periodic terms, wander and jitter of a drift log.

    `log`: n rows, in any order; rows that are not finite and repeated ones are dropped. `false_alarm`: chance, per
    axis, that pure noise shows a periodic term. `pressure` and `temperature`: of the air: if the log says where the
    star was, the bend that refraction gives its path is taken off first.
    Periods from two typical steps to two thirds of the log's length are searched on both axes.
    Raises InvalidInputError if fewer than 12 usable rows are left, or nothing in them changes.
    """
    rows = clean(log.time.to_value(u.s), log.ra.to_value(u.arcsec), log.dec.to_value(u.arcsec), FEWEST_ROWS)
    exposure_s = 0.0 if log.exposure is None else log.exposure.to_value(u.s) * rows.block
    for _ in range(3):
        bends = _refraction_bends(log, rows.time_s, {"pressure": pressure, "temperature": temperature})
        straight = (rows.ra_arcsec - bends[0], rows.dec_arcsec - bends[1])
        breaks, fits = _fit_axes(rows.time_s, straight, exposure_s, false_alarm)
        bad = np.logical_or(*(np.abs(fit.deletion) > OUTLIER_SIGMA for fit in fits))
        if not bad.any() or rows.time_s.size - bad.sum() < FEWEST_ROWS:
            break
        rows = rows.without(bad)
    ra, dec = (_axis_report(fit, rows, bend, exposure_s) for fit, bend in zip(fits, bends, strict=True))
    return DriftReport(
        log=log, ra=ra, dec=dec, rows=log.time.size, used=rows.time_s.size * rows.block,
        notes=(*rows.notes(), *_step_notes(fits, breaks)), breaks=breaks, row_exposure_s=exposure_s,
        far_wander=_far_wander(fits, rows),
        outlier_times=(rows.origin_s + rows.outlier_times_s) * u.s, duration=(rows.time_s[-1] - rows.time_s[0]) * u.s,
        step=np.median(np.diff(rows.time_s)) / rows.block * u.s,
    )


def _fit_axes(time_s: np.ndarray, axes: tuple[np.ndarray, ...], exposure_s: float, false_alarm: float
              ) -> tuple[np.ndarray, list["_AxisFit"]]:
    """Return breaks and fits of both axes (n,): steps are looked for again once the terms are known.

    A worm that is not known yet passes for wander, beside which small steps do not stand out.
    """
    def fitted(breaks: np.ndarray) -> list[_AxisFit]:
        differences = Differences(time_s, exposure_s, breaks)
        return [_fit_axis(differences, y, false_alarm, turns=turns) for y, turns in
                zip(axes, (True, False), strict=True)]

    smooth, steps = (legendre(time_s, HIGHEST_DRIFT),) * 2, np.array([], dtype=int)
    for look in range(LOOKS):
        known, steps = steps, np.union1d(steps, find_steps(time_s, axes, exposure_s, smooth))
        if look and steps.size == known.size:
            break
        breaks = steps
        gaps = np.setdiff1d(gaps_in(time_s), breaks)
        if gaps.size:
            breaks = np.union1d(breaks, _moved_in_gaps(fitted(np.union1d(breaks, gaps)), gaps))
        fits = fitted(breaks)
        smooth = fits[0].columns, fits[1].columns
    return breaks, fits


def _far_wander(fits: list["_AxisFit"], rows: CleanLog) -> u.Quantity | None:
    """Return the wander of means over `FAR_S` where that of the rows is surely more; None where both agree.

    A walk looks the same at any step; slow air does not, because it comes back.
    """
    steps = int(FAR_S / np.median(np.diff(rows.time_s)))
    count = rows.time_s.size // max(steps, 1)
    if steps < FEWEST_IN_FAR or count < FEWEST_FAR:
        return None
    found = np.array([_wander_of_means(fit, steps, count) for fit in fits])
    near = np.array([[fit.fit.wander_arcsec_per_root_s, fit.fit.wander_error_arcsec_per_root_s] for fit in fits])
    (far, far_error), (close, error) = (
        (np.sqrt(np.mean(pair[:, 0] ** 2)), np.hypot(*pair[:, 1]) / 2) for pair in (found, near))
    if close - far < FAR_SIGMA * np.hypot(far_error, error):
        return None
    return np.sqrt(60) * far * ROOT_MINUTE


def _wander_of_means(axis: "_AxisFit", steps: int, count: int) -> tuple[float, float]:
    """Return the wander of means of so many rows and its error, arcsec per root second."""
    moved = np.zeros(axis.values.size)
    moved[axis.differences.breaks + 1] = axis.steps
    left = axis.values - np.cumsum(moved) - axis.columns @ axis.fit.coefficients[: axis.explained]
    time, means = (row[: steps * count].reshape(count, steps).mean(axis=1) for row in (axis.differences.time_s, left))
    differences = Differences(time, float(np.median(np.diff(time))))
    fit = averaged(differences, np.diff(means), np.diff(time)[:, None])
    return fit.wander_arcsec_per_root_s, fit.wander_error_arcsec_per_root_s


def _moved_in_gaps(fits: list["_AxisFit"], gaps: np.ndarray) -> np.ndarray:
    """Return the gaps across which the star was surely moved, of fits that leave it open across all of them.

    A step that the walk of so long a wait and the unsure drift and terms do not explain; both axes together.
    """
    evidence = np.zeros(gaps.size)
    for axis in fits:
        differences, fit, columns = axis.differences, axis.fit, np.diff(axis.columns, axis=0)[gaps]
        shown = slice(0, axis.explained)
        steps = axis.steps[np.searchsorted(differences.breaks, gaps)]
        walk = fit.wander_arcsec_per_root_s**2 + fit.wander_error_arcsec_per_root_s**2
        noise = 2 * fit.jitter_arcsec**2 + walk * np.diff(differences.time_s)[gaps]
        evidence += steps**2 / (noise + np.einsum("gi,ij,gj->g", columns, fit.covariance[shown, shown], columns))
    return gaps[evidence > 2 * np.log(gaps.size / FALSE_STEP)]


def _step_notes(fits: list["_AxisFit"], breaks: np.ndarray) -> list[str]:
    """Return what was found of steps, in a sentence."""
    if not breaks.size:
        return []
    size = float(np.median(np.hypot(*(fit.steps for fit in fits))))
    return [f"{breaks.size} step{'s' if breaks.size > 1 else ''} of about {size:.1f}″ (dithers, a snag, a star "
            "centred anew?) fitted and taken out."]


def _refraction_bends(log: DriftLog, time_s: np.ndarray, air: dict[str, Any]) -> list[np.ndarray]:
    """Return what refraction adds to a straight drift, RA and Dec in arcsec (n,); 0 if the star's place is unknown."""
    if not log.placed:
        return [np.zeros(time_s.size)] * 2
    nodes_s = np.linspace(0, time_s[-1], REFRACTION_NODES)
    hour_angle = given(log.hour_angle) + (SIDEREAL_RATE * nodes_s * u.s).to(u.deg)
    track = smooth_track(latitude=given(log.latitude), declination=given(log.declination), hour_angle=hour_angle, **air)
    paths = (np.interp(time_s, nodes_s, part.to_value(u.arcsec)) for part in (track.ra, track.dec))
    line = np.polynomial.Polynomial
    return [path - line.fit(time_s, path, 1)(time_s) for path in paths]


@dataclass(frozen=True)
class _AxisFit:
    """One axis in plain floats: columns (n, k) = drift (2 to 4), sines and cosines, then slopes in frequency."""

    fit: AveragedFit
    detections: list[Detection]
    frequency_errors_hz: np.ndarray
    drifts: int
    columns: np.ndarray
    values: np.ndarray
    deletion: np.ndarray
    steps: np.ndarray  # (b,) arcsec, of each break
    differences: Differences
    bent: bool = False  # surely
    slow: bool = False  # by a turn of which the log holds a part

    @property
    def explained(self) -> int:
        """Number of columns that describe the star's motion."""
        return self.drifts + 2 * len(self.detections)


def _fit_axis(differences: Differences, values: np.ndarray, false_alarm: float, *, turns: bool) -> _AxisFit:
    """Return drift, terms and noise of one axis (n,), which wheels turn or not."""
    y = np.diff(values)
    drift = legendre(differences.time_s, HIGHEST_DRIFT)
    drifts = _drifts_needed(differences, y, drift)
    choices = []
    for degree in {drifts, 1}:  # a long periodic term may look like a bend, and a bend like a long term
        found = search(differences, y, np.diff(drift[:, :degree], axis=0), threshold=false_alarm)
        waves = basis(differences.time_s, np.array([term.frequency_hz for term in found]))
        degree = min(degree, _drifts_needed(differences, y, drift, waves)) if found else degree
        columns = np.column_stack([drift[:, :degree], waves])
        choices.append((_cost(differences, y, columns, len(found)), degree, found, columns))
    _, drifts, detections, columns = min(choices, key=lambda choice: choice[0])
    bent = drifts > 1
    frequencies = np.array([term.frequency_hz for term in detections])
    curves = slow_turn(differences, y, bent=bent, frequencies_hz=frequencies) if turns else None
    if curves is not None:
        drifts, turn = curves.shape[1], np.diff(curves, axis=0)
        detections = [term for term in search(differences, y, turn, threshold=false_alarm)
                      if term.frequency_hz > fastest_hz(differences.time_s)]
        waves = basis(differences.time_s, np.array([term.frequency_hz for term in detections]))
        columns = np.column_stack([curves, waves])
    elif not bent:  # a bend too weak to be shown would pass for wander
        drifts, columns = 2, np.column_stack([drift[:, :2], columns[:, 1:]])
    return replace(_finished(differences, values, columns, drifts, detections), bent=bent,
                   slow=curves is not None)


def _cost(differences: Differences, y: np.ndarray, columns: np.ndarray, terms: int) -> float:
    """Return Schwarz's information criterion of a description: each term has its period as a parameter too."""
    fit = Regression(differences, y, np.diff(columns, axis=0)).best()
    return (columns.shape[1] + terms) * np.log(differences.count) - 2 * fit.likelihood(differences.count)


def _finished(
    differences: Differences, values: np.ndarray, columns: np.ndarray, drifts: int, detections: list[Detection]
) -> _AxisFit:
    """Return the last fit, with slopes in frequency beside the waves so that unknown periods widen all errors."""
    y = np.diff(values)
    slopes = np.empty((values.size, 0))
    if detections:
        linear = Regression(differences, y, np.diff(columns, axis=0)).best()
        amplitudes, waves = linear.coefficients[drifts:], columns[:, drifts:]
        centred = 2 * np.pi * (differences.time_s - differences.time_s.mean())[:, None]
        slopes = centred * (waves[:, 1::2] * amplitudes[::2] - waves[:, ::2] * amplitudes[1::2])
    everything = np.column_stack([columns, slopes])
    fit = averaged(differences, y, np.diff(everything, axis=0))
    residual = y - np.diff(everything, axis=0) @ fit.coefficients
    deletion = deletion_residuals(differences, fit.ratio, residual) / fit.scale_arcsec
    errors = np.sqrt(np.diag(fit.covariance)[columns.shape[1]:])
    return _AxisFit(fit, detections, errors, drifts, columns, values, deletion,
                    differences.step_sizes(fit.ratio, residual), differences)


def _drifts_needed(
    differences: Differences, y: np.ndarray, drift: np.ndarray, waves: np.ndarray | None = None
) -> int:
    """Return the smallest degree of drift beyond which the likelihood gains little, waves fitted beside if given."""
    first = 0 if waves is None else waves.shape[1]
    columns = drift if waves is None else np.column_stack([waves, drift])
    line = Regression(differences, y, np.diff(columns, axis=0))
    gains = [2 * line.best(first + drifts).likelihood(differences.count) for drifts in range(1, drift.shape[1] + 1)]
    needed = 1
    for drifts in range(2, len(gains) + 1):
        if gains[drifts - 1] - gains[needed - 1] > BEND_GAIN * (drifts - needed):
            needed = drifts
    return needed


def _axis_report(axis: _AxisFit, rows: CleanLog, bend_arcsec: np.ndarray, exposure_s: float) -> AxisReport:
    """Return the axis with units; the jitter of averaged rows is brought back to single rows."""
    fit, errors = axis.fit, np.sqrt(np.diag(axis.fit.covariance))
    model = axis.columns @ fit.coefficients[: axis.explained]
    steps = np.zeros(axis.values.size)
    steps[axis.differences.breaks + 1] = axis.steps
    steps = np.cumsum(steps)
    model += np.mean(axis.values - steps - model)
    root = np.sqrt(rows.block)
    minute = u.arcsec / u.min
    per_s = 2 / (rows.time_s[-1] - rows.time_s[0])  # of the polynomials' variable, which runs from -1 to 1
    hidden = HIDDEN_SLOPE * np.linalg.norm(fit.coefficients[1 : axis.drifts]) if axis.slow else 0.0
    bend = 3 * per_s**2 * 60 * 3600  # the second derivative of the second polynomial is 3
    shown = fit.wander_arcsec_per_root_s > SHOWN_SIGMA * fit.wander_error_arcsec_per_root_s and not (
        axis.slow and axis.drifts < CURVES)
    return AxisReport(
        rate=60 * per_s * fit.coefficients[0] * minute,
        rate_error=60 * per_s * np.hypot(errors[0], hidden) * minute,
        bend=bend * fit.coefficients[1] * minute / u.h if axis.bent else None,
        bend_error=bend * errors[1] * minute / u.h if axis.bent else None,
        jitter=root * fit.jitter_arcsec * u.arcsec, jitter_error=root * fit.jitter_error_arcsec * u.arcsec,
        wander=np.sqrt(60) * fit.wander_arcsec_per_root_s * ROOT_MINUTE,
        wander_error=np.sqrt(60) * fit.wander_error_arcsec_per_root_s * ROOT_MINUTE,
        wander_bound=None if shown else np.sqrt(60) * fit.wander_bound_arcsec_per_root_s * ROOT_MINUTE,
        periodic=with_bases(_terms(axis, exposure_s)), time_s=rows.time_s, residual_arcsec=axis.values - steps - model,
        model_arcsec=model + bend_arcsec, steps_arcsec=steps, slow_turn=axis.slow,
    )


def seen_share(period_s: float, exposure_s: float) -> float:
    """Return the share of a wave's amplitude that rows of an exposure show: the mean over the exposure, sin(x)/x."""
    return max(abs(float(np.sinc(exposure_s / period_s))), LEAST_SEEN)


def _terms(axis: _AxisFit, exposure_s: float) -> list[MeasuredTerm]:
    """Return the terms of one axis, the largest amplitude first."""
    terms = []
    for index, detection in enumerate(axis.detections):
        first = axis.drifts + 2 * index
        sine, cosine = axis.fit.coefficients[first : first + 2]
        covariance = axis.fit.covariance[first : first + 2, first : first + 2]
        amplitude = np.hypot(sine, cosine)
        direction = np.array([sine, cosine]) / amplitude
        period = 1 / detection.frequency_hz
        seen = seen_share(period, exposure_s)
        terms.append(MeasuredTerm(
            period=period * u.s, period_error=period**2 * axis.frequency_errors_hz[index] * u.s,
            amplitude=amplitude / seen * u.arcsec,
            amplitude_error=np.sqrt(direction @ covariance @ direction) / seen * u.arcsec,
            phase=np.degrees(np.arctan2(cosine, sine)) % 360 * u.deg, false_alarm=detection.false_alarm,
        ))
    return sorted(terms, key=lambda term: -term.amplitude.value)
