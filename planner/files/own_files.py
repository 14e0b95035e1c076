"""The files in use: the user's own, or the data that travel with the program; what is said of a TOML that is none."""

import os
import re
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import planner
from planner.checks import did_you_mean
from planner.errors import InvalidInputError
from planner.files.reading import is_there

# A number with a decimal comma, or with a unit that no quotes hold together with it.
_UNQUOTED = re.compile(r"""[^="']+=\s*([+-]?[0-9]+(?:\.[0-9]+)?)((?:,[0-9]+)?)\s*
                           ((?:[^\d\s"'#,=\[\]][^\s"'#,=\[\]]*)?)\s*(?:\#.*)?""", re.X)
FOLDER = "PLANNER_FOLDER"  # variable that names another folder for all files of one's own
PACKAGE = Path(planner.__file__).parent


def own_path(name: str) -> Path:
    """Return where a file of the user's own lies, there or not: in `FOLDER`, else the folder of their settings.

    Raises InvalidInputError if `FOLDER` names no folder that is there: mistyped, it would put the demo in place of
    all that is theirs.
    """
    import platformdirs

    if named := os.environ.get(FOLDER):
        folder = Path(named).expanduser().absolute()
        if not os.path.isdir(folder):
            raise InvalidInputError(FOLDER, named, "is no folder that is there", "Make it, or correct the variable.")
        return folder / name
    return platformdirs.user_config_path("planner", appauthor=False) / name


def path_in_use(path: Path | str | None, own: Path) -> Path:
    """Return the file to read: the one given, else the user's own, else the packaged demo's of that name."""
    if path is not None:
        return Path(path).expanduser()
    return own if is_there(own) else packaged_data(own.name)


def toml_document(text: str, *, what: str, file: str, remedy: str = "Fix that line and try again.") -> dict[str, Any]:
    """Return what a TOML text holds.

    Raises InvalidInputError with the line and column at which it stops being TOML.
    """
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        remedy = _unquoted(text, str(error)) or remedy
        raise InvalidInputError(what, file, f"is not TOML: {str(error) or 'nested too deep'}", remedy) from None


def _unquoted(text: str, error: str) -> str | None:
    """Return how to write the value that ended a TOML text: with a decimal point, and quoted where it has a unit."""
    place = re.search(r"at line (\d+)", error)
    found = _UNQUOTED.fullmatch(text.splitlines()[int(place[1]) - 1]) if place else None
    if found is None or not (found[2] or found[3]):
        return None
    number = found[1] + found[2].replace(",", ".")
    return f'Write it like "{number} {found[3]}".' if found[3] else f"Write a decimal point: {number}."


def first_of(problems: Sequence[InvalidInputError], *, command: str) -> InvalidInputError:
    """Return the first problem, saying how many more there are and which command lists them."""
    first, more = problems[0], len(problems) - 1
    if not more:
        return first
    tail = f'({more} more: "{command}" lists them.)'
    return InvalidInputError(first.name, first.value, first.rule, f"{first.remedy} {tail}".strip())


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
