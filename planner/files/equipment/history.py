"""What the equipment file held before: the version before the last change, the history of each table, putting back."""

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from planner.errors import InvalidInputError
from planner.files.equipment import equipment_path
from planner.files.equipment.edit import equipment_tables, history_file, write_equipment_table
from planner.files.equipment.load import WHAT
from planner.files.reading import read_text
from planner.files.writing import rewrite
from planner.measure.drift.doubts import Doubt


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
