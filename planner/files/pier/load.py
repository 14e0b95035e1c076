"""The pier file: what rides on the mount, the 12 V tree, the column and its footing, as TOML with units.

Without a file of the user's own, the packaged demo stands in and `PierSetup.is_demo` says so.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from planner.checks import did_you_mean
from planner.errors import InvalidInputError
from planner.files.equipment.tables import Reading, read_values
from planner.files.own_files import first_of, own_path, path_in_use, toml_document
from planner.files.packaged import packaged_data
from planner.files.reading import read_text
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
from planner.pier.balance.model import head_faults
from planner.pier.wiring.names import tree_faults

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

    Raises
    ------
    InvalidInputError
        As `load_pier`; also if the file describes no column, or one that falls by itself.
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
    setup = _setup(reading, _values(reading, document), is_demo)
    return (None, reading.problems) if reading.problems else (setup, [])


def _read(path: Path) -> tuple[PierSetup | None, list[InvalidInputError]]:
    try:
        text = read_text(path, what=WHAT)
    except InvalidInputError as error:
        return None, [error]
    return parse_pier(text, file=path.name, is_demo=path == packaged_data("pier.toml"))


def _values(reading: Reading, document: dict[str, Any]) -> dict[str, Any]:
    """Return the checked values of every table: a dictionary per single table, a list of models per other.

    None stands for a table that is broken; one that the file does not hold is absent, or an empty list.
    """
    for key in (key for key in document if key not in _TABLES):
        reading.problem(key, "(table)", "is not a table of the pier file", did_you_mean(key, _TABLES))
    values: dict[str, Any] = {kind: _single(reading, kind, document[kind]) for kind in SINGLES if kind in document}
    for kind, model in LISTS.items():
        tables = _as_list(document.get(kind, []))
        values[kind] = [_listed(reading, kind, place, model, table) for place, table in enumerate(tables, start=1)]
    return {**values, "names": _names(document)}


def _single(reading: Reading, kind: str, table: Any) -> dict[str, Any] | None:
    if not isinstance(table, dict):
        reading.problem(kind, table, "must be one table", f"Start it with a line [{kind}].")
        return None
    count = len(reading.problems)
    values = read_values(reading, kind, kind, SINGLES[kind], table)
    return values if len(reading.problems) == count else None


def _listed(reading: Reading, kind: str, place: int, model: type[Any], table: Any) -> Any:
    if not isinstance(table, dict):
        reading.problem(kind, table, "must be a table", f"Start it with a line [[{kind}]].")
        return None
    name = table.get("name")
    label = f'{kind} "{name}"' if isinstance(name, str) and name.strip() else f"{kind} number {place}"
    count = len(reading.problems)
    checked = read_values(reading, kind, label, model, table)
    return _built(reading, label, model, checked or {}) if len(reading.problems) == count else None


def _built(reading: Reading, label: str, model: type[Any], values: dict[str, Any] | None) -> Any:
    """Return the model, or None if its table is broken or its values break a rule together."""
    if values is None:
        return None
    try:
        return model(**values)
    except InvalidInputError as error:
        name = error.name if label.split()[0] in error.name else f"{label}.{error.name}"
        reading.problem(name, error.value, error.rule, error.remedy)
        return None


def _setup(reading: Reading, values: dict[str, Any], is_demo: bool) -> PierSetup | None:
    """Build whatever can be built, so that every problem shows; None if there is any."""
    models: dict[str, Any] = {}
    _faults_among(reading, values)
    if "mount" in values or values["tube"]:
        models["assembly"] = _assembly(reading, values)
    if "supply" in values or values["load"]:
        models["tree"] = _tree(reading, values)
    if "column" in values:
        models["column"] = _built(reading, "column", Column, values["column"])
    models["footing"] = _built(reading, "footing", Footing, values.get("footing", {}))
    models["conditions"] = _built(reading, "night", Conditions, values.get("night", {}))
    models["loads"] = _built(reading, "loads", TopLoads, _top_loads(values, models.get("assembly")))
    pier = values.get("pier", {})
    return None if reading.problems else _built(reading, "pier", PierSetup, {**pier, **models, "is_demo": is_demo})


def _faults_among(reading: Reading, values: dict[str, Any]) -> None:
    """Keep what tables say against one another: names, weights on the bar, cables of the tree."""
    bar = values.get("bar", {})
    names = values["names"]
    found = head_faults(names["tube"], names["counterweight"], None if bar is None else _tried(Bar, bar),
                        [one for one in values["counterweight"] if one is not None])
    if names["whole"]:
        found += tree_faults(names["supply"][0], names["hub"], names["load"], names["cable"])
    for error in found:
        reading.problem(error.name, error.value, error.rule, error.remedy)


def _tried(model: type[Any], values: dict[str, Any]) -> Any:
    """Return a model, or None where its own table tells of a fault."""
    try:
        return model(**values)
    except InvalidInputError:
        return None


def _names(document: dict[str, Any]) -> dict[str, Any]:
    """Return the names in the tables as they are written, whatever else is wrong; `whole` if a tree can be told."""
    tables = {kind: [table for table in _as_list(document.get(kind, [])) if isinstance(table, dict)]
              for kind in ("tube", "counterweight", "supply", "hub", "load", "cable")}
    names: dict[str, Any] = {kind: [table["name"] for table in those if isinstance(table.get("name"), str)]
                             for kind, those in tables.items()}
    names["cable"] = [(table.get("source"), table.get("feeds")) for table in tables["cable"]]
    named = all(len(names[kind]) == len(tables[kind]) for kind in ("supply", "hub", "load"))
    fed = all(isinstance(end, str) for ends in names["cable"] for end in ends)
    names["whole"] = named and fed and len(names["supply"]) == 1 and bool(names["load"])
    return names


def _as_list(tables: Any) -> list[Any]:
    return tables if isinstance(tables, list) else [tables]


def _assembly(reading: Reading, values: dict[str, Any]) -> Assembly | None:
    bar = _built(reading, "bar", Bar, values.get("bar", {}))
    rotator = _built(reading, "rotator", Rotator, values["rotator"]) if "rotator" in values else None
    if "mount" not in values:
        reading.problem("[mount]", "(missing)", "must be given with [[tube]]", "Add it with saddle_distance.")
        return None
    parts, weights = tuple(values["tube"]), tuple(values["counterweight"])
    if values["mount"] is None or bar is None or None in parts or None in weights:
        return None
    return None if reading.problems else _built(reading, "mount", Assembly, {
        **values["mount"], "bar": bar, "rotator": rotator, "parts": parts, "counterweights": weights})


def _tree(reading: Reading, values: dict[str, Any]) -> PowerTree | None:
    if "supply" not in values:
        reading.problem("[supply]", "(missing)", "must be given with [[load]]", "Add it with name and voltage.")
        return None
    supply = _built(reading, "supply", Supply, values["supply"])
    groups = {f"{kind}s": tuple(values[kind]) for kind in ("hub", "load", "cable")}
    if supply is None or any(None in group for group in groups.values()):
        return None
    return None if reading.problems else _built(reading, "power tree", PowerTree, {"supply": supply, **groups})


def _top_loads(values: dict[str, Any], assembly: Assembly | None) -> dict[str, Any] | None:
    """Return the values of the [loads] table, its mass that of the balance unless the file gives one."""
    given = values.get("loads", {})
    if given is None or assembly is None or _FROM_THE_BALANCE in given:
        return given
    return {**given, _FROM_THE_BALANCE: balance(assembly).pier_load}
