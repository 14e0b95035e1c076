"""A drift log's report in words."""

import numpy as np
from astropy import units as u

from planner.checks import given
from planner.measure.drift.causes import ImpliedPolarError
from planner.measure.drift.fit.harmonics import MeasuredTerm
from planner.measure.drift.fit.slow_turn import SHORT_LOG_S
from planner.measure.drift.model import FASTER, AxisReport, DriftReport
from planner.measure.error_text import with_error
from planner.signs import minus

SLOW_TURN = ("This log is too short for a slow worm: the error of the RA rate counts a part of a turn, and no term "
             f"that slow is told. Log {SHORT_LOG_S / 60:.0f} minutes or more.")
JUST_AS_LARGE = 1.005  # shown with three digits, it is the same figure
LEAST_CHANCE = 1e-9  # below it the digits of a false-alarm probability mean nothing


def drift_headline(report: DriftReport) -> str:
    """Return the log in one line: both drifts and the largest periodic term."""
    rates = [f"{name} {axis.rate.to_value(FASTER):+.2f}″" for name, axis in (("RA", report.ra), ("Dec", report.dec))]
    line = minus(f"Drift a minute: {rates[0]}, {rates[1]}")
    if not report.ra.periodic:
        return f"{line}; no periodic term in RA"
    term = report.ra.periodic[0]
    told = report.log.declination
    where = "" if told is None else minus(f" at Dec {told.to_value(u.deg):+.0f}°")
    size = f"{2 * term.amplitude.to_value(u.arcsec):.1f}″ peak to peak"
    return f"{line}; {size}{where} every {term.period.to_value(u.s):.0f} s"


def drift_lines(report: DriftReport) -> list[str]:
    """Return at what declination terms are told, which axes drift along a curve, and which show no wander."""
    axes = (("RA", report.ra), ("Dec", report.dec))
    lines = [SLOW_TURN] if report.ra.slow_turn else []
    lines += _where_told(report)
    lines += [minus(f"The {name} drift is not linear: its rate changes by {_bend(axis)}/min an hour.")
              for name, axis in axes if axis.bend is not None and not axis.slow_turn]
    still = [name for name, axis in axes if axis.wander_bound is not None]
    return lines if not still else [
        *lines, f"No wander is shown in {' and '.join(still)} (< is a bound of 95 %), but one may hide: the errors of "
        "drift and polar axis count it, and are three times too wide where there is none."]


def _where_told(report: DriftReport) -> list[str]:
    """Return at what declination the drive's terms are told, where that is not on the equator."""
    if report.log.declination is None or not report.ra.periodic:
        return []
    declination, times = report.log.declination.to_value(u.deg), 1 / np.cos(report.log.declination.to_value(u.rad))
    if times < JUST_AS_LARGE:
        return []
    return [minus(f"Terms in RA are told as the star shows them, at Dec {declination:+.0f}°; the mount's table "
                  f"has them on the equator, {times:.3g} times as large.")]


def _bend(axis: AxisReport) -> str:
    """Return how the rate of a bent drift changes, with its error."""
    bend, error = (given(value).to_value(FASTER / u.h) for value in (axis.bend, axis.bend_error))
    return with_error(bend, error, "″", sign="+")


def noise_rows(report: DriftReport) -> list[dict[str, str]]:
    """Return drift, scatter (jitter, air and centroid) and wander of both axes with their errors, one row each."""
    return [_noise_row(name, axis) for name, axis in
            (("RA (east positive)", report.ra), ("Dec (north positive)", report.dec))]


def _noise_row(name: str, axis: AxisReport) -> dict[str, str]:
    jitter, error = axis.jitter.to_value(u.arcsec), axis.jitter_error.to_value(u.arcsec)
    return {
        "axis": name,
        "drift (″/min)": with_error(axis.rate.to_value(FASTER), axis.rate_error.to_value(FASTER), sign="+"),
        "scatter of a row (″ rms)": with_error(jitter, error) if jitter > 2 * error else
        f"< {jitter + 2 * error:.2g}",
        "wander (″/√min)": with_error(axis.wander.value, axis.wander_error.value) if axis.wander_bound is None else
        f"< {axis.wander_bound.value:.2g}",
    }


def term_rows(report: DriftReport) -> list[dict[str, str]]:
    """Return the periodic terms of both axes, one row each."""
    return [_term_row(name, term) for name, axis in (("RA", report.ra), ("Dec", report.dec)) for term in axis.periodic]


def _term_row(name: str, term: MeasuredTerm) -> dict[str, str]:
    return {
        "axis": name, "period (s)": with_error(term.period.to_value(u.s), term.period_error.to_value(u.s)),
        "peak to peak (″)": with_error(2 * term.amplitude.to_value(u.arcsec),
                                       2 * term.amplitude_error.to_value(u.arcsec)),
        "false alarm": chance_text(term.false_alarm), "family": family_text(term),
    }


def chance_text(probability: float) -> str:
    """Return a false-alarm probability."""
    return "< 10⁻⁹" if probability < LEAST_CHANCE else f"{probability:.0e}"


def family_text(term: MeasuredTerm) -> str:
    """Return which base a term is a harmonic of; empty for one that stands alone."""
    if term.order is None or term.base_period is None:
        return ""
    return "base" if term.order == 1 else f"1/{term.order} of {term.base_period.to_value(u.s):.1f} s"


def polar_lines(polar: ImpliedPolarError, *, of_mount: bool) -> list[str]:
    """Return which polar axis the declination drift implies; `of_mount`: a mount's table was used, else none at all."""
    known = "as the mount's table says" if of_mount else "right"
    def both(value: str, error: str, words: str) -> str:
        size, spread = (getattr(polar, name).to_value(u.arcmin) for name in (value, error))
        return f"{with_error(size, spread, '′', sign='+')} {words}"

    up, east = "in altitude (too high +)", "in azimuth (east +)"
    if polar.separable:
        return [f"Polar axis: {both('altitude_error', 'altitude_uncertainty', up)}, "
                f"{both('azimuth_error', 'azimuth_uncertainty', east)}."]
    return [
        f"Polar axis: at least {polar.least.to_value(u.arcmin):.1f}′ off the pole; this log cannot say in which "
        "direction.",
        f"If its altitude is {known}: {both('azimuth_alone', 'azimuth_alone_uncertainty', east)}.",
        f"If its azimuth is {known}: {both('altitude_alone', 'altitude_alone_uncertainty', up)}.",
    ]
