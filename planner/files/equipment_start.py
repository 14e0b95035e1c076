"""The observer's own equipment file: begun from the commented starting file or from a copy of the demo."""

from pathlib import Path

from planner.files.equipment import WHAT, load_equipment, user_equipment_path
from planner.files.packaged import packaged_data
from planner.files.reading import is_there
from planner.files.writing import write_new


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
    used = user_equipment_path() if path is None else Path(path).expanduser()
    name = "equipment.toml" if copy_of_demo else "starter.toml"
    write_new(used, packaged_data(name).read_text(encoding="utf-8"), what=WHAT,
              remedy="Edit it, or give another path with --equipment.")
    if copy_of_demo:
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
