"""The measurements of a season of frames in one ECSV file, a row a frame as it comes: a run that was stopped goes on.

The columns are for any program that reads ECSV; the last one holds all that was measured, to the last bit, so that a
report from the file is the report of one run. A row cut short by a kill is taken off; frames that could not be measured
have no row and are tried again; of a frame that changed the last row counts.
"""

import base64
import binascii
import csv
import dataclasses
import errno
import hashlib
import io
import json
import os
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from astropy import units as u
from astropy.coordinates import Latitude, Longitude

from planner.errors import InvalidInputError
from planner.files.csv_text import text_cell
from planner.files.measured.frame_task import Task
from planner.files.reading import InMemory, is_there, read_bytes
from planner.measure.frame.model import Measured
from planner.measure.stars.field_parts import FieldPart, FieldParts, Trail
from planner.measure.stars.plane import Counts, Frame
from planner.measure.stars.selection import Stars
from planner.measure.stars.star_field import StarField

WHAT = "results"
LARGEST_FILE = 2**33
LONGEST_ROW = 2**25
COLUMNS = {"file": "string", "bytes": "int64", "modified_ns": "int64", "stars": "int64", "fwhm": "float64",
           "elongation": "float64", "angle": "float64", "background": "float64", "noise": "float64",
           "measured": "string"}
UNITS = {"fwhm": "pix", "angle": "deg"}
OTHER_FILE = "Give another name with --results."
CLASSES: dict[str, Any] = {kind.__name__: kind for kind in (Frame, Counts, StarField, Stars, FieldParts, FieldPart,
                                                             Trail)}
LARGEST = 2**26  # bytes of one value, unpacked
_QUANTITIES: dict[str, Any] = {kind.__name__: kind for kind in (u.Quantity, Longitude, Latitude)}
_UNITS = {str(unit): unit for unit in (u.pix, u.deg, u.arcsec, u.s, u.arcsec / u.pix, u.deg_C)}


