"""The fields of a result: each is told once, in its type; JSON and the schema of JSON are rendered from that.

A field or a property is told where its type carries a text, its meaning::

    altitude_error: Annotated[u.Quantity[u.arcmin], "of the polar axis; too high: positive"]

What is worked out of the others stands in the body of the class as ``told(type or unit, meaning, how)``. A key ends in
its unit, ``altitude_error_arcmin``. A part that tells fields itself becomes a table, what the observer owns becomes its
name.
"""

import dataclasses
import datetime
import functools
import types
import typing
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import Model, unit_of

PLAIN = {bool: "boolean", int: "integer", float: "number", np.ndarray: "array", type(None): "null"}  # others: texts
# How a unit is said in a key.
SAID = {"min(1/2)": "sqrt_min", "pix": "pixel", "W h": "Wh", "A h": "Ah", "1 / ": "per_", " / ": "_per_", " ": "_"}


@dataclasses.dataclass(frozen=True)
class Key:
    """Stands in a field's type: the whole key, where it is not name and unit; ``table.key`` stands in a table."""

    text: str


@dataclasses.dataclass(frozen=True)
class Spread:
    """Stands in the type of a part: its fields, or some, stand among those of the whole, their keys begin with this."""

    before: str = ""
    only: str = ""  # names with blanks between; empty for all


@dataclasses.dataclass(frozen=True)
class Many:
    """Stands in the type of a quantity that is an array."""


@dataclasses.dataclass(frozen=True)
class Maybe:
    """Stands in the type of what is left out where it is None."""


class Told:
    """What a result works out when it is asked, as a property does."""

    def __init__(self, hint: Any, how: Callable[[Any], Any]) -> None:
        self.hint, self.how = hint, how

    def __get__(self, result: Any, kind: type | None = None) -> Any:
        return self if result is None else self.how(result)


def told(kind: Any, meaning: str, how: Callable[[Any], Any], *marks: Any, key: str | None = None) -> Any:
    """Return what stands in the body of a class under a name, told with its type, or unit, and meaning."""
    return Told(_hint(kind, meaning, *marks, *([] if key is None else [Key(key)])), how)


def rows(meaning: str, how: Callable[[Any], Iterable[Any]], *, key: str | None = None, **columns: tuple[Any, ...]
         ) -> Any:
    """Return a list of tables, told with the type and meaning of what stands under each key; `how` gives the cells."""
    row: Any = dataclasses.make_dataclass("Row", [(name, _hint(*each)) for name, each in columns.items()])
    return told(tuple[row, ...], meaning, lambda result: [row(*cells) for cells in how(result)], key=key)


def _hint(kind: Any, *beside: Any) -> Any:
    return typing.Annotated[(u.Quantity.__class_getitem__(kind) if isinstance(kind, u.UnitBase) else kind, *beside)]


@dataclasses.dataclass(frozen=True, kw_only=True)
class ResultField:
    """What a result tells under one key."""

    name: str  # in the program
    key: str
    kind: Any  # type, without what stands beside it
    unit: u.UnitBase | None
    meaning: str
    spread: Spread | None
    many: bool
    maybe: bool


def _fields_of(result: Any) -> tuple[ResultField, ...]:
    """Return what objects of a class tell, in the order in which it is written."""
    hints = typing.get_type_hints(result, include_extras=True)
    for base in reversed(result.__mro__):
        getters = {name: getattr(item, "fget", getattr(item, "func", None)) for name, item in vars(base).items()}
        hints |= {name: typing.get_type_hints(getter, include_extras=True).get("return")
                  for name, getter in getters.items() if getter is not None}
        hints |= {name: item.hint for name, item in vars(base).items() if isinstance(item, Told)}
    for name, item in getattr(result, "__dataclass_fields__", {}).items():
        if "rule" in item.metadata:
            rule = item.metadata["rule"]
            hints[name] = typing.Annotated[hints[name], rule.unit, rule.meaning]
    return tuple(field for name, hint in hints.items() if (field := _field(name, hint)) is not None)


fields_of: Callable[[Any], tuple[ResultField, ...]] = functools.cache(_fields_of)


def _field(name: str, hint: Any) -> ResultField | None:
    beside = getattr(hint, "__metadata__", ())
    marks = {type(mark): mark for mark in beside}
    if str not in marks and Spread not in marks:
        return None
    unit, kind = unit_of(hint), hint.__origin__
    key = marks[Key].text if Key in marks else unit_key(name, unit)
    return ResultField(name=name, key=key, kind=kind, unit=unit, meaning=marks.get(str, ""), many=Many in marks,
                       maybe=Maybe in marks, spread=marks.get(Spread))


def unit_key(name: str, unit: Any) -> str:
    """Return a key that ends in its unit: ``gain`` in electron/adu gives ``gain_electron_per_adu``."""
    if unit == u.pix:
        return f"{name}_pixels"
    text = "" if unit is None else str(unit)
    for written, said in SAID.items():
        text = text.replace(written, said)
    return f"{name}_{text}" if text else name


