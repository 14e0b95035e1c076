"""Changing, adding and removing one table of the equipment file: comments, order and all else stay as they are."""

import json
import re
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from planner.checks import did_you_mean
from planner.errors import InvalidInputError
from planner.files.equipment import equipment_path
from planner.files.equipment.load import WHAT, parse_equipment, refuse_problems
from planner.files.equipment.tables import KINDS, REFERENCES
from planner.files.own_files import packaged_data
from planner.files.reading import read_text
from planner.files.toml_tables import change_keys, noting_measured, table_text, tables_of, with_block, without_block
from planner.files.writing import rewrite
from planner.rig import Equipment

# The tables and keys that name a table of a kind.
HOLDERS = {**{kind: [("rig", kind)] for kind in REFERENCES}, "filter": [("rig", "filters")],
           "telescope": [("rig", "telescope"), ("reducer", "telescopes")]}


KEPT = 300  # changes that the history holds


def write_equipment_table(path: Path | str | None, table: str, name: str, changes: Mapping[str, Any], *, log: str = "",
                          measured: bool = False) -> Path:
    """Change keys of one table of an equipment file and return the file's path.

    `path`: the file; None for the user's own. `table`: kind of the table, e.g. ``mount``. `name`: its name. `changes`:
    new values by key: Quantity (scalar), number, text, truth value, a sequence of texts or of `PeriodicTerm`; None
    removes the key. With a new name, the tables that refer to the old one follow. `log`: fingerprint of the
    log that the changes rest on; empty if on none. `measured`: whether they were, and not typed.
    Raises InvalidInputError if the file is the packaged demo, is damaged, has no such table, or would have problems
    afterwards. It then stands as it was. Otherwise the version before is kept beside it as ``.bak``, and what the
    table held joins its history.
    """
    held: dict[str, Any] = {}

    def change(text: str, used: Path) -> str:
        tables, place = _tables_in(text, used, table, name)
        held.update(tables[place])
        changed = _changed(text, used, table, name, changes)
        return noting_measured(changed, table, place) if measured else changed

    used = _rewritten(path, change)
    _remember(used, table, str(changes.get("name", name)), held, log=log, measured=measured)
    return used


def add_equipment_table(path: Path | str | None, table: str, values: Mapping[str, Any]) -> Path:
    """Add a table after the last of its kind and return the file's path; all as in `write_equipment_table`.

    The ``name`` among the values must be new.
    """
    return _rewritten(path, lambda text, used: _with_table(text, table, values))


def remove_equipment_table(path: Path | str | None, table: str, name: str) -> Path:
    """Take one table out and return the file's path; all as in `write_equipment_table`.

    A table to which another refers, and the last site or rig, are refused.
    """
    return _rewritten(path, lambda text, used: _without_table(text, used, table, name))


def try_equipment_table(path: Path | str | None, table: str, name: str | None, changes: Mapping[str, Any]
                        ) -> tuple[Equipment | None, dict[str, InvalidInputError]]:
    """Return the equipment as it would be after a change, without writing anything.

    `path`: the file; None for the user's own, or the packaged demo if there is none. `table`: kind of the table, e.g.
    ``mount``. `name`: its name; None to try a new table. `changes`: as for `write_equipment_table`.
    Returns the equipment, None if there would be problems; and the first problem of each key of that table, those of
    anything else under an empty key.
    Raises InvalidInputError if the file is damaged already.
    """
    used = equipment_path(path).resolve()
    text = read_text(used, what=WHAT)
    refuse_problems(text, used)
    new = _with_table(text, table, changes) if name is None else _changed(text, used, table, name, changes)
    equipment, problems = parse_equipment(new, file=used.name, folder=used.parent)
    spelled = str(changes.get("name", name))
    by_key: dict[str, InvalidInputError] = {}
    for problem in problems:
        by_key.setdefault(_key_of(problem, used.name, table, spelled), problem)
    return equipment, by_key


def equipment_tables(path: Path | str | None = None) -> dict[str, list[dict[str, Any]]]:
    """Return every table of an equipment file as it is written, by kind.

    Raises InvalidInputError if the file has problems.
    """
    import tomllib

    used = equipment_path(path)
    text = read_text(used, what=WHAT)
    refuse_problems(text, used)
    document = tomllib.loads(text)
    return {kind: tables_of(document, kind) for kind in KINDS}


