"""A table that the log contradicts gives way: its spread grows to how far off the log shows it to be."""

from dataclasses import replace

import numpy as np
from astropy import units as u

from planner.measure.drift.fit.periodic_terms import basis
from planner.measure.drift.model import AxisReport, DriftReport
from planner.measure.posterior.data import KEYS, LogData
from planner.measure.posterior.fit import Posterior
from planner.measure.posterior.prior import MountPrior

# Of its own spread, within which a figure of the table stands. A normal figure lies beyond once in 370.
STANDS = 3.0
ROUNDS = 30
YIELD = KEYS[:3]  # rate and axis; what flexure may do is counted, but it does not grow


def giving_way(prior: MountPrior, report: DriftReport, data: LogData, *, keep_axis: bool = False) -> MountPrior:
    """Return the prior with wider spreads where the log contradicts it; with `keep_axis` of the rate alone.

    What the log says together with the spreads of all is the place of each figure. Beyond `STANDS` spreads, all taken
    together, each takes its share of the excess, in quadrature, as its spread; repeated until nothing grows. So where
    the log cannot tell a rate from an axis both grow, and both errors say so.
    """
    if not data.placed:
        return prior
    own = np.array([getattr(prior, key).sigma for key in KEYS])
    yields = np.isin(KEYS, YIELD[:1] if keep_axis else YIELD)
    precision, pull = (sum(parts) for parts in zip(*(
        _said(report, axis, data, y, columns * own) for axis, y, columns in (
            (report.ra, data.ra, data.ra_columns), (report.dec, data.dec, data.dec_columns))), strict=True))
    wide = np.ones(own.size)
    for _ in range(ROUNDS):
        off = np.linalg.solve(precision + np.diag(wide**-2.0), pull)
        off = off * yields
        excess = max(1 - STANDS**2 / max(float(off @ off), STANDS**2), 0.0)
        wide = np.maximum(wide, np.sqrt(1 + excess * off**2))
    grown = {key: replace(getattr(prior, key), sigma=float(sigma * more))
             for key, sigma, more in zip(KEYS, own, wide, strict=True)}
    return replace(prior, **grown)


def disagreement(before: MountPrior, found: Posterior) -> tuple[str, ...]:
    """Return which figures the log puts further from the table than it stands."""
    return tuple(key for key, off in zip(YIELD, found.mean, strict=False)
                 if abs(off) > STANDS * getattr(before, key).sigma)


def _said(report: DriftReport, axis: AxisReport, data: LogData, y: np.ndarray, columns: np.ndarray
          ) -> tuple[np.ndarray, np.ndarray]:
    """Return precision (k, k) and pull (k,) of figures by one axis alone, its waves and their periods left open."""
    if axis.slow_turn:
        return np.zeros((columns.shape[1], columns.shape[1])), np.zeros(columns.shape[1])
    differences = data.differences
    time = differences.time_s
    waves = basis(time, np.array([1 / term.period.to_value(u.s) for term in axis.periodic]))
    sines, cosines = waves[:, ::2], waves[:, 1::2]
    phases = np.array([term.phase.to_value(u.rad) for term in axis.periodic])
    slopes = (time - time.mean())[:, None] / np.ptp(time) * (cosines * np.cos(phases) - sines * np.sin(phases))
    open_columns = np.diff(np.column_stack([waves, slopes]), axis=0)
    white = max(float(report.jitter.to_value(u.arcsec)) / data.rows**0.5, 5e-3)
    ratio = float(report.wander.value) ** 2 / 60 * differences.mean_step_s / white**2
    every = np.column_stack([columns, y, open_columns])
    gram = every.T @ differences.whiten(ratio, every) / white**2
    known = columns.shape[1] + 1
    left = gram[:known, :known] - gram[:known, known:] @ np.linalg.lstsq(
        gram[known:, known:], gram[known:, :known], rcond=None)[0]
    return left[:-1, :-1], left[:-1, -1]
