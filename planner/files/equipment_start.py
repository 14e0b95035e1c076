"""The observer's own files: begun from commented starting files, or the equipment from a copy of the demo."""

from pathlib import Path

from planner.checks import did_you_mean
from planner.errors import InvalidInputError
from planner.files.equipment import WHAT, load_equipment, user_equipment_path
from planner.files.own_files import own_path
from planner.files.packaged import packaged_data
from planner.files.reading import is_there
from planner.files.writing import write_new

PIER_HEAD = """\
# Your pier. Origin: starting file written by "planner init pier"; every figure in it is an example: replace it.
# Take out the tables that you do not want to know about.
"""
KINDS = ("equipment", "pier", "projects", "targets")
OWN = {"equipment": "equipment.toml", "pier": "pier.toml", "projects": "projects.toml", "targets": "targets.csv"}
STARTERS = {"equipment": "starter.toml", "pier": "pier.toml", "projects": "starter_projects.toml",
            "targets": "starter_targets.csv"}


def begin_file(kind: str, path: Path | str | None = None) -> Path:
    """Write one of the observer's files to start from and return its path; one that is there is never touched.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    path : Path, str or None
        Where to write; None for the folder of the user's settings.

    Raises
    ------
    InvalidInputError
        If there is no such kind, something is at that path already, or it cannot be written.
    """
    if kind not in KINDS:
        raise InvalidInputError("file", kind, f"must be one of {', '.join(KINDS)}", did_you_mean(kind, KINDS))
    used = own_path(OWN[kind]) if path is None else Path(path).expanduser()
    text = packaged_data(STARTERS[kind]).read_text(encoding="utf-8")
    if kind == "pier":  # the demo's figures under a head of their own
        text = PIER_HEAD + text[text.index("\n\n"):]
    write_new(used, text, what=f"{kind} file", remedy="Edit it, or give another path.")
    return used


def begin_equipment(path: Path | str | None = None, *, copy_of_demo: bool = False) -> Path:
    """Write an equipment file to start from and return its path; one that is there is never touched.

    Parameters
    ----------
    path : Path, str or None
        Where to write; None for the folder of the user's settings.
    copy_of_demo : bool
        Whether to start from the packaged demo, its horizon files beside it, instead of the commented example.

    Raises
    ------
    InvalidInputError
        If something is at that path already, or it cannot be written.
    """
    if not copy_of_demo:
        return begin_file("equipment", path)
    used = user_equipment_path() if path is None else Path(path).expanduser()
    write_new(used, packaged_data("equipment.toml").read_text(encoding="utf-8"), what=WHAT,
              remedy="Edit it, or give another path with --equipment.")
    _copy_horizons(used)
    load_equipment(used)
    return used


def _copy_horizons(equipment: Path) -> None:
    """Copy the horizon files that the demo names beside the equipment file, unless they are there."""
    import tomllib

    for site in tomllib.loads(packaged_data("equipment.toml").read_text(encoding="utf-8"))["site"]:
        name = site.get("horizon")
        if name and not is_there(equipment.with_name(name)):
            write_new(equipment.with_name(name), packaged_data(name).read_text(encoding="utf-8"), what="horizon",
                      remedy="Move it away first.")
