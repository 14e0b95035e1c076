"""Where the data that travel with the program lie, in a checkout and in an installed wheel."""

from pathlib import Path

import planner
from planner.checks import did_you_mean
from planner.errors import InvalidInputError

PACKAGE = Path(planner.__file__).parent


def packaged_data(name: str) -> Path:
    """Return the path of a file of the project's `data` folder.

    `name`: file name inside the folder, e.g. ``equipment.toml``.
    Raises InvalidInputError if there is no such file; the nearest names are offered.
    """
    folder = _data_folder()
    path = folder / name
    if not path.is_file():
        there = sorted(item.name for item in folder.glob("*"))
        raise InvalidInputError("packaged file", name, "does not come with the program", did_you_mean(name, there))
    return path


def packaged_app() -> Path:
    """Return the path of the script that starts the app."""
    installed = PACKAGE / "packaged" / "streamlit_app.py"
    return installed if installed.is_file() else PACKAGE.parent / "streamlit_app.py"


def _data_folder() -> Path:
    """Return the data folder: beside the modules in a wheel, at the top of a checkout otherwise."""
    installed = PACKAGE / "packaged" / "data"
    return installed if installed.is_dir() else PACKAGE.parent / "data"
