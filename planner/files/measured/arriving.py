"""Frames as they arrive in a folder: each once, when it is complete."""

from pathlib import Path

from planner.errors import InvalidInputError
from planner.files.frames.load import SUFFIXES


class Arriving:
    """A folder that frames are written to."""

    def __init__(self, folder: Path | str) -> None:
        """Raises InvalidInputError if there is no such folder."""
        self.folder = Path(folder).expanduser()
        self._done: set[Path] = set()
        self._sizes: dict[Path, int] = {}
        try:
            there = self.folder.is_dir()
        except (OSError, ValueError):
            there = False
        if not there:
            raise InvalidInputError("watch", folder, "must be a folder", "Name the one that the frames are written to.")

    def complete(self) -> list[Path]:
        """Return the new files that have the same size as at the last call, in the order of their names."""
        now = self._seen()
        found = [path for path, size in now.items() if size and self._sizes.get(path) == size]
        self._done.update(found)
        self._sizes = now
        return found

    def _seen(self) -> dict[Path, int]:
        """Return the sizes of the new FITS files; those that go away meanwhile are left out."""
        sizes = {}
        try:
            for path in sorted(self.folder.iterdir()):
                if path not in self._done and path.name.lower().endswith(SUFFIXES) and path.is_file():
                    sizes[path] = path.stat().st_size
        except OSError:
            return {}
        return sizes
