"""Changing one table of the equipment file in place: comments, order and everything else stay as they are."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from astropy import units as u

from planner.checks import did_you_mean
from planner.errors import InvalidInputError
from planner.files.equipment import WHAT, equipment_path, parse_equipment
from planner.files.packaged import packaged_data
from planner.files.quantities import quantity_text
from planner.files.reading import read_text
from planner.files.writing import replace_text
from planner.rig import PeriodicTerm

PATIENCE = 10  # seconds to wait for another writer of the same file


def write_equipment_table(path: Path | str | None, table: str, name: str, changes: Mapping[str, Any]) -> Path:
    """Change keys of one table of an equipment file and return the file's path.

    Parameters
    ----------
    path : Path, str or None
        The file; None for the user's own.
    table : str
        Kind of the table, e.g. ``mount``.
    name : str
        Its name.
    changes : mapping of str to value
        New values by key: Quantity (scalar), number, text, truth value, or a sequence of `PeriodicTerm`; None removes
        the key.

    Raises
    ------
    InvalidInputError
        If the file is the packaged demo, is damaged, has no such table, or would have problems afterwards. It then
        stands as it was. Otherwise the version before is kept beside it as ``.bak``.
    """
    import filelock

    used = equipment_path(path).resolve()
    if used == packaged_data("equipment.toml").resolve():
        raise InvalidInputError(WHAT, used.name, "is the packaged demo and cannot be changed",
                                'Run "planner init" first and describe your own equipment.')
    if not used.is_file():
        read_text(used, what=WHAT)  # raises with the reason
    try:
        with filelock.FileLock(used.with_name(f".{used.name}.lock"), timeout=PATIENCE):
            text = read_text(used, what=WHAT)
            replace_text(used, _edited(text, used, table, name, changes), what=WHAT)
    except (filelock.Timeout, OSError) as error:
        raise InvalidInputError(WHAT, used, f"cannot be locked for writing ({type(error).__name__})",
                                "Check the folder's rights and other running programs.") from None
    return used


def _edited(text: str, path: Path, kind: str, name: str, changes: Mapping[str, Any]) -> str:
    """Return the text with the changes made, checked before and after."""
    import tomlkit

    _refuse_problems(text, path)
    document = tomlkit.parse(text)
    found = document.get(kind, [])
    tables = found if isinstance(found, list) else [found]
    chosen = [item for item in tables if str(item.get("name", "")).strip().lower() == name.strip().lower()]
    if not chosen:
        raise InvalidInputError(f"{path.name}: {kind}", name, "is not in the equipment file",
                                did_you_mean(name, [str(item["name"]) for item in tables]))
    _change(chosen[0], changes)
    edited = tomlkit.dumps(document)
    _refuse_problems(edited, path)
    return edited


def _refuse_problems(text: str, path: Path) -> None:
    problems = parse_equipment(text, file=path.name, folder=path.parent)[1]
    if problems:
        raise problems[0]


def _change(table: Any, changes: Mapping[str, Any]) -> None:
    """Set the keys; new ones come after the table's last key, before the notes that lead to the next table."""
    body = table.value.body
    tail = []
    while body and body[-1][0] is None:
        tail.append(body.pop()[1])
    for key, value in changes.items():
        if value is None:
            table.pop(key, None)
        else:
            table[key] = _toml(value)
    body.extend((None, item) for item in reversed(tail))


def _toml(value: Any) -> Any:
    """Return a value as it is written in the file."""
    import tomlkit

    if isinstance(value, u.Quantity):
        return quantity_text(value)
    if isinstance(value, (bool, str, int)):
        return value
    if isinstance(value, float) or hasattr(value, "item"):
        return float(f"{float(value):.10g}")
    terms = tomlkit.array()
    for term in value:
        terms.append(_term(term) if isinstance(term, PeriodicTerm) else _toml(term))
    return terms.multiline(len(terms) > 1)


def _term(term: PeriodicTerm) -> Any:
    import tomlkit

    line = tomlkit.inline_table()
    line["period"] = quantity_text(term.period)
    line["amplitude"] = quantity_text(term.amplitude)
    if term.phase is not None:
        line["phase"] = quantity_text(term.phase)
    return line
