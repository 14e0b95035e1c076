"""A pointing fit in words."""

import math

from astropy import units as u

from planner.measure.error_text import with_error
from planner.measure.pointing.residual_plan import ResidualPlan
from planner.measure.pointing.results import PointingFit
from planner.measure.polar.remedy import instructions
from planner.signs import minus

STRONG = 0.5  # correlation from which two terms are named together


def pointing_headline(fit: PointingFit) -> str:
    """Return the fit in one line."""
    before, held = fit.rms_before.to_value(u.arcsec), fit.rms_held_out.to_value(u.arcsec)
    return f"The model takes the pointing error from {before:.0f}″ to {held:.1f}″"


def axis_line(fit: PointingFit) -> str:
    """Return the polar axis and what to do with it; empty if it was not fitted."""
    axis, error = fit.polar_axis, fit.polar_axis_error
    if axis is None or error is None:
        return ""
    return "Polar axis: {}; {}.".format(*instructions(
        axis.altitude_error, error.altitude_error, axis.azimuth_error, error.azimuth_error))


def term_rows(fit: PointingFit) -> list[dict[str, str]]:
    """Return the terms, one row each."""
    return [{"term": _named(term.name),
             "value (″)": with_error(term.value.to_value(u.arcsec), term.error.to_value(u.arcsec), sign="+"),
             "meaning": term.meaning}
            for term in fit.terms]


def fit_lines(fit: PointingFit) -> list[str]:
    """Return what the terms alone do not tell: ties, held terms, harmonics, correlations, notes."""
    lines = []
    for group in fit.tied:
        as_one = with_error(group.value.to_value(u.arcsec), group.error.to_value(u.arcsec), "″", sign="+")
        lines.append(f"{' and '.join(map(_named, group.names))} are tied: these sightings hardly tell them apart, as "
                     f"their errors say. If all were {_named(group.names[0])}: {as_one}.")
    if fit.held:
        lines.append(f"Held at zero, because the sightings say nothing of it: {', '.join(map(_named, fit.held))}.")
    for term in fit.harmonics:
        size = math.hypot(term.sine.to_value(u.arcsec), term.cosine.to_value(u.arcsec))
        lines.append(f"The {term.axis} axis errs by {size:.1f}″, {term.per_turn} times a turn; held-out rows agree.")
    names = [_named(term.name) for term in fit.terms]
    pairs = [minus(f"{names[i]} with {names[j]} {fit.correlations[i, j]:+.2f}")
             for i in range(len(names)) for j in range(i) if abs(fit.correlations[i, j]) > STRONG]
    if pairs and not fit.tied:  # else more than half of all are
        lines.append(f"Correlated: {', '.join(pairs)}.")
    return [*lines, *fit.notes]


def _named(key: str) -> str:
    return key.replace("_", " ")


def outlier_rows(fit: PointingFit, plan: ResidualPlan, lines: list[int]) -> list[dict[str, str]]:
    """Return the sightings that were set aside; `lines` are the line numbers in the file."""
    residual = fit.residual.to_value(u.arcsec)
    return [{"line": str(lines[row]), "azimuth (°)": f"{plan.azimuth_deg[row]:.0f}",
             "altitude (°)": f"{plan.altitude_deg[row]:.0f}", "telescope": f"{plan.pier_side[row]} of the pier",
             "east (″)": minus(f"{residual[row, 0]:+.0f}"), "north (″)": minus(f"{residual[row, 1]:+.0f}")}
            for row in fit.outliers]
