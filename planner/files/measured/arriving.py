"""Frames as they arrive in a folder: each when it is complete, and again when it was written anew."""

import contextlib
from pathlib import Path

from planner.errors import InvalidInputError
from planner.files.frames.load import SUFFIXES

_State = tuple[int, int]  # bytes, and when they were written [ns]


class Arriving:
    """A folder that frames are written to."""

    def __init__(self, folder: Path | str) -> None:
        """Raises InvalidInputError if there is no such folder."""
        self.folder = Path(folder).expanduser()
        self.gone = False  # whether the folder was not there at the last look
        self._done: dict[Path, _State] = {}
        self._before: dict[Path, _State] = {}
        try:
            there = self.folder.is_dir()
        except (OSError, ValueError):
            there = False
        if not there:
            raise InvalidInputError("watch", folder, "must be a folder", "Name the one that the frames are written to.")

    def complete(self) -> list[Path]:
        """Return the new files that are as they were at the last call, in the order of their names."""
        now = self._seen()
        found = {path: state for path, state in now.items() if state[0] and self._before.get(path) == state}
        self._done |= found
        self._before = now
        return list(found)

    def state_of(self, path: Path) -> str:
        """Return a text that tells a complete file from what was written there before."""
        return f"{path} {self._done[path]}"

    def _seen(self) -> dict[Path, _State]:
        """Return how the new FITS files are; those that go away meanwhile are left out."""
        try:
            found = [path for path in sorted(self.folder.iterdir()) if path.name.lower().endswith(SUFFIXES)]
            self.gone = False
        except OSError:
            self.gone = True
            return {}
        states = {}
        for path in found:
            with contextlib.suppress(OSError):
                about = path.stat()
                states[path] = about.st_size, about.st_mtime_ns
        return {path: state for path, state in states.items() if path.is_file() and self._done.get(path) != state}
