"""The equipment as one document of plain numbers, with the figures that follow from it."""

from typing import Any

from astropy import units as u

from planner.fields import document, unit_key
from planner.files.equipment.drive_classes import LABEL
from planner.rig import Equipment, Reducer, Telescope
from planner.session.match.equipment_figures import plain_figures


def gear_document(equipment: Equipment) -> dict[str, Any]:
    """Return everything in the equipment by kind, each key ending in its unit, derived figures included."""
    kinds = {kind: [document(item) | _errors(item) | plain_figures(item, equipment)
                    for item in getattr(equipment, kind)]
             for kind in ("sites", "telescopes", "reducers", "cameras", "filters", "mounts", "guiders", "rigs")}
    for table, reducer in zip(kinds["reducers"], equipment.reducers, strict=True):
        table["as_used"] = _as_used(reducer, equipment.telescopes)
    for table, mount in zip(kinds["mounts"], equipment.mounts, strict=True):
        table["drive_class_note"] = LABEL if mount.drive_class else None
    return {"is_demo": equipment.is_demo, **kinds}


def _errors(part: Any) -> dict[str, Any]:
    errors = getattr(part, "errors", {}).items()
    return {unit_key(f"{key}_standard_error", getattr(error, "unit", None)): getattr(error, "value", error)
            for key, error in errors}


def _as_used(reducer: Reducer, telescopes: tuple[Telescope, ...]) -> list[dict[str, Any]]:
    used = [(telescope.name, reducer.behind(telescope)) for telescope in telescopes if reducer.fits(telescope)]
    return [{"telescope": name, "focal_length_mm": float(train.focal_length.to_value(u.mm)),
             "focal_ratio": train.focal_ratio} for name, train in used]
