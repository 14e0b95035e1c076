"""Writing files so that nothing is lost: a new one never replaces an old one, a changed one keeps its last version."""

import os
import shutil
import tempfile
from pathlib import Path

from planner.errors import InvalidInputError


def write_new(path: Path, text: str, *, what: str) -> None:
    """Write a text file that is not there yet, folders included.

    Raises
    ------
    InvalidInputError
        If there is something at that path already, or it cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise InvalidInputError(what, path, "is there already and is never overwritten",
                                "Edit it, or give another path with --equipment.") from None
    except (OSError, ValueError) as error:
        raise _cannot_write(path, what, error) from None


def replace_text(path: Path, text: str, *, what: str) -> None:
    """Replace a text file in one step, keeping the version before as ``.bak``; readers never see half a file.

    Raises
    ------
    InvalidInputError
        If it cannot be written; the old file then stands untouched.
    """
    temporary = None
    try:
        with tempfile.NamedTemporaryFile("w", encoding="utf-8", newline="", dir=path.parent, prefix=f".{path.name}.",
                                         suffix=".new", delete=False) as file:
            temporary = Path(file.name)
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        shutil.copymode(path, temporary)
        shutil.copy2(path, path.with_name(path.name + ".bak"))
        os.replace(temporary, path)
    except (OSError, ValueError) as error:
        if temporary is not None:
            temporary.unlink(missing_ok=True)
        raise _cannot_write(path, what, error) from None


def _cannot_write(path: Path, what: str, error: Exception) -> InvalidInputError:
    reason = getattr(error, "strerror", None) or str(error)
    return InvalidInputError(what, path, f"cannot be written ({reason})", "Check the folder and its rights.")
