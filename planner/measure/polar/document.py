"""A polar alignment as plain numbers, texts and lists: what `--json` prints and a page lets one download."""

from collections.abc import Mapping
from typing import Any

from astropy import units as u

from planner.measure.polar.alignment import PolarAlignment
from planner.measure.polar.remedy import Adjuster, adjuster_turns


def polar_document(found: PolarAlignment, screws: Mapping[str, Adjuster | None]) -> dict[str, Any]:
    """Return the axis and the turns of the screws named altitude and azimuth."""
    minutes = ("altitude_error", "altitude_uncertainty", "azimuth_error", "azimuth_uncertainty", "offset",
               "refracted_pole")
    turns = {
        f"{name}_turns": None if screw is None else float(adjuster_turns(getattr(found, f"{name}_error"), screw))
        for name, screw in screws.items()
    }
    return {
        **{f"{name}_arcmin": getattr(found, name).to_value(u.arcmin) for name in minutes}, **turns,
        "scatter_arcsec": None if found.scatter is None else found.scatter.to_value(u.arcsec),
        "latitude_deg": found.latitude.to_value(u.deg), "notes": list(found.notes),
    }
