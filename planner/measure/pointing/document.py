"""A pointing fit as plain numbers, texts and lists: what `--json` prints and a page lets one download."""

from typing import Any

import numpy as np
from astropy import units as u

from planner.measure.pointing.drift import drift_rates
from planner.measure.pointing.results import HarmonicTerm, PointingFit
from planner.rig.choices import PierSide
from planner.tracking.pointing_model import term_meanings

STEP = 15.0  # deg of hour angle between drift rates


def pointing_document(fit: PointingFit, lines: np.ndarray) -> dict[str, Any]:
    """Return the fit; `lines` (n,) are the line numbers of the sightings in their file."""
    axis, error = fit.polar_axis, fit.polar_axis_error
    meanings = term_meanings(fit.latitude)
    order = [term.name for term in fit.terms]
    residual = fit.residual.to_value(u.arcsec)
    return {
        "terms": {term.name: {
            "value_arcsec": term.value.to_value(u.arcsec) if term.separable else None,
            "error_arcsec": term.error.to_value(u.arcsec) if term.separable else None,
            "meaning": meanings[term.name],
        } for term in fit.terms},
        "tied": [{"terms": list(group.names), "as_one": group.names[0], "value_arcsec": group.value.to_value(u.arcsec),
                  "error_arcsec": group.error.to_value(u.arcsec)} for group in fit.tied],
        "held_at_zero": list(fit.held),
        "correlations": {"terms": order, "matrix": fit.correlations[:len(order), :len(order)]},
        "harmonics": [_harmonic(term) for term in fit.harmonics],
        "rms_before_arcsec": fit.rms_before.to_value(u.arcsec), "rms_after_arcsec": fit.rms_after.to_value(u.arcsec),
        "rms_held_out_arcsec": fit.rms_held_out.to_value(u.arcsec),
        "polar_axis": None if axis is None or error is None else {
            "altitude_error_arcmin": axis.altitude_error.to_value(u.arcmin),
            "azimuth_error_arcmin": axis.azimuth_error.to_value(u.arcmin),
            "altitude_uncertainty_arcmin": error.altitude_error.to_value(u.arcmin),
            "azimuth_uncertainty_arcmin": error.azimuth_error.to_value(u.arcmin)},
        "outliers": [int(row) + 1 for row in fit.outliers],
        "outlier_details": [{"row": int(row) + 1, "line": int(lines[row]), "east_arcsec": residual[row, 0],
                             "north_arcsec": residual[row, 1]} for row in fit.outliers],
        "sightings": len(lines), "latitude_deg": fit.latitude.to_value(u.deg), "notes": list(fit.notes),
        "doubts": [doubt.plain for doubt in fit.doubts],
    }


def _harmonic(term: HarmonicTerm) -> dict[str, Any]:
    names = ("sine", "sine_error", "cosine", "cosine_error")
    return {"axis": term.axis, "per_turn": term.per_turn,
            **{f"{name}_arcsec": getattr(term, name).to_value(u.arcsec) for name in names}}


def pointing_drift_rows(fit: PointingFit, declination: u.Quantity, *, step: float = STEP) -> list[dict[str, Any]]:
    """Return the drift of a target along its path by the model, on both sides of the pier.

    `step` (deg) lies between hour angles, which reach 75 deg to either side of the meridian.
    """
    rows: list[dict[str, Any]] = []
    begins: dict[PierSide, float] = {"west": -75.0, "east": 0.0}
    for side, first in begins.items():
        hour_angle = np.arange(first, first + 75.1, step) * u.deg
        rates = drift_rates(fit, declination=declination, hour_angle=hour_angle, pier_side=side)
        columns = zip(hour_angle.value, rates.ra.value, rates.dec.value, strict=True)
        rows += [{"hour_angle_deg": h, "pier_side": side, "ra_arcsec_per_h": ra, "dec_arcsec_per_h": north}
                 for h, ra, north in columns]
    return rows
