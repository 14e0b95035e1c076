"""The equipment file: what the observer owns, written as TOML with units in every quantity.

Without a file of the user's own, the packaged demo stands in and `Equipment.is_demo` says so.
"""

from pathlib import Path
from typing import Any

from planner.checks import did_you_mean
from planner.errors import InvalidInputError
from planner.files.equipment.tables import KINDS, MISSING, Reading, Words, read_table
from planner.files.own_files import first_of, own_path, packaged_data, path_in_use, toml_document
from planner.files.reading import read_text
from planner.files.toml_tables import tables_of
from planner.rig import Equipment

WHAT = "equipment file"


def user_equipment_path() -> Path:
    """Return where the user's own equipment file lies, there or not: in the folder of their settings."""
    return own_path("equipment.toml")


def equipment_path(path: Path | str | None = None) -> Path:
    """Return the file that `load_equipment` reads: the one given, else the user's, else the packaged demo."""
    return path_in_use(path, user_equipment_path())


def _sway_of(path: Path) -> dict[str, Any]:
    """Return what a pier file does to a rig on it; the pier's rooms are read only where a rig names one."""
    from planner.files.pier.load import sway_of

    return sway_of(path)


def equipment_stamp(path: Path) -> str:
    """Return a text that changes when an equipment file, or a horizon file that it names, is written anew or moved."""
    return "|".join(f"{file}@{_written(file)}" for file in (path, *_horizon_files(path)))


def load_equipment(path: Path | str | None = None) -> Equipment:
    """Return everything the observer owns, from the file that `equipment_path` names.

    Raises InvalidInputError with the first problem of the file and how many more there are.
    """
    used = equipment_path(path)
    equipment, problems = _read(used)
    if equipment is None:
        raise first_of(problems, command="planner gear --check")
    return equipment


def check_equipment(path: Path | str | None = None) -> list[str]:
    """Return every problem of an equipment file in one go, a line each with file, table and key; empty if good."""
    return [str(problem) for problem in _read(equipment_path(path))[1]]


def parse_equipment(text: str, *, file: str, folder: Path, is_demo: bool = False
                    ) -> tuple[Equipment | None, list[InvalidInputError]]:
    """Return the equipment written in a text, None if it has problems, and the problems.

    `text`: TOML. `file`: name of the file, for the problems. `folder`: where the horizon files lie that it names.
    `is_demo`: whether it is the packaged demo.
    """
    try:
        document = toml_document(text, what=WHAT, file=file)
    except InvalidInputError as error:
        return None, [error]
    reading = Reading(file, folder, sway_of=_sway_of)
    _read_document(reading, document)
    if reading.problems:
        return None, reading.problems
    models = {f"{kind}s": tuple(reading.models[kind].values()) for kind in KINDS}
    return Equipment(**models, is_demo=is_demo), []


def refuse_problems(text: str, path: Path) -> None:
    """Raise the first problem of an equipment file that holds a text."""
    problems = parse_equipment(text, file=path.name, folder=path.parent)[1]
    if problems:
        raise problems[0]


def _written(path: Path) -> str:
    try:
        found = path.stat()
    except OSError:
        return "absent"
    return f"{found.st_mtime_ns},{found.st_size}"


def _horizon_files(path: Path) -> list[Path]:
    """Return the horizon files that an equipment file names; none of a damaged one."""
    try:
        document = toml_document(read_text(path, what=WHAT), what=WHAT, file=path.name)
    except InvalidInputError:
        return []
    names = [site.get("horizon") for site in tables_of(document, "site") if isinstance(site, dict)]
    return [path.parent / Path(name).expanduser() for name in names if isinstance(name, str) and name.strip()]


def _read(path: Path) -> tuple[Equipment | None, list[InvalidInputError]]:
    try:
        text = read_text(path, what=WHAT)
    except InvalidInputError as error:
        return None, [error]
    is_demo = path == packaged_data("equipment.toml")
    return parse_equipment(text, file=path.name, folder=path.parent, is_demo=is_demo)


def _read_document(reading: Reading, document: dict[str, Any]) -> None:
    for key in (key for key in document if key not in KINDS):
        value = Words("(table)") if isinstance(document[key], (dict, list)) else document[key]
        reading.problem(key, value, "is not a table of the equipment file", did_you_mean(key, KINDS))
    for kind in KINDS:
        for place, table in enumerate(tables_of(document, kind), start=1):
            read_table(reading, kind, place, table)
    for kind in ("site", "rig"):
        if not document.get(kind):
            reading.problem(f"[[{kind}]]", MISSING, f"the file must hold at least one [[{kind}]]",
                            'See the file that "planner init" writes.')
