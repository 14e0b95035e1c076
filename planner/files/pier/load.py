"""The pier file: what rides on the mount, the 12 V tree, the column and its footing, as TOML with units.

Without a file of the user's own, the packaged demo stands in and `PierSetup.is_demo` says so.
"""

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from planner.checks import as_far_as_known, did_you_mean
from planner.errors import InvalidInputError
from planner.files.equipment.tables import MISSING, Reading, Words, read_values, rules_of
from planner.files.own_files import first_of, own_path, packaged_data, path_in_use, toml_document
from planner.files.reading import read_text
from planner.files.toml_tables import tables_of
from planner.pier import (
    Assembly,
    Bar,
    Cable,
    Column,
    Conditions,
    Counterweight,
    Footing,
    Hub,
    Load,
    PierSetup,
    PowerTree,
    Rotator,
    Supply,
    TopLoads,
    TubePart,
    balance,
    pier_motion,
)

WHAT = "pier file"
# Tables that may repeat, and those that stand once.
LISTS: Mapping[str, type[Any]] = {
    "tube": TubePart, "counterweight": Counterweight, "hub": Hub, "load": Load, "cable": Cable,
}
SINGLES: Mapping[str, type[Any]] = {
    "pier": PierSetup, "night": Conditions, "mount": Assembly, "bar": Bar, "rotator": Rotator, "supply": Supply,
    "column": Column, "footing": Footing, "loads": TopLoads,
}
_TABLES = (*SINGLES, *LISTS)
# The load on the column follows from the balance unless the file gives it.
_FROM_THE_BALANCE = "mass"


def user_pier_path() -> Path:
    """Return where the user's own pier file lies, there or not: beside the equipment file."""
    return own_path("pier.toml")


def pier_path(path: Path | str | None = None) -> Path:
    """Return the file that `load_pier` reads: the one given, else the user's, else the packaged demo."""
    return path_in_use(path, user_pier_path())


def load_pier(path: Path | str | None = None) -> PierSetup:
    """Return everything about one pier, from the file that `pier_path` names; problems as `load_equipment`."""
    setup, problems = _read(pier_path(path))
    if setup is None:
        raise first_of(problems, command="planner pier check")
    return setup


def sway_of(path: Path) -> dict[str, Any]:
    """Return what the column of a pier file does to a rig on it, by the keys of a rig: sway, its memory, its settling.

    Raises InvalidInputError as `load_pier`; also if the file describes no column, or one that falls by itself.
    """
    setup = load_pier(path)
    column = setup.require("column")
    motion = pier_motion(column, setup.footing, setup.loads)
    if motion.own_frequency <= 0:
        raise InvalidInputError("column", setup.name, "falls under its own load", "See planner pier column.")
    return {"sway": motion.sway, "sway_memory": motion.memory, "sway_settling_time": motion.after_slew}


def check_pier(path: Path | str | None = None) -> list[str]:
    """Return every problem of a pier file in one go, a line each with file, table and key; empty if good."""
    return [str(problem) for problem in _read(pier_path(path))[1]]


def parse_pier(text: str, *, file: str, is_demo: bool = False) -> tuple[PierSetup | None, list[InvalidInputError]]:
    """Return the pier written in a text, None if it has problems, and the problems, as `parse_equipment` does."""
    try:
        document = toml_document(text, what=WHAT, file=file)
    except InvalidInputError as error:
        return None, [error]
    reading = Reading(file, Path())
    setup = _setup(reading, document, is_demo)
    return (None, reading.problems) if reading.problems else (setup, [])


def _read(path: Path) -> tuple[PierSetup | None, list[InvalidInputError]]:
    try:
        text = read_text(path, what=WHAT)
    except InvalidInputError as error:
        return None, [error]
    return parse_pier(text, file=path.name, is_demo=path == packaged_data("pier.toml"))


