"""Writing files so that nothing is lost: whole or not at all, and what was there before is kept.

A link is written through to the file it names; a device or a pipe is written to, never replaced.
"""

import contextlib
import errno
import os
import shutil
import stat
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from planner.errors import InvalidInputError
from planner.files.reading import STANDARD_INPUT, is_there, read_text

PATIENCE = 10  # seconds to wait for another writer of the same file
ABANDONED = 600  # seconds after which the temporary of a write that was killed is swept


def write_new(path: Path, text: str, *, what: str, remedy: str, folders: bool = True) -> None:
    """Write a text file that is not there yet, its folders too unless told; `remedy` says what to do where one is.

    Raises InvalidInputError if there is something at that path already, or it cannot be written.
    """
    not_standard_input(path, what)
    if folders:
        _make_folder(path, what)
    try:
        _put_new(path, text.encode("utf-8"))
    except FileExistsError:
        raise InvalidInputError(what, path, "is there already and is never overwritten", remedy) from None
    except (OSError, ValueError) as error:
        raise _cannot_write(path, what, error) from None


def replace_text(path: Path, text: str, *, what: str, keep: bool = True) -> None:
    """Replace a text file in one step, to `keep` the version before as ``.bak``; readers never see half a file.

    Raises InvalidInputError if it cannot be written; the old file then stands untouched.
    """
    try:
        used = path.resolve()
        with _temporary(used, text.encode("utf-8")) as new:
            shutil.copymode(used, new)
            if keep:
                with _temporary(used, used.read_bytes()) as old:
                    shutil.copystat(used, old)
                    os.replace(old, used.with_name(used.name + ".bak"))
            os.replace(new, used)
    except (OSError, ValueError) as error:
        raise _cannot_write(path, what, error) from None


def version_kept(path: Path) -> str:
    """Return where the version before the last change of a file is, to end a sentence; empty where there is none."""
    before = path.resolve().with_name(f"{path.resolve().name}.bak")
    return f"; the version before is kept as {before.name}" if before.exists() else ""


def rewrite(path: Path, edit: Callable[[str], str], *, what: str, start: str | None = None, keep: bool = True) -> None:
    """Replace a file's text by an edited one, one writer at a time; an edit that raises leaves it as it stands.

    With `start`, a file that is not there is written whole, as if that had stood in it. `keep`: as in `replace_text`.

    Raises InvalidInputError if it cannot be locked, read or written, and what the edit raises.
    """
    import filelock

    not_standard_input(path, what)
    used = path.resolve()
    lock = used.with_name(f".{used.name}.lock")
    if start is not None:
        _make_folder(used, what)
    try:
        if lock.is_symlink():
            raise OSError(errno.ELOOP, "its lock file is a link")
        with filelock.FileLock(lock, timeout=PATIENCE):
            if start is None or is_there(path):
                replace_text(used, edit(read_text(used, what=what)), what=what, keep=keep)
            else:
                write_new(used, edit(start), what=what, remedy="Try again.")
    except (filelock.Timeout, OSError) as error:
        reason = getattr(error, "strerror", None) or type(error).__name__
        raise InvalidInputError(what, path, f"cannot be locked for writing ({reason})",
                                "Check the folder's rights and other running programs.") from None


def write_answer(path: Path, text: str, *, what: str, force: bool = False) -> Path:
    """Write an answer to a file, line ends as they are, in one step; what is there is kept unless `force`.

    Raises InvalidInputError if there is something at that path already, its folder is not there, or it cannot be
    written.
    """
    path = path.expanduser()
    not_standard_input(path, what)
    if os.path.isdir(path):
        raise InvalidInputError(what, path, "must be a file, this is a folder", "Give the name of a file.")
    try:
        if is_device(path):
            _put_device(path, text.encode("utf-8"))
        elif force and os.path.lexists(path):
            _put_over(path.resolve(), text.encode("utf-8"))
        else:
            _put_new(path, text.encode("utf-8"))
    except FileExistsError:
        raise InvalidInputError(what, path, "is there already",
                                "Give another name, or --force to replace it.") from None
    except (OSError, ValueError) as error:
        raise _cannot_write(path, what, error) from None
    return path


