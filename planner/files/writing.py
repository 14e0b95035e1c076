"""Writing files so that nothing is lost: a new one never replaces an old one, a changed one keeps its last version."""

import os
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from planner.errors import InvalidInputError
from planner.files.reading import read_text

PATIENCE = 10  # seconds to wait for another writer of the same file


def write_new(path: Path, text: str, *, what: str, remedy: str, folders: bool = True) -> None:
    """Write a text file that is not there yet, its folders too unless told; `remedy` says what to do where one is.

    Raises
    ------
    InvalidInputError
        If there is something at that path already, or it cannot be written.
    """
    if folders:
        _make_folder(path, what)
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise InvalidInputError(what, path, "is there already and is never overwritten", remedy) from None
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


def rewrite(path: Path, edit: Callable[[str], str], *, what: str) -> None:
    """Replace a file's text by an edited one, one writer at a time; an edit that raises leaves it as it stands.

    Raises
    ------
    InvalidInputError
        If it cannot be locked, read or written, and what the edit raises.
    """
    import filelock

    try:
        with filelock.FileLock(path.with_name(f".{path.name}.lock"), timeout=PATIENCE):
            replace_text(path, edit(read_text(path, what=what)), what=what)
    except (filelock.Timeout, OSError) as error:
        raise InvalidInputError(what, path, f"cannot be locked for writing ({type(error).__name__})",
                                "Check the folder's rights and other running programs.") from None


def write_answer(path: Path, text: str, *, what: str, force: bool = False) -> Path:
    """Write an answer to a file, line ends as they are, in one step; what is there is kept unless `force`.

    Raises
    ------
    InvalidInputError
        If there is something at that path already, or it cannot be written.
    """
    path = path.expanduser()
    if path.is_dir():
        raise InvalidInputError(what, path, "must be a file, this is a folder", "Give the name of a file.")
    temporary, claimed = None, False
    _make_folder(path, what)
    try:
        if not force:
            with path.open("xb"):  # claims the name, so that two at once cannot both write it
                claimed = True
        with tempfile.NamedTemporaryFile("wb", dir=path.parent, prefix=f".{path.name}.", suffix=".new",
                                         delete=False) as file:
            temporary = Path(file.name)
            file.write(text.encode("utf-8"))
        temporary.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o644)
        os.replace(temporary, path)
    except FileExistsError:
        raise InvalidInputError(what, path, "is there already",
                                "Give another name, or --force to replace it.") from None
    except (OSError, ValueError) as error:
        if temporary is not None:
            temporary.unlink(missing_ok=True)
        if claimed:
            path.unlink(missing_ok=True)
        raise _cannot_write(path, what, error) from None
    return path


def _make_folder(path: Path, what: str) -> None:
    """Make the folder of a file."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise _cannot_write(path, what, error) from None


def _cannot_write(path: Path, what: str, error: Exception) -> InvalidInputError:
    reason = getattr(error, "strerror", None) or str(error)
    return InvalidInputError(what, path, f"cannot be written ({reason})", "Check the folder and its rights.")
