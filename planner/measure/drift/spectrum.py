"""The evidence for periodic terms against the period: the curve that `report` searches, and the level that counts.

Evidence is the gain of log-likelihood that a sine and a cosine of a period bring, drift, wander and jitter being free
on both sides; where it passes the level, noise alone would do so in one log of a thousand.
"""

from dataclasses import dataclass

import numpy as np

from planner.measure.drift.fit.periodic_terms import basis, false_alarm, gain_curve, trial_frequencies
from planner.measure.drift.model import AxisReport, DriftReport
from planner.measure.drift.report import FALSE_ALARM, HIGHEST_DRIFT

LINES = 500  # points of the curve that is handed out, evenly spaced in the logarithm of the period
LEVEL_STEPS = 60


@dataclass(frozen=True)
class DriftSpectrum:
    """Evidence for a periodic term, one axis; the largest within each step of the period, shortest first."""

    period_s: np.ndarray  # (n,)
    evidence: np.ndarray  # (n,)
    left: np.ndarray  # (n,) after the terms that were found
    level: float  # that noise alone reaches anywhere with the chance below
    false_alarm: float


def drift_spectrum(report: DriftReport, axis: AxisReport) -> DriftSpectrum:
    """Return the spectrum of one axis of a report.

    `axis`: its `ra` or `dec`.
    What bends the drift, refraction included, is fitted beside as a polynomial of the fourth degree where the report
    knows of a bend. The curve is the fast one that proposes terms: a term was accepted by its exact evidence, the
    others being fitted, so that a weak one beside a strong one may stay below the level here.
    """
    differences = report.differences
    frequencies = trial_frequencies(axis.time_s)
    y = np.diff(axis.model_arcsec + axis.residual_arcsec)
    bent = axis.bend is not None or report.log.hour_angle is not None
    place = 2 * axis.time_s / axis.time_s[-1] - 1
    drift = np.polynomial.legendre.legvander(place, HIGHEST_DRIFT if bent else 1)[:, 1:]
    waves = basis(axis.time_s, np.array([1 / term.period.to_value("s") for term in axis.periodic]))
    columns = np.diff(drift, axis=0)
    curves = [gain_curve(differences, y, fitted, frequencies)
              for fitted in (columns, np.column_stack([columns, np.diff(waves, axis=0)]))]
    level = _level(axis.time_s, columns.shape[1])
    period, evidence, left = _thinned(1 / frequencies, *curves)
    return DriftSpectrum(period_s=period, evidence=evidence, left=left, level=level, false_alarm=FALSE_ALARM)


def _level(time_s: np.ndarray, parameters: int) -> float:
    """Return the evidence whose false-alarm probability is `FALSE_ALARM`, by halving."""
    low, high = 0.0, float(time_s.size)
    for _ in range(LEVEL_STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if false_alarm(time_s, middle, parameters) > FALSE_ALARM else (low, middle)
    return high


def _thinned(period_s: np.ndarray, *curves: np.ndarray) -> tuple[np.ndarray, ...]:
    """Return the largest values of curves (n,) within even steps of the logarithm of the period; no evidence is 0."""
    order = np.argsort(period_s)
    steps = np.linspace(np.log(period_s.min()), np.log(period_s.max()), min(LINES, period_s.size) + 1)[:-1]
    bins = np.searchsorted(steps, np.log(period_s[order]), side="right")
    starts = np.flatnonzero(np.diff(bins, prepend=0))
    largest = [np.maximum(np.maximum.reduceat(curve[order], starts), 0.0) for curve in curves]
    return period_s[order][starts], *largest
