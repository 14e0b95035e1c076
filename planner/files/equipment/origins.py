"""Where each figure of a part came from: measured or typed, and when; picked by words; the class of a drive."""

from pathlib import Path
from typing import Any

from planner.files.equipment import equipment_path
from planner.files.equipment.drive_classes import DRIVE_CLASSES, LABEL
from planner.files.equipment.edit import equipment_tables
from planner.files.equipment.history import Earlier, table_history
from planner.files.equipment.load import WHAT
from planner.files.equipment.tables import KINDS, rules_of
from planner.files.reading import read_text
from planner.files.toml_tables import is_by_words
from planner.rig.mount import figure_name


def origins(path: Path | str | None, kind: str, name: str) -> tuple[str, ...]:
    """Return a line for each origin of a table's figures: ``measured 2026-11-30: wander, periodic``.

    `path`: the equipment file; None for the user's own. `kind` and `name`: of the table.
    Raises InvalidInputError if the equipment file has problems.
    """
    tables = equipment_tables(path)[kind]
    place = next(place for place, table in enumerate(tables) if str(table["name"]) == name)
    table, changes = tables[place], table_history(path, kind, name)
    by_words = is_by_words(read_text(equipment_path(path), what=WHAT), kind, place)
    first = "typed, or picked by words (common practice, no source)" if by_words else "typed"
    drive = str(table.get("drive_class", "")).strip().lower()
    found: dict[str, list[str]] = {}
    for key in _figures(kind):
        if key in table:
            found.setdefault(_origin(key, table, changes) or first, []).append(key)
        elif key in DRIVE_CLASSES.get(drive, {}):
            found.setdefault(f"of the class {drive} ({LABEL})", []).append(key)
    return tuple(f"{origin}: {', '.join(map(figure_name, found[origin]))}" for origin in sorted(
        found, key=lambda origin: (not origin.startswith("measured"), origin.startswith("of "))))


def _figures(kind: str) -> list[str]:
    """Return the keys of a kind of table that hold figures."""
    rules = rules_of(KINDS[kind])
    figures = [key for key, rule in rules.items() if rule.kind in ("quantity", "number", "whole")]
    return [*figures, "periodic"] if kind == "mount" else figures


def _origin(key: str, table: dict[str, Any], changes: tuple[Earlier, ...]) -> str:
    """Return the change that first gave a figure its present value; empty where it stood there from the start."""
    held = [table, *(change.held for change in changes)]
    for place in reversed(range(len(changes))):
        if held[place].get(key) == table[key] != held[place + 1].get(key):
            return f"{'measured' if changes[place].measured else 'typed'} {changes[place].at:%Y-%m-%d}"
    return ""