class Results:
    """A file of results: what it holds, and where the next one goes."""

    def __init__(self, path: Path, tasks: list[Task]) -> None:
        """Open the file or begin it.

        Raises InvalidInputError if it holds something else, was measured with other options or another version, or
        cannot be used.
        """
        self._path = path.expanduser()
        self._head = _head(tasks[0])
        self._rows: dict[tuple[str, int, int], str] = {}
        written = self._written()
        if written is None:
            self._append(self._head)
        else:
            self._read(written)

    def known(self, task: Task) -> Measured | None:
        """Return what the file holds of a frame as it is on the disk now; None if it is to be measured."""
        row = self._rows.get(_mark(task))
        return None if row is None else Measured(task.named, *restored(row))

    def add(self, task: Task, result: Measured) -> None:
        """Write the row of a frame; one that could not be measured has none."""
        if result.error is None:
            self._append(_row(_mark(task), result))

    def _written(self) -> bytes | None:
        """Return what is there; None of a file that is not, or was cut short in its head."""
        if not is_there(self._path):
            return None
        data = read_bytes(self._path, what=WHAT, largest=LARGEST_FILE)
        if not self._head.encode().startswith(data) or data == self._head.encode():
            return data
        self._cut(0)
        return None

    def _cut(self, size: int) -> None:
        """Take off what follows so many bytes."""
        try:
            os.truncate(self._path, size)
        except OSError as error:
            raise _cannot(self._path, error) from None

    def _read(self, data: bytes) -> None:
        """Take in the rows, and take off what follows the last whole one."""
        head = self._head.encode()
        if not data.startswith(head):
            rule = ("was measured with other options or another version of the program" if data.startswith(b"# %ECSV")
                    else "must be a file of results")
            raise InvalidInputError(WHAT, self._path, rule, OTHER_FILE)
        whole = data.rfind(b"\n") + 1
        if whole < len(data):
            self._cut(whole)
        self._rows.update(_rows(self._path, data[len(head):whole]))

    def _append(self, text: str) -> None:
        """Write at the end in one go, so that the rows of two runs at once stay whole."""
        data = text.encode("utf-8")
        try:
            place = os.open(self._path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
            try:
                if os.write(place, data) < len(data):
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            finally:
                os.close(place)
        except (OSError, ValueError) as error:
            raise _cannot(self._path, error) from None


def _cannot(path: Path, error: Exception) -> InvalidInputError:
    return InvalidInputError(WHAT, path, f"cannot be written ({getattr(error, 'strerror', None) or error})",
                             "Check the folder, its rights and the room on the disk.")


def _mark(task: Task) -> tuple[str, int, int]:
    """Return what tells a frame and its state: name, size and time of the last change."""
    if isinstance(task.path, InMemory):
        raise InvalidInputError(WHAT, task.path, "is no file that can be found again", "Leave --results out.")
    try:
        found = task.path.stat()
    except (OSError, ValueError):
        return text_cell(str(task.path)), -1, -1
    return text_cell(str(task.path)), found.st_size, found.st_mtime_ns


def _rows(path: Path, data: bytes) -> Iterator[tuple[tuple[str, int, int], str]]:
    """Yield the mark of each row's frame and what was measured."""
    before = csv.field_size_limit(LONGEST_ROW)
    try:
        for cells in csv.reader(io.StringIO(data.decode("utf-8"), newline="")):
            name, size, modified, *_, measured = cells
            if len(cells) != len(COLUMNS):
                raise ValueError("cells")
            yield (name, int(size), int(modified)), measured
    except (csv.Error, ValueError):
        raise InvalidInputError(WHAT, path, "holds a row that is none", OTHER_FILE) from None
    finally:
        csv.field_size_limit(before)


def _row(mark: tuple[str, int, int], result: Measured) -> str:
    field: Any = result.field
    figures = (field.found, field.fwhm.value, field.elongation, field.angle.value, field.background, field.noise)
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerow(
        [*mark, *(f"{figure:.10g}" for figure in figures), stored((result.frame, field))])
    return out.getvalue()


def _method() -> str:
    """Return a digest of the code that reads and measures a frame: what another one measured is not mixed in."""
    root = Path(__file__).parents[2]
    files = [*(root / "measure" / "stars").rglob("*.py"), *(root / "files" / "frames").glob("*.py")]
    digest = hashlib.sha256()
    for file in sorted(files):
        digest.update(file.read_bytes())
    return digest.hexdigest()[:16]


def _head(task: Task) -> str:
    """Return the head of the file: columns, and with which options frames were measured."""
    columns = [f"# - {{name: {name}, {f'unit: {UNITS[name]}, ' if name in UNITS else ''}datatype: {kind}}}"
               for name, kind in COLUMNS.items()]
    lens = None if task.telescope is None else f"{task.telescope.focal_length}, {task.telescope.aperture}, " \
                                               f"{task.telescope.obstruction}, {task.telescope.optical_blur}"
    options = {"method": _method(), "colour": task.colour, "mosaic": task.mosaic, "saturation": task.saturation,
               "image scale": task.image_scale, "telescope": lens, "wavelength": task.wavelength}
    meta = [f"# - {{{name}: {json.dumps(str(value))}}}" for name, value in options.items()]
    return "\n".join(["# %ECSV 1.0", "# ---", "# delimiter: ','", "# datatype:", *columns, "# meta: !!omap", *meta,
                      "# schema: astropy-2.0", ",".join(COLUMNS)]) + "\n"


def stored(value: Any) -> str:
    """Return a value as a text without blanks, commas or quotes."""
    plain = json.dumps(_plain(value), separators=(",", ":")).encode()
    return base64.b64encode(zlib.compress(plain, 6)).decode("ascii")


def restored(text: str) -> Any:
    """Return the value that `stored` was given.

    Raises InvalidInputError if the text is not whole, or holds what it may not.
    """
    try:
        packed = zlib.decompressobj()
        plain = packed.decompress(base64.b64decode(text, validate=True), LARGEST)
        if not packed.eof:
            raise ValueError("too long")
        return _value(json.loads(plain))
    except (ValueError, TypeError, KeyError, IndexError, AttributeError, RecursionError, zlib.error,
            binascii.Error) as error:
        raise InvalidInputError("measured", f"{text[:20]}…", "is damaged", "Delete the row, or the file.") from error


def _plain(value: Any) -> Any:
    """Return a value as JSON knows it; whatever is not a plain one is a list with its kind in front."""
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, u.Quantity):
        return [type(value).__name__, str(value.unit), _plain(np.asarray(value.value))]
    if isinstance(value, np.ndarray | np.generic):
        array = np.asarray(value)
        kind = "array" if isinstance(value, np.ndarray) else "scalar"
        data = base64.b64encode(np.ascontiguousarray(array).tobytes()).decode("ascii")
        return [kind, array.dtype.str, list(array.shape), data]
    if isinstance(value, tuple):
        return ["tuple", [_plain(item) for item in value]]
    if isinstance(value, Path):
        return ["path", str(value)]
    if isinstance(value, dict):
        return {name: _plain(item) for name, item in value.items()}
    fields = {item.name: _plain(getattr(value, item.name)) for item in dataclasses.fields(value) if item.init}
    return ["class", CLASSES[type(value).__name__].__name__, fields]


def _value(plain: Any) -> Any:
    """Return the value that `_plain` was given."""
    if isinstance(plain, dict):
        return {name: _value(item) for name, item in plain.items()}
    if not isinstance(plain, list):
        return plain
    kind, *rest = plain
    if kind == "class":
        return CLASSES[rest[0]](**{name: _value(item) for name, item in rest[1].items()})
    if kind in _QUANTITIES:
        return _QUANTITIES[kind](_value(rest[1]), _UNITS[rest[0]], copy=False)
    if kind == "tuple":
        return tuple(_value(item) for item in rest[0])
    if kind == "path":
        return Path(rest[0])
    array = np.frombuffer(base64.b64decode(rest[2], validate=True), np.dtype(rest[0])).reshape(rest[1]).copy()
    return array[()] if kind == "scalar" else array