def refuse_unwritable(option: str, path: Path, *, force: bool | None = None) -> None:
    """Refuse an output before anything is computed: a folder, a name that is taken, a place where one may not write.

    `option`: that names it. `force`: replace what is there; None where it is never replaced.
    """
    not_standard_input(path, option)
    path = path.expanduser()
    folder, device = path.absolute().parent, is_device(path)
    try:
        if os.path.isdir(path):
            raise InvalidInputError(option, path, "must be a file, this is a folder", "Give the name of a file.")
        if os.path.lexists(path) and force is None:
            raise InvalidInputError(option, path, "is there already and is never overwritten",
                                    f"Give another name with {option}.")
        if os.path.exists(path) and not force and not device:
            raise InvalidInputError(option, path, "is there already", "Give another name, or --force to replace it.")
        if not stat.S_ISDIR(os.stat(folder).st_mode):
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
        if not device and not os.access(path.resolve().parent, os.W_OK | os.X_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    except FileNotFoundError:
        raise InvalidInputError(option, path, "lies in a folder that is not there", "Make the folder first.") from None
    except InvalidInputError:
        raise
    except (OSError, ValueError) as error:
        raise _cannot_write(path, option, error) from None


def not_standard_input(path: Path, what: str) -> None:
    """Refuse the name that stands for standard input where a file is written."""
    if str(path) == STANDARD_INPUT:
        raise InvalidInputError(what, path, "is standard input and cannot be written", "Give the name of a file.")


def _put_new(path: Path, data: bytes) -> None:
    """Write a file whose name is free, whole or not at all; of two writers at once one is told that it is there."""
    if os.path.lexists(path):
        raise FileExistsError(errno.EEXIST, "is there", str(path))
    with _temporary(path, data) as new:
        new.chmod(0o644)
        try:
            os.link(new, path)
        except FileExistsError:
            raise
        except OSError:  # a file system without hard links: claim the name, then fill it
            path.touch(exist_ok=False)
            try:
                os.replace(new, path)
            except OSError:
                path.unlink(missing_ok=True)
                raise


def _put_over(path: Path, data: bytes) -> None:
    """Write over a file in one step, its rights kept."""
    with _temporary(path, data) as new:
        new.chmod(stat.S_IMODE(path.stat().st_mode) if path.exists() else 0o644)
        os.replace(new, path)


def is_device(path: Path) -> bool:
    """Return whether what is at a path is a device or a pipe, or stands for an open one."""
    try:
        if not path.exists():
            return False
        return not stat.S_ISREG(path.stat().st_mode) or path.absolute().parts[:2] in (("/", "dev"), ("/", "proc"))
    except OSError:
        return False


def _put_device(path: Path, data: bytes) -> None:
    """Write to a device or a pipe; a pipe that nobody reads is refused, not waited for."""
    place = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_NONBLOCK)
    os.set_blocking(place, True)
    with open(place, "wb", closefd=True) as file:
        file.write(data)


@contextlib.contextmanager
def _temporary(path: Path, data: bytes) -> Iterator[Path]:
    """Yield a temporary file beside a path with the data safe on the disk; what is left of it goes afterwards."""
    _sweep(path)
    place, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:100]}.", suffix=".new")
    new = Path(name)
    try:
        with open(place, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        yield new
    finally:
        new.unlink(missing_ok=True)


def _sweep(path: Path) -> None:
    """Remove the temporaries that killed writes of the same file left behind."""
    head = f".{path.name[:100]}."
    with contextlib.suppress(OSError), os.scandir(path.parent) as there:
        for entry in there:
            if not (entry.name.startswith(head) and entry.name.endswith(".new")):
                continue
            with contextlib.suppress(OSError):
                if time.time() - entry.stat(follow_symlinks=False).st_mtime > ABANDONED:
                    os.unlink(entry.path)


def _make_folder(path: Path, what: str) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise _cannot_write(path, what, error) from None


def _cannot_write(path: Path, what: str, error: Exception) -> InvalidInputError:
    reason = getattr(error, "strerror", None) or str(error)
    full = getattr(error, "errno", None) in (errno.ENOSPC, errno.EDQUOT)
    return InvalidInputError(what, path, f"cannot be written ({reason})",
                             "Make room on the disk." if full else "Check the folder and its rights.")
