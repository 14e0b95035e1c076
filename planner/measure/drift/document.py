"""A drift log's report as plain numbers, texts and lists: what `--json` prints and a page lets one download."""

from typing import Any

import numpy as np
from astropy import units as u

from planner.measure.drift.answer import DriftAnswer
from planner.measure.drift.causes import ImpliedPolarError
from planner.measure.drift.fit.harmonics import MeasuredTerm
from planner.measure.drift.model import AxisReport

FASTER = u.arcsec / u.min


def drift_rows(axis: AxisReport) -> dict[str, np.ndarray]:
    """Return the rows of one axis that were used, (n,) each: minutes from the first, place, fit and what it leaves."""
    return {"minutes": axis.time_s / 60, "place_arcsec": axis.model_arcsec + axis.residual_arcsec,
            "fit_arcsec": axis.model_arcsec, "left_arcsec": axis.residual_arcsec}


def drift_document(answer: DriftAnswer, saved: str | None = None) -> dict[str, Any]:
    """Return what a log says, and the file it was saved in."""
    report, polar, measured, turn = answer.report, answer.polar, answer.measured, answer.turn
    document: dict[str, Any] = {
        "rows": report.rows, "used_rows": report.used, "duration_s": report.duration.to_value(u.s),
        "step_s": report.step.to_value(u.s), "outliers_s": report.outlier_times.to_value(u.s),
        "jitter_rms_arcsec": report.jitter.to_value(u.arcsec), "wander_arcsec_per_root_min": report.wander.value,
        "periodic": [_term(term) for term in report.ra.periodic],
        "dec_periodic": [_term(term) for term in report.dec.periodic],
        "polar": None if polar is None else _polar(polar), "notes": list(report.notes), "saved": saved,
        "mount_notes": list(answer.remarks), "steps_s": report.ra.time_s[report.breaks + 1],
        "camera_turn_deg": None if turn is None else turn.angle.to_value(u.deg),
        "camera_turn_error_deg": None if turn is None else turn.error.to_value(u.deg),
        "doubts": [doubt.plain for doubt in answer.doubts],
        "changes": [] if measured is None else [vars(figure) for figure in measured.figures],
    }
    for name, axis in (("ra", report.ra), ("dec", report.dec)):
        document |= {
            f"{name}_rate_arcsec_per_min": axis.rate.to_value(FASTER),
            f"{name}_rate_arcsec_per_min_error": axis.rate_error.to_value(FASTER),
            f"{name}_bend_arcsec_per_min_per_h": None if axis.bend is None else axis.bend.to_value(FASTER / u.h),
            f"{name}_jitter_rms_arcsec": axis.jitter.to_value(u.arcsec),
            f"{name}_jitter_error_arcsec": axis.jitter_error.to_value(u.arcsec),
            f"{name}_wander_arcsec_per_root_min": axis.wander.value,
            f"{name}_wander_error_arcsec_per_root_min": None if axis.wander_bound is not None else
            axis.wander_error.value,
            f"{name}_wander_below_arcsec_per_root_min": None if axis.wander_bound is None else axis.wander_bound.value,
        }
    return document


def _term(term: MeasuredTerm) -> dict[str, Any]:
    return {
        "period_s": term.period.to_value(u.s), "period_error_s": term.period_error.to_value(u.s),
        "amplitude_arcsec": term.amplitude.to_value(u.arcsec), "phase_deg": term.phase.to_value(u.deg),
        "amplitude_error_arcsec": term.amplitude_error.to_value(u.arcsec), "false_alarm": term.false_alarm,
        "base_period_s": None if term.base_period is None else term.base_period.to_value(u.s), "order": term.order,
    }


def _polar(polar: ImpliedPolarError) -> dict[str, Any]:
    names = ("altitude_error", "altitude_uncertainty", "azimuth_error", "azimuth_uncertainty", "altitude_alone",
             "altitude_alone_uncertainty", "azimuth_alone", "azimuth_alone_uncertainty", "least")
    figures = {f"{name}_arcmin": getattr(polar, name).to_value(u.arcmin) for name in names}
    return {"separable": polar.separable, **figures}
