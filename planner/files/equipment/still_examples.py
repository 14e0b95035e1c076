"""What in an equipment file is still the example of the starting file, or cannot be: remarks, not problems."""

import datetime
import tomllib
from pathlib import Path
from typing import Any

from planner.files.equipment import equipment_path, load_equipment
from planner.files.equipment.load import WHAT
from planner.files.packaged import packaged_data
from planner.files.reading import read_text
from planner.rig import clock_problem

# Figures that differ from observer to observer; one that stands as in the starting file was likely left there.
OWN_FIGURES = {
    "site": ("latitude", "longitude"), "telescope": ("aperture", "focal_length"),
    "camera": ("pixel_pitch", "columns", "rows", "quantum_efficiency", "read_noise", "full_well", "gain"),
    "guider": ("aperture", "focal_length", "pixel_pitch", "columns", "rows"),
}


def equipment_remarks(path: Path | str | None = None) -> list[str]:
    """Return what is odd about an equipment file without problems, a sentence each; nothing about the demo."""
    used = equipment_path(path)
    owned = load_equipment(used)
    if owned.is_demo:
        return []
    now = datetime.datetime.now(datetime.UTC)
    clocks = [problem for site in owned.sites if (problem := clock_problem(site, now))]
    starter = tomllib.loads(packaged_data("starter.toml").read_text(encoding="utf-8"))
    document = tomllib.loads(read_text(used, what=WHAT))
    return clocks + [line for kind, keys in OWN_FIGURES.items() for table in _tables(document, kind)
                     if (line := _left(kind, table, _tables(starter, kind)[0], keys))]


def _tables(document: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    tables = document.get(kind, [])
    return tables if isinstance(tables, list) else [tables]


def _left(kind: str, table: dict[str, Any], example: dict[str, Any], keys: tuple[str, ...]) -> str:
    """Return a sentence about the figures of a table that are those of the example, empty if none is."""
    left = [key for key in keys if table.get(key) == example.get(key)]
    if not left:
        return ""
    return (f'{kind} "{table["name"]}": {", ".join(left)} {"is" if len(left) == 1 else "are"} as in the starting '
            "file: an example, unless it happens to be yours.")