def _key_of(problem: InvalidInputError, file: str, kind: str, name: str) -> str:
    """Return the key of the table that a problem names; empty if it is about another table."""
    label = problem.name.removeprefix(f"{file}: ")
    for start in (f'{kind} "{name}".', f'{kind} "{name.strip()}".'):
        if label.startswith(start):
            return label.removeprefix(start)
    found = re.fullmatch(rf"{kind} number \d+\.(.*)", label)
    return found[1] if found else ""


def _rewritten(path: Path | str | None, edit: Callable[[str, Path], str]) -> Path:
    """Replace the file's text by an edited one that has no problems, one writer at a time."""
    used = equipment_path(path).resolve()
    if used == packaged_data("equipment.toml").resolve():
        raise InvalidInputError(WHAT, used.name, "is the packaged demo and cannot be changed",
                                'Run "planner init" first and describe your own equipment.')
    if not used.is_file():
        read_text(used, what=WHAT)  # raises with the reason

    def checked(text: str) -> str:
        refuse_problems(text, used)
        edited = edit(text, used)
        refuse_problems(edited, used)
        return edited

    rewrite(used, checked, what=WHAT)
    return used


def history_file(equipment: Path) -> Path:
    """Return where the history of an equipment file is kept: a line of JSON for each change of a table."""
    return equipment.with_name(f".{equipment.name}.history")


def _remember(equipment: Path, kind: str, name: str, held: Mapping[str, Any], *, log: str, measured: bool
              ) -> None:
    """Add what a table held before it was changed to the history, and the measurement that it was changed for."""
    entry = {"at": datetime.now(UTC).isoformat(timespec="seconds"), "kind": kind, "name": name, "held": held,
             **({"measured": True} if measured else {}), **({"log": log} if log else {})}
    line = json.dumps(entry, ensure_ascii=False, default=str)
    rewrite(history_file(equipment), lambda text: "\n".join([*text.splitlines()[1 - KEPT:], line, ""]),
            what="history", start="", keep=False)


def _tables_in(text: str, path: Path, kind: str, name: str) -> tuple[Any, int]:
    import tomllib

    return _found(tomllib.loads(text), path, kind, name)


def _changed(text: str, path: Path, kind: str, name: str, changes: Mapping[str, Any]) -> str:
    import tomlkit

    document = tomlkit.parse(text)
    tables, place = _found(document, path, kind, name)
    old, new = str(tables[place]["name"]), changes.get("name")
    change_keys(tables[place], changes)
    if isinstance(new, str) and new != old:
        for _, holder, key, position in _mentions(document, kind, old):
            if position is None:
                holder[key] = new
            else:
                holder[key][position] = new
    return tomlkit.dumps(document)


def _with_table(text: str, kind: str, values: Mapping[str, Any]) -> str:
    return with_block(text, kind, table_text(f"[[{kind}]]", values))


def _without_table(text: str, path: Path, kind: str, name: str) -> str:
    """Return the text without a table that no other refers to."""
    import tomllib

    document = tomllib.loads(text)
    _, place = _found(document, path, kind, name)
    users = list(dict.fromkeys(user for user, *_ in _mentions(document, kind, name)))
    if users:
        raise InvalidInputError(kind, name, f"is used by {', '.join(users)}",
                                f"Choose another {kind} there first, or remove what uses it.")
    return without_block(text, kind, place, what=WHAT, file=path.name)


def _found(document: Any, path: Path, kind: str, name: str) -> tuple[Any, int]:
    """Return the tables of a kind and the place of the named one among them."""
    tables = tables_of(document, kind)
    names = [str(item.get("name", "")) for item in tables]
    for place, there in enumerate(names):
        if _same(there, name):
            return tables, place
    raise InvalidInputError(f"{path.name}: {kind}", name, "is not in the equipment file", did_you_mean(name, names))


def _mentions(document: Any, kind: str, name: str) -> list[tuple[str, Any, str, int | None]]:
    """Return where other tables name this one: who, the table, its key, and the place if that is a list."""
    found: list[tuple[str, Any, str, int | None]] = []
    for holder, key in HOLDERS.get(kind, ()):
        for table in tables_of(document, holder):
            value, who = table.get(key), f'{holder} "{table.get("name", "")}"'
            if isinstance(value, str) and _same(value, name):
                found.append((who, table, key, None))
            elif isinstance(value, list):
                found += [(who, table, key, place) for place, one in enumerate(value) if _same(str(one), name)]
    return found


def _same(one: str, other: str) -> bool:
    return one.strip().lower() == other.strip().lower()
