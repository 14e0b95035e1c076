"""What of a fitted pointing model, or of a measured polar axis, belongs into the mount's table, and what does not."""

from typing import Any

import numpy as np
from astropy import units as u

from planner.measure.pointing.drift import harmonic_drift
from planner.measure.pointing.results import PointingFit
from planner.measure.polar.alignment import PolarAlignment
from planner.rig import Mount
from planner.tracking import PolarError

SIGNIFICANT = 3  # errors that the flexure must reach to be saved


def axis_values(axis: PolarError | PolarAlignment) -> dict[str, Any]:
    """Return the keys of the mount's table that a polar axis tells."""
    return {f"polar_{name}": np.round(getattr(axis, name).to(u.arcmin), 3)
            for name in ("altitude_error", "azimuth_error")}


def axis_texts(axis: PolarAlignment) -> dict[str, str]:
    """Return the same keys as they are written, with their standard errors."""
    return {key: f"{value.value:.10g} ± {getattr(axis, key[6:-5] + 'uncertainty').to_value(u.arcmin):.2g} arcmin"
            for key, value in axis_values(axis).items()}


def model_values(fit: PointingFit) -> dict[str, Any]:
    """Return the keys of the mount's table that a model tells; none if it holds no polar axis.

    The polar axis, and the tube's flexure where it is separable and significant: the two that move a star while the
    polar axis turns. The other terms shift the place and stay out.
    """
    if fit.polar_axis is None:
        return {}
    values = axis_values(fit.polar_axis)
    droop = next((term for term in fit.terms if term.name == "tube_flexure" and term.separable), None)
    if droop is not None and abs(droop.value) > SIGNIFICANT * droop.error:
        values["tube_flexure"] = np.round(droop.value.to(u.arcsec), 1)
    return values


def model_remarks(fit: PointingFit, mount: Mount) -> list[str]:
    """Return what of the model does not reach the advice, and what follows for the drive, a sentence each."""
    remarks = []
    if fit.harmonics:
        drift = harmonic_drift(fit.harmonics).to_value(u.arcsec / u.h)
        remarks.append("The errors that repeat with a turn are not saved: " + (
            f"they drift by up to {drift:.1f}″/h in RA, which the advice leaves out." if drift > 0 else
            "the declination axis stands still while the mount tracks."))
    if mount.rate != "model":
        remarks.append('If the drive follows this model, write rate = "model" in the mount\'s table: it then takes '
                       "out the drift of axis and flexure.")
    return remarks
