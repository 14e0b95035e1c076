"""A polar alignment as plain numbers, texts and lists: what `--json` prints and a page lets one download."""

from collections.abc import Mapping
from typing import Any

from astropy import units as u

from planner.measure.polar.alignment import PolarAlignment
from planner.measure.polar.remedy import Adjuster, PolarEffect, adjuster_turns


def polar_document(found: PolarAlignment, effect: PolarEffect, screws: Mapping[str, Adjuster | None]) -> dict[str, Any]:
    """Return the axis, the turns of the screws named altitude and azimuth, and the effect on a sub."""
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
        "effect": {
            "sub_exposure_s": effect.sub_exposure.to_value(u.s), "trail_arcsec": effect.trail.to_value(u.arcsec),
            "allowed_trail_arcsec": effect.allowed.to_value(u.arcsec),
            "dec_rate_arcsec_per_min": effect.dec_rate.to_value(u.arcsec / u.min),
            "rotation_arcmin": effect.rotation.to_value(u.arcmin), "longest_s": effect.longest.to_value(u.s),
            "guided_rotation_arcmin": effect.guided_rotation.to_value(u.arcmin),
            "guided_trail_arcsec": effect.guided_trail.to_value(u.arcsec),
            "longest_guided_s": effect.longest_guided.to_value(u.s),
            "matters": effect.matters, "matters_guided": effect.matters_guided,
        },
    }
