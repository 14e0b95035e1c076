"""What was measured, as one text that gives back the same values to the last bit: nothing in it is run when read.

Only the classes named here, numbers, texts, arrays and quantities can be in it.
"""

import base64
import binascii
import dataclasses
import json
import zlib
from pathlib import Path
from typing import Any

import numpy as np
from astropy import units as u
from astropy.coordinates import Latitude, Longitude

from planner.errors import InvalidInputError
from planner.measure.stars.field_parts import FieldPart, FieldParts, Trail
from planner.measure.stars.plane import Counts, Frame
from planner.measure.stars.selection import Stars
from planner.measure.stars.star_field import StarField

CLASSES: dict[str, Any] = {kind.__name__: kind for kind in (Frame, Counts, StarField, Stars, FieldParts, FieldPart,
                                                             Trail)}
LARGEST = 2**26  # bytes of one value, unpacked
_QUANTITIES: dict[str, Any] = {kind.__name__: kind for kind in (u.Quantity, Longitude, Latitude)}
_UNITS = {str(unit): unit for unit in (u.pix, u.deg, u.arcsec, u.s, u.arcsec / u.pix, u.deg_C)}


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