def document(*results: Any) -> dict[str, Any]:
    """Return what results tell, side by side, as plain numbers, texts, lists and tables."""
    found: dict[str, Any] = {}
    for result in results:
        _tell(found, result, type(result), "")
    return found


def _tell(found: dict[str, Any], result: Any, kind: Any, before: str, only: str = "") -> None:
    """Write what a result, or None in its place, tells under keys that begin with a text."""
    for field in _some(kind, only):
        table, key = _table(found, f"{before}{field.key}")
        if table is None:
            continue
        value = None if result is None else getattr(result, field.name)
        if field.spread is None and not (field.maybe and value is None):
            table[key] = _plain(value, field.unit)
        elif field.spread is not None:
            _tell(found, value, _part(field.kind), f"{before}{field.spread.before}", field.spread.only)


def _some(kind: Any, only: str) -> tuple[ResultField, ...]:
    return tuple(field for field in fields_of(kind) if not only or field.name in only.split())


def _table(found: dict[str, Any], key: str) -> tuple[dict[str, Any] | None, str]:
    """Return the table in which a key stands, None where that is missing, and the last part of the key."""
    *names, last = key.split(".")
    table: dict[str, Any] | None = found
    for name in names:
        table = None if table is None else table.setdefault(name, {})
    return table, last


def _plain(value: Any, unit: u.UnitBase | None) -> Any:
    if isinstance(value, u.Quantity):
        return value.to_value(unit)
    if isinstance(value, tuple | list):
        return [_plain(one, unit) for one in value]
    if isinstance(value, Mapping):
        return {key: _plain(one, unit) for key, one in value.items()}
    if hasattr(value, "__dataclass_fields__"):
        return value.name if _is_named(type(value)) else document(value)
    return str(value) if isinstance(value, Path | datetime.date | Exception) else value


def schema_of(*results: type) -> dict[str, Any]:
    """Return the JSON Schema of what objects of classes tell side by side."""
    found = _object()
    for result in results:
        _declare(found, result, "", False)
    return found


def _object() -> dict[str, Any]:
    return {"type": "object", "properties": {}, "required": []}


def _declare(found: dict[str, Any], result: Any, before: str, missing: bool, only: str = "") -> None:
    """Write the schema of what objects of a class tell, or None in their place, under keys that begin with a text."""
    for field in _some(result, only):
        if field.spread is not None:
            part, spread = _part(field.kind), field.spread
            _declare(found, part, f"{before}{spread.before}", missing or part is not field.kind, spread.only)
            continue
        *names, key = f"{before}{field.key}".split(".")
        table = found
        for name in names:
            table["required"] = sorted({*table["required"], name})
            table = table["properties"].setdefault(name, _object())
        shape = _shape(field.kind, many=field.many)
        unit = "" if field.unit is None or not str(field.unit) else f" [{field.unit}]"
        table["properties"][key] = {**(_or_null(shape) if missing else shape), "description": f"{field.meaning}{unit}"}
        table["required"] = sorted({*table["required"], *([] if field.maybe else [key])})


def _shape(kind: Any, *, many: bool = False) -> dict[str, Any]:
    """Return the schema of a type; a number that is not whole may be null, as one that is not finite is printed."""
    if kind is Any:
        return {}
    kinds = _either(kind)
    if len(kinds) > 1:
        shape = _shape(next(one for one in kinds if one is not type(None)), many=many)
        return _or_null(shape) if type(None) in kinds else shape
    kind, origin = kinds[0], typing.get_origin(kinds[0])
    if origin is typing.Annotated:
        return _shape(kind.__origin__, many=many)
    if origin is typing.Literal:
        return {"enum": list(typing.get_args(kind))}
    if origin in (tuple, list, Sequence):
        return {"type": "array", "items": _shape(typing.get_args(kind)[0])}
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": _shape(typing.get_args(kind)[1])}
    if kind is u.Quantity or kind is float:
        return {"type": "array" if many else ["null", "number"]}
    if hasattr(kind, "__dataclass_fields__"):
        return {"type": "string"} if _is_named(kind) else schema_of(kind)
    return {"type": PLAIN.get(kind, "string")}


def _is_named(kind: Any) -> bool:
    """Whether a part stands in a document by its name: what the observer owns, and what tells nothing of itself."""
    return "name" in kind.__dataclass_fields__ and (issubclass(kind, Model) or not fields_of(kind))


def _or_null(shape: dict[str, Any]) -> dict[str, Any]:
    if "enum" in shape:
        return {**shape, "enum": [*shape["enum"], None]}
    kinds = shape["type"] if isinstance(shape["type"], list) else [shape["type"]]
    return {**shape, "type": sorted({*kinds, "null"})}


def _either(kind: Any) -> tuple[Any, ...]:
    """Return the types that a value may have."""
    return typing.get_args(kind) if typing.get_origin(kind) in (typing.Union, types.UnionType) else (kind,)


def _part(kind: Any) -> Any:
    """Return the class of a part that may be missing."""
    return next(one for one in _either(kind) if one is not type(None))
