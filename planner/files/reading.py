"""Reading a text file that a person wrote: every way it can go wrong is one line."""

import functools
import io
import os
import sys
from dataclasses import dataclass, field
from pathlib import Path

from planner.errors import InvalidInputError

STANDARD_INPUT = "-"  # the name that stands for it where a file is read
LARGEST_TEXT = 2**20  # bytes; a hundred times a large equipment file, so a wrong file is refused before it is read


@dataclass(frozen=True)
class InMemory:
    """A file that is in memory already, such as one handed to a page; it stands wherever a path may stand."""

    name: str
    data: bytes = field(repr=False)

    def __str__(self) -> str:
        return self.name


def read_text(path: Path | str | InMemory, *, what: str, largest: int = LARGEST_TEXT) -> str:
    """Return the text of a UTF-8 file, without a byte-order mark.

    `path`: the file. `what`: what the file is, for the error: ``equipment file``. `largest`: size in bytes from which
    the file is refused.
    Raises InvalidInputError if the file is missing, no regular file, too large, not readable or not text.
    """
    raw = read_bytes(path, what=what, largest=largest)
    if b"\0" in raw:
        raise InvalidInputError(what, path, "must be a text file, this one is binary", "Check the path.")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InvalidInputError(what, path, f"must be text in UTF-8, line {line} is not",
                                "Save the file again as UTF-8.") from None


def is_there(path: Path) -> bool:
    """Return whether something is at a path, a broken link or a locked folder included: reading it then says what."""
    try:
        return path.exists() or path.is_symlink()
    except OSError:
        return True


def read_bytes(path: Path | str | InMemory, *, what: str, largest: int) -> bytes:
    """Return the content of a regular file of at most `largest` bytes; `InvalidInputError` in every other case."""
    if isinstance(path, InMemory):
        _refuse_large(path, len(path.data), what, largest)
        return path.data
    if str(path) == STANDARD_INPUT:
        data = _standard_input(largest + 1)
        _refuse_large(InMemory(STANDARD_INPUT, b""), len(data), what, largest)
        return data
    path = Path(path).expanduser()
    try:
        if not path.exists():
            raise InvalidInputError(what, path, "is not there", "Check the path.")
        if not path.is_file():
            raise InvalidInputError(what, path, "must be a file", "Give the path of the file itself.")
        _refuse_large(path, os.stat(path).st_size, what, largest)
        return path.read_bytes()
    except (OSError, ValueError) as error:
        if isinstance(error, InvalidInputError):
            raise
        reason = getattr(error, "strerror", None) or str(error)
        raise InvalidInputError(what, path, f"cannot be read ({reason})", "Check the path and its rights.") from None


@functools.cache
def _standard_input(most: int) -> bytes:
    """Return what is on standard input, up to a size, once: it can be read only once, and is asked for more often."""
    if sys.stdin is None or sys.stdin.closed:
        return b""
    return getattr(sys.stdin, "buffer", io.BytesIO()).read(most)


def _refuse_large(path: Path | InMemory, size: int, what: str, largest: int) -> None:
    if size > largest:
        raise InvalidInputError(what, path, f"must be at most {largest / 1e6:.0f} MB, it is {size / 1e6:.0f} MB",
                                "Check the path.")
