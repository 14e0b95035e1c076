"""The JSON Schema of documents whose results do not tell their fields, from recorded answers.

In: recordings. Out: ``data/documents.json``, which `planner schema` prints: one schema a kind of document, with the
unit of each number. A key that a document always has is required; a number that is not whole may be null, as one that
is not finite is printed; a key that a later version adds is allowed. What is there already is only widened: what a
version once allowed stays allowed.
"""

import re
from collections.abc import Iterable
from typing import Any

# Keys of these are names of the observer's, or counts by a reason: any may stand there.
MAPS = ("odds", "left_out", "rejected")
# How keys end, and what that means.
UNITS = {
    "mag_per_arcsec2": "mag/arcsec²", "arcsec_per_sqrt_min": "arcsec/√min", "arcsec_per_pixel": "arcsec/pixel",
    "arcsec_per_min": "arcsec/min", "arcsec_per_h": "arcsec/h", "electron_per_adu": "electron/adu",
    "electron_per_s": "electron/s", "electrons_per_s_per_pixel": "electron/s/pixel", "deg_per_s": "deg/s",
    "gigabyte_per_h": "gigabyte/h", "h_per_deg2": "h/deg²", "arcsec2": "arcsec²", "cm2": "cm²", "deg_C": "°C",
    "hPa": "hPa", "arcsec": "arcsec", "arcmin": "arcmin", "deg": "deg", "mag": "mag", "ppm": "parts per million",
    "sigma": "standard errors", "pixels": "pixel", "fraction": "share of one", "rayleigh": "rayleigh",
    "electron": "electron", "percent": "%", "hours": "h", "min": "min", "minutes": "min", "gigabyte": "gigabyte",
    "utc": "UTC", "mm": "mm", "um": "µm", "nm": "nm", "kg": "kg", "N_m": "N m", "Nm": "N m", "Hz": "Hz", "N": "N",
    "V": "V", "A": "A", "W": "W", "Ah": "A h", "Wh": "W h", "kPa": "kPa", "m": "m", "h": "h", "s": "s", "K": "K",
}
_UNIT = re.compile(rf"(?:^|_)({'|'.join(sorted(map(re.escape, UNITS), key=len, reverse=True))})$")
_TYPES = {bool: "boolean", int: "integer", float: "number", str: "string", type(None): "null"}


def schemas(documents: Iterable[dict[str, Any]]) -> dict[str, Any]:
    """Return the schema of each kind of document by its name, ``advise/1``."""
    kinds: dict[str, list[dict[str, Any]]] = {}
    for document in documents:
        kinds.setdefault(document["schema"], []).append(document)
    found = {}
    for kind, seen in sorted(kinds.items()):
        shape = _shape("", seen)
        shape["properties"] |= {"schema": {"const": kind}, "planner_version": {"type": "string"}}
        found[kind] = {"title": kind, **shape}
    return found


def widened(old: dict[str, Any], new: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of what either of two allows; one without a type was never seen filled."""
    if "const" in new:
        return new
    types = _types(old) | _types(new)
    if "number" in types:
        types -= {"integer"}
    both = {**old, **new} | ({"type": sorted(types) if len(types) > 1 else types.pop()} if types != {"null"} else {})
    for key in ("items", "additionalProperties"):
        if key in old and key in new:
            both[key] = widened(old[key], new[key])
    if "properties" in both:
        one, other = (side.get("properties", {}) for side in (old, new))
        both["properties"] = {name: widened(one.get(name, other.get(name)), other.get(name, one.get(name)))
                              for name in sorted(one | other)}
        sure = set.intersection(*(set(side.get("required", ())) for side in (old, new) if "properties" in side))
        both = {key: value for key, value in both.items() if key != "required"} | (
            {"required": sorted(sure)} if sure else {})
    return both


def _types(shape: dict[str, Any]) -> set[str]:
    given = shape.get("type", "null")  # without one it was never seen filled
    return {given} if isinstance(given, str) else set(given)


def _shape(key: str, values: list[Any]) -> dict[str, Any]:
    """Return the schema that all values of a key keep."""
    tables, rows = [[value for value in values if isinstance(value, kind)] for kind in (dict, list)]
    types = {_TYPES[type(value)] for value in values if not isinstance(value, dict | list)}
    if "number" in types:
        types = types - {"integer"} | {"null"}
    if key.endswith("_utc"):
        types |= {"null", "string"}
    shape: dict[str, Any] = {}
    if tables:
        types.add("object")
        shape |= _table(key, tables)
    if rows:
        types.add("array")
        inside = [item for row in rows for item in row]
        shape |= {"items": _shape(key, inside)} if inside else {}
    unit = _UNIT.search(key)
    if unit and "object" not in types:
        shape["description"] = f"in {UNITS[unit[1]]}"
    if types == {"null"} and not key.endswith("_utc"):
        return shape  # never seen filled
    return {"type": sorted(types) if len(types) > 1 else types.pop(), **shape}


def _table(key: str, tables: list[dict[str, Any]]) -> dict[str, Any]:
    names = sorted({name for table in tables for name in table})
    if key in MAPS:
        values = [value for table in tables for value in table.values()]
        return {"additionalProperties": _shape("", values)} if values else {}
    return {"properties": {name: _shape(name, [table[name] for table in tables if name in table]) for name in names},
            "required": [name for name in names if all(name in table for table in tables)]}