def _setup(reading: Reading, document: dict[str, Any], is_demo: bool) -> PierSetup | None:
    """Return the pier; None with every problem, of a table or of several against one another, kept."""
    for key in (key for key in document if key not in _TABLES):
        reading.problem(key, Words("(table)"), "is not a table of the pier file", did_you_mean(key, _TABLES))
    values = {kind: _single(reading, kind, document[kind]) for kind in SINGLES if kind in document}
    listed = {kind: _listed(reading, kind, tables_of(document, kind)) for kind in LISTS}
    assembly, tree = _assembly(reading, values, listed), _tree(reading, values, listed)
    if reading.problems:
        return None
    loads = values.get("loads", {})
    if assembly is not None and _FROM_THE_BALANCE not in loads:
        loads = {**loads, _FROM_THE_BALANCE: balance(assembly).pier_load}
    made = {kind: SINGLES[kind](**values.get(kind, {})) for kind in ("night", "footing")}
    try:
        return PierSetup(
            **values.get("pier", {}), conditions=made["night"], assembly=assembly, tree=tree, footing=made["footing"],
            column=Column(**values["column"]) if "column" in values else None, loads=TopLoads(**loads), is_demo=is_demo)
    except InvalidInputError as error:  # all that rides on the column together
        reading.problem(f"loads.{error.name}", Words(error.value), error.rule, error.remedy)
        return None


def _single(reading: Reading, kind: str, table: Any) -> dict[str, Any]:
    """Return the values of a table that stands once, None in place of each that is bad."""
    if isinstance(table, dict):
        return read_values(reading, kind, kind, SINGLES[kind], table, whole=kind != "mount") or {}
    reading.problem(kind, table, "must be one table", f"Start it with a line [{kind}].")
    return dict.fromkeys(rules_of(SINGLES[kind]))


def _listed(reading: Reading, kind: str, tables: list[Any]) -> tuple[Any, ...]:
    """Return the models of tables that may repeat; one that is broken stands as far as it is known."""
    found = []
    for place, table in enumerate(tables, start=1):
        values: dict[str, Any] | None = None
        if isinstance(table, dict):
            name = table.get("name")
            label = f'{kind} "{name}"' if isinstance(name, str) and name.strip() else f"{kind} number {place}"
            values = read_values(reading, kind, label, LISTS[kind], table)
        else:
            reading.problem(kind, table, "must be a table", f"Start it with a line [[{kind}]].")
        found.append(as_far_as_known(LISTS[kind], values or {}))
    return tuple(found)


def _assembly(reading: Reading, values: dict[str, Any], listed: dict[str, tuple[Any, ...]]) -> Assembly | None:
    if "mount" not in values and not listed["tube"]:
        return None
    if "mount" not in values:
        reading.problem("[mount]", MISSING, "must be given with [[tube]]", "Add it with saddle_distance.")
    parts: dict[str, Any] = {kind: as_far_as_known(SINGLES[kind], values[kind])
                             for kind in ("bar", "rotator") if kind in values}
    return _of_several(reading, Assembly, {**values.get("mount", {}), **parts, "parts": listed["tube"],
                                           "counterweights": listed["counterweight"]})


def _tree(reading: Reading, values: dict[str, Any], listed: dict[str, tuple[Any, ...]]) -> PowerTree | None:
    if "supply" not in values and not listed["load"]:
        return None
    if "supply" not in values:
        reading.problem("[supply]", MISSING, "must be given with [[load]]", "Add it with name and voltage.")
    supply = as_far_as_known(Supply, values.get("supply", {}))
    return _of_several(reading, PowerTree, {
        "supply": supply, **{f"{kind}s": listed[kind] for kind in ("hub", "load", "cable")}})


def _of_several(reading: Reading, model: type[Any], values: dict[str, Any]) -> Any:
    """Return a model that several tables make up, with what they break together kept; None if anything is wrong."""
    for fault in as_far_as_known(model, values).faults():
        reading.problem(fault.name, fault.value, fault.rule, fault.remedy)
    return None if reading.problems else model(**values)


def pier_examples(path: Path | str | None = None) -> list[str]:
    """Return the tables of a pier file that still are the starting file's, repeated ones counted; none of the demo."""
    used, demo = pier_path(path), packaged_data("pier.toml")
    if used == demo:
        return []
    document, starter = (tomllib.loads(read_text(one, what=WHAT)) for one in (used, demo))
    same = [f"[{kind}]" for kind in SINGLES if kind in document and document[kind] == starter.get(kind)]
    counts = {kind: sum(table in starter[kind] for table in tables_of(document, kind)) for kind in LISTS}
    return same + [f"{count} [[{kind}]]" for kind, count in counts.items() if count]
