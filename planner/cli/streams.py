"""Standard output and standard error as an answer needs them: no control characters, and a reader may leave."""

import io
import os
import re
import sys
from typing import Any

from planner.errors import InvalidInputError, plain_text

waiting: list[str] = []  # notes to print once there is an answer: a refusal stands alone
_COLOUR = re.compile(r"(\x1b\[[0-9;?]*[A-Za-z]|\n|\t|\r)")


class OutputClosed(Exception):
    """Whoever read our output has left, as `head` does."""


class Stream:
    """A text stream that lets no control character of a name or a file through.

    A terminal gets the colours and cursor moves of our own tables and bars; the names in them come in checked.
    """

    def __init__(self, stream: Any, *, is_answer: bool) -> None:
        self._stream = stream
        self._is_answer = is_answer

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        """Write a text without what could steer a terminal; before an answer, the notes on it.

        An empty text goes nowhere: a library probes a stream with one, and takes its failure for something else.
        """
        if text == "":
            return 0
        if self._is_answer:
            tell_notes()
        kept = _COLOUR if self._stream.isatty() else re.compile(r"(\n|\t)")
        parts = kept.split(text)
        return self._kept(self._stream.write, "".join(part if place % 2 else plain_text(part)
                                                      for place, part in enumerate(parts)))

    def flush(self) -> None:
        """Hand on what is waiting."""
        self._kept(self._stream.flush)

    def _kept(self, act: Any, *text: str) -> int:
        """Do one step on the stream: a reader of notes that has left costs the notes, one of the answer ends it."""
        try:
            return act(*text) or 0
        except BrokenPipeError:
            if self._is_answer:
                raise OutputClosed from None
        except OSError as error:
            if self._is_answer:
                silence(self._stream)
                raise InvalidInputError("standard output", "(the answer)", f"cannot be written ({error.strerror})",
                                        "Send it elsewhere.") from None
        silence(self._stream)
        return 0


def tell_notes() -> None:
    """Print the notes that wait on stderr, where they do not disturb the answer."""
    lines, waiting[:] = waiting[:], ()
    if lines:
        print(*lines, sep="\n", file=sys.stderr)


def silence(stream: Any) -> None:
    """Send a stream nowhere from now on, so that what is left in it fails no more."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def guard() -> tuple[Any, Any]:
    """Put `Stream` in place of both streams and return what was there before."""
    for place in (0, 1, 2):  # one closed by the caller would be taken by the next file that is opened
        try:
            os.fstat(place)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    before = sys.stdout, sys.stderr
    for stream in before:
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without ″ shows ? instead of failing
    sys.stdout, sys.stderr = (Stream(io.StringIO() if stream is None else stream, is_answer=place == 0)
                              for place, stream in enumerate(before))
    return before
