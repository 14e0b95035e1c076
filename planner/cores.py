"""Things worked out at once on several cores: a command answers one question and may have the whole machine.

A page may not: the cores belong to everybody who asks. Where a process cannot be copied with all that it knows, or
other threads run in it, everything is worked out here, one after the other; the answer is the same.
"""

import os
import pickle
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")
MOST = 8  # copies gain little beyond, and each takes memory
_free = 1  # cores that this process may use


def use(cores: int | None = None) -> None:
    """Let this process use so many cores; all that it may run on if absent."""
    global _free
    _free = cores or (len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 1)


def over_cores(function: Callable[[Item], Result], items: Sequence[Item]) -> list[Result]:
    """Return what a function makes of each item, in order; copies of this process work out their share of them.

    The function must not print, nor keep anything that is asked for later: what a copy learns beside its results is
    lost. A copy that cannot be made or ends early costs time only: its share is worked out here, where an error shows.
    """
    count = max(min(_free, MOST, len(items)), 1) if threading.active_count() == 1 else 1
    shares = [items[place::count] for place in range(count)]
    copies = [_copy(function, share) for share in shares[1:]]
    parts = [[function(item) for item in shares[0]]]
    for share, copy in zip(shares[1:], copies, strict=True):
        parts.append((_received(*copy) if copy is not None else None) or [function(item) for item in share])
    return [parts[place % count][place // count] for place in range(len(items))]


def _copy(function: Callable[[Item], Result], items: Sequence[Item]) -> tuple[int, int] | None:
    """Start a copy of this process that sends the results of its items: its number and where to read; None for none."""
    reading = writing = -1
    try:
        reading, writing = os.pipe()
        number = os.fork()
    except OSError:  # no process, memory or file to spare
        for end in (reading, writing):
            if end >= 0:
                os.close(end)
        return None
    if number:
        os.close(writing)
        return number, reading
    try:  # nothing of this leaves the copy but its results
        use(1)
        os.close(reading)
        asker, found = os.getppid(), []
        for item in items:
            if os.getppid() == asker:  # who is gone wants no answer
                found.append(function(item))
        with os.fdopen(writing, "wb") as results:
            pickle.dump(found, results, pickle.HIGHEST_PROTOCOL)
    finally:
        os._exit(0)


def _received(number: int, reading: int) -> list | None:
    """Return the results of a copy once it has ended; None where they are not whole."""
    with os.fdopen(reading, "rb") as results:
        sent = results.read()
    with suppress(ChildProcessError):  # who started us may have told the system not to keep what becomes of children
        os.waitpid(number, 0)
    try:
        return pickle.loads(sent)
    except (pickle.UnpicklingError, EOFError):
        return None
