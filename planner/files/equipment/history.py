"""What the equipment file held before, table by table, and where each of its figures came from; putting back."""

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from planner.errors import InvalidInputError
from planner.files.equipment import equipment_path
from planner.files.equipment.drive_classes import DRIVE_CLASSES, LABEL
from planner.files.equipment.edit import equipment_tables, history_file, write_equipment_table
from planner.files.equipment.load import WHAT
from planner.files.equipment.tables import KINDS, rules_of
from planner.files.reading import read_text
from planner.files.toml_tables import is_by_words
from planner.files.writing import rewrite
from planner.measure.drift.doubts import Doubt
from planner.rig.mount import figure_name


def version_before(path: Path | str | None) -> Path | None:
    """Return the file that holds the version before; None if there is none."""
    used = equipment_path(path).resolve()
    before = used.with_name(f"{used.name}.bak")
    return before if before.is_file() else None


def last_change(path: Path | str | None) -> tuple[str, ...]:
    """Return a line for each figure that differs from the version before, the present value first.

    Raises InvalidInputError if one of the two files has problems.
    """
    before = version_before(path)
    if before is None:
        return ()
    now, then = equipment_tables(path), equipment_tables(before)
    return tuple(line for kind in now for line in _differences(kind, _by_name(now[kind]), _by_name(then[kind])))


def put_back(path: Path | str | None) -> Path:
    """Exchange the equipment file with the version before, and return its path; done twice, nothing has changed.

    Raises InvalidInputError if there is no version before, or it has problems; the file then stands as it was.
    """
    before = version_before(path)
    if before is None:
        raise InvalidInputError("version before", equipment_path(path), "is not there",
                                "It is kept from the first change on.")
    equipment_tables(before)
    text, used = read_text(before, what=WHAT), equipment_path(path)
    rewrite(used, lambda _: text, what=WHAT)
    return used


@dataclass(frozen=True)
class Earlier:
    """One change of a table: when, what it did, and what the table held before it."""

    at: datetime  # UTC
    lines: tuple[str, ...]
    held: dict[str, Any]
    log: str = ""  # fingerprint of the log that it rests on
    measured: bool = False  # rather than typed


def log_counted(path: Path | str | None, mount: str, log: str) -> Doubt | None:
    """Return what speaks against saving a log, weighed with what was known, into a mount's table that rests on it.

    A table that was put back to what it held before the log does not rest on it. `path`: the equipment file; None for
    the user's own. `log`: the log's fingerprint.
    Raises InvalidInputError if the equipment file has problems.
    """
    now, changes = _by_name(equipment_tables(path)["mount"]).get(mount), table_history(path, "mount", mount)
    at = next((place for place, one in enumerate(changes) if one.log == log), None)
    if at is None or now in [one.held for one in changes[at:]]:
        return None
    return Doubt(kind="counted", seen=f"this log was saved on {changes[at].at:%Y-%m-%d}",
                 rule=f'the table of the mount "{mount}" rests on it, and once more it would count twice',
                 remedy="Put the table back first: its history is on the page “My equipment”.")


def table_history(path: Path | str | None, kind: str, name: str) -> tuple[Earlier, ...]:
    """Return the changes of one table, the latest first; names that it had before are followed.

    A line of the history that cannot be read is left out.

    Raises InvalidInputError if the equipment file has problems.
    """
    file = history_file(equipment_path(path).resolve())
    later = _by_name(equipment_tables(path)[kind]).get(name)
    found = []
    for line in reversed(read_text(file, what="history").splitlines() if file.is_file() else []):
        entry = _entry(line)
        if later is None or entry is None or (entry["kind"], entry["name"]) != (kind, str(later["name"])):
            continue
        lines = _differences(kind, {"": later}, {"": entry["held"]})
        found.append(Earlier(datetime.fromisoformat(entry["at"]), tuple(lines), entry["held"],
                             str(entry.get("log", "")), bool(entry.get("measured") or entry.get("log"))))
        later = entry["held"]
    return tuple(found)


def put_table_back(path: Path | str | None, kind: str, name: str, earlier: Earlier) -> Path:
    """Write a table as it was before a change, and return the file's path; this joins the history too.

    Raises InvalidInputError as `write_equipment_table`.
    """
    present = _by_name(equipment_tables(path)[kind]).get(name, {})
    return write_equipment_table(path, kind, name, {**dict.fromkeys(present), **earlier.held})


def _entry(line: str) -> dict[str, Any] | None:
    try:
        entry = json.loads(line)
        datetime.fromisoformat(entry["at"])
        entry["held"]["name"], entry["kind"], entry["name"]
    except (ValueError, KeyError, TypeError):
        return None
    return dict(entry)


def _by_name(tables: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    return {str(table["name"]): table for table in tables}


def _differences(kind: str, now: dict[str, dict[str, Any]], then: dict[str, dict[str, Any]]) -> list[str]:
    lines = [f"{kind} “{name}”: added" for name in now if name not in then]
    lines += [f"{kind} “{name}”: removed" for name in then if name not in now]
    for name in now:
        if name in then:
            keys = dict.fromkeys([*now[name], *then[name]])
            whose = f"{kind} “{name}”, " if name else ""
            lines += [f"{whose}{key.replace('_', ' ')}: {_said(now[name].get(key))}, before "
                      f"{_said(then[name].get(key))}" for key in keys if now[name].get(key) != then[name].get(key)]
    return lines


def _said(value: Any) -> str:
    if value is None:
        return "not given"
    if isinstance(value, list):
        return ", ".join(_said(one) for one in value) or "none"
    if isinstance(value, dict):
        return " ".join(f"{key.replace('_', ' ')} {_said(one)}" for key, one in value.items())
    return str(value)


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
