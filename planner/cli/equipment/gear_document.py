"""The equipment as one document of plain numbers, with the figures that follow from it."""

import dataclasses
from typing import Any

from astropy import units as u

from planner.fields import unit_key
from planner.files.equipment.drive_classes import LABEL
from planner.rig import Equipment, Reducer, Telescope
from planner.session.match.equipment_figures import plain_figures


def gear_document(equipment: Equipment) -> dict[str, Any]:
    """Return everything in the equipment by kind, each key ending in its unit, derived figures included."""
    kinds = {kind: [plain_table(item) | plain_figures(item, equipment) for item in getattr(equipment, kind)]
             for kind in ("sites", "telescopes", "reducers", "cameras", "filters", "mounts", "guiders", "rigs")}
    for table, reducer in zip(kinds["reducers"], equipment.reducers, strict=True):
        table["as_used"] = _as_used(reducer, equipment.telescopes)
    for table, mount in zip(kinds["mounts"], equipment.mounts, strict=True):
        table["drive_class_note"] = LABEL if mount.drive_class else None
    return {"is_demo": equipment.is_demo, **kinds}


def plain_table(model: Any) -> dict[str, Any]:
    """Return a model's fields as plain values: a quantity under a key that ends in its unit, a part by its name."""
    table: dict[str, Any] = {}
    for item in (item for item in dataclasses.fields(model) if item.name != "errors"):
        value = getattr(model, item.name)
        unit = getattr(item.metadata.get("rule"), "unit", None)
        key = item.name if unit is None else unit_key(item.name, unit)
        table[key] = value.to_value(unit).tolist() if isinstance(value, u.Quantity) else _plain(value)
    for key, error in getattr(model, "errors", {}).items():
        key = f"{key}_standard_error"
        table |= {unit_key(key, error.unit): error.value} if isinstance(error, u.Quantity) else {key: error}
    return table


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if dataclasses.is_dataclass(value):
        return value.name if hasattr(value, "name") else plain_table(value)
    return value


def _as_used(reducer: Reducer, telescopes: tuple[Telescope, ...]) -> list[dict[str, Any]]:
    used = [(telescope.name, reducer.behind(telescope)) for telescope in telescopes if reducer.fits(telescope)]
    return [{"telescope": name, "focal_length_mm": float(train.focal_length.to_value(u.mm)),
             "focal_ratio": train.focal_ratio} for name, train in used]
