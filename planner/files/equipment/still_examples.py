"""What in an equipment file is still the example of the starting file, or cannot be: remarks, not problems."""

import datetime
import tomllib
from pathlib import Path
from typing import Any

from planner.files.equipment import equipment_path, load_equipment
from planner.files.equipment.load import WHAT
from planner.files.own_files import packaged_data
from planner.files.reading import read_text
from planner.files.toml_tables import tables_of
from planner.rig import clock_problem

REMARK = "as in the starting file: an example, unless it happens to be yours."
# Figures that differ from observer to observer; one that stands as in the starting file was likely left there.
OWN_FIGURES = {
    "site": ("latitude", "longitude"), "telescope": ("aperture", "focal_length"),
    "camera": ("pixel_pitch", "columns", "rows", "quantum_efficiency", "read_noise", "full_well", "gain"),
    "guider": ("aperture", "focal_length", "pixel_pitch", "columns", "rows"),
}


def equipment_remarks(path: Path | str | None = None) -> list[str]:
    """Return what is odd about an equipment file without problems, a sentence each; nothing about the demo."""
    owned = load_equipment(path)
    if owned.is_demo:
        return []
    now = datetime.datetime.now(datetime.UTC)
    clocks = [problem for site in owned.sites if (problem := clock_problem(site, now))]
    heavy = [f'rig "{rig.name}": {rig.too_heavy}.' for rig in owned.rigs if rig.too_heavy]
    return clocks + heavy + [f"{label}: {', '.join(left)} {'is' if len(left) == 1 else 'are'} {REMARK}"
                     for label, _, left in _examples(path)]


def all_examples(path: Path | str | None = None) -> list[str]:
    """Return the tables of an equipment file with the starting file's name and own figures still; none of the demo.

    A name of the observer's own says that the figures are, too.
    """
    return [label for label, kind, left in _examples(path)
            if left == list(OWN_FIGURES[kind]) and label == f'{kind} "{tables_of(_starter(), kind)[0]["name"]}"']


def _examples(path: Path | str | None) -> list[tuple[str, str, list[str]]]:
    """Return each table that holds figures of the starting file: what to call it, its kind, their keys."""
    used = equipment_path(path)
    if used == packaged_data("equipment.toml"):
        return []
    starter, document = _starter(), tomllib.loads(read_text(used, what=WHAT))
    found = []
    for kind, keys in OWN_FIGURES.items():
        example = tables_of(starter, kind)[0]
        for table in tables_of(document, kind):
            found.append((f'{kind} "{table["name"]}"', kind, [key for key in keys if table.get(key) == example[key]]))
    return [one for one in found if one[2]]


def _starter() -> dict[str, Any]:
    """Return the starting file's tables, those in comments too."""
    return tomllib.loads(packaged_data("starter.toml").read_text(encoding="utf-8").replace("\n## ", "\n"))
