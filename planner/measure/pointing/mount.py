"""What of a fitted pointing model, or of a measured polar axis, belongs into the mount's table, and what does not."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from astropy import units as u

from planner.measure import error_text
from planner.measure.pointing.drift import harmonic_drift
from planner.measure.pointing.results import PointingFit
from planner.measure.polar.alignment import PolarAlignment
from planner.rig import Mount

Figures = dict[str, tuple[u.Quantity, u.Quantity]]  # value and standard error by key of the mount's table
SIGNIFICANT = 3  # errors that the flexure must reach to be saved


def axis_figures(axis: PolarAlignment) -> Figures:
    """Return the keys of the mount's table that a polar axis tells, each value with its standard error."""
    return {f"polar_{name}_error": (getattr(axis, f"{name}_error").to(u.arcmin),
                                    getattr(axis, f"{name}_uncertainty").to(u.arcmin))
            for name in ("altitude", "azimuth")}


def model_figures(fit: PointingFit) -> Figures:
    """Return the keys of the mount's table that a model tells, each with its error; none if it holds no polar axis.

    The polar axis, and the tube's flexure where it is separable and significant: the two that move a star while the
    polar axis turns. The other terms shift the place and stay out.
    """
    axis, error = fit.polar_axis, fit.polar_axis_error
    if axis is None or error is None:
        return {}
    figures = {f"polar_{name}": (getattr(axis, name), getattr(error, name))
               for name in ("altitude_error", "azimuth_error")}
    droop = next((term for term in fit.terms if term.name == "tube_flexure" and term.separable), None)
    if droop is not None and abs(droop.value) > SIGNIFICANT * droop.error:
        figures["tube_flexure"] = droop.value.to(u.arcsec), droop.error.to(u.arcsec)
    return figures


def as_written(figures: Figures) -> dict[str, str]:
    """Return figures as they stand in the equipment file: "2.310 ± 0.050 arcmin"."""
    return {key: error_text.as_written(value.value, error.to_value(value.unit), str(value.unit))
            for key, (value, error) in figures.items()}


def table_texts(mount: Mount, keys: Iterable[str]) -> dict[str, str]:
    """Return figures of the mount's table as texts, with their errors where they have one."""
    known = as_written({key: (getattr(mount, key), u.Quantity(mount.errors[key])) for key in keys
                        if key in mount.errors})
    values = {key: getattr(mount, key) for key in keys}
    return {key: known.get(key, "not given" if value is None else f"{value:.3g}") for key, value in values.items()}


def with_figures(mount: Mount, figures: Figures) -> Mount:
    """Return the mount with the figures and their errors."""
    values: dict[str, Any] = {key: value for key, (value, _) in figures.items()}
    return replace(mount, **values, errors={**mount.errors, **{key: error for key, (_, error) in figures.items()}})


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
