"""Quantities as people write them, a number and its unit in one text: ``3.8 um``, ``21.2 mag/arcsec2``, ``-5 °C``."""

import functools
import json
import re
from itertools import pairwise
from typing import Any

from astropy import units as u

from planner.checks import Rule, check
from planner.errors import InvalidInputError
from planner.files.angles import in_parts, typed_angle

# A finite or silly number in western digits, then a unit, which starts with no digit but that of 1/K.
_WRITTEN = re.compile(r"\s*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?|[+-]?(?:nan|inf)\b)"
                      r"\s*((?:1\s*/)?[^\s\d,;.+/-].*?|)\s*", re.I | re.S)
_COMMA = re.compile(r"\s*([+\-−]?[0-9]+),([0-9]+)(?![0-9.,])")
_BARE = re.compile(r"\s*[+\-−]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?\s*|\s*[+\-−]?(?:nan|inf)\s*", re.I)
_BEFORE_ERROR = re.compile(r"\+\s*/?\s*[-−]")
_ERROR = re.compile(r"\s*([+\-−]?[0-9.,eE+\-]*[0-9.])\s*(.*?)\s*", re.S)
# What people write for a unit, in the words of astropy.
_WORDS = {
    "°": "deg", "″": "arcsec", '"': "arcsec", "′": "arcmin", "'": "arcmin", "degrees": "deg", "degree": "deg",
    "°C": "deg_C", "degC": "deg_C", "Celsius": "deg_C", "celsius": "deg_C", "e-": "electron", "e": "electron",
    "ADU": "adu", "sec": "s", "seconds": "s", "second": "s", "minutes": "min", "minute": "min", "hours": "h",
    "hour": "h", "metres": "m", "metre": "m", "micron": "um", "microns": "um", "mbar": "hPa", "deg_C": "deg_C",
    "Ah": "A h", "Wh": "W h",
}
_WORD = re.compile(r"(?<![\d.])e-(?![\w(])|°C?|[″\"′']|[A-Za-zµμ_]+")
_TEMPERATURES = {"C": u.deg_C, "F": u.imperial.deg_F, "°F": u.imperial.deg_F, "degF": u.imperial.deg_F}
_IMPERIAL = {"in": u.imperial.inch, "inch": u.imperial.inch, "inches": u.imperial.inch, "ft": u.imperial.foot,
             "feet": u.imperial.foot, "lb": u.imperial.pound, "lbs": u.imperial.pound, "oz": u.imperial.oz}


def parse_quantity(name: str, text: object, rule: Rule) -> u.Quantity:
    """Return the Quantity written in a text, in the unit it was written in.

    `name`: what the user called the value. `text`: the value as written; anything but a text of number and unit is
    refused, save an angle in degrees and minutes. `rule`: gives the unit to suggest and the remedy.
    Raises InvalidInputError if it is not a number with a unit that exists.
    """
    like = f"must be a number with a unit like {unit_text(rule.unit)}"
    if not isinstance(text, str):
        raise InvalidInputError(name, text, like, _example(text, rule))
    if rule.unit is u.deg and in_parts(name, text):
        return typed_angle(name, text) * u.deg
    _refuse_comma(name, text, like)
    found = _WRITTEN.fullmatch(text.replace("−", "-"))  # the true minus sign
    if found is None or not found[2]:
        raise InvalidInputError(name, text, like, _example(found[1] if found else None, rule))
    unit = _unit(found[2], rule)
    if unit is None:
        raise InvalidInputError(name, text, f"has no known unit, {like}", rule.remedy)
    return u.Quantity(float(found[1]), unit)


def written_value(name: str, value: Any, rule: Rule) -> Any:
    """Return a value as a file writes it, checked by its rule."""
    try:
        return check(name, parse_quantity(name, value, rule) if rule.kind == "quantity" else value, rule)
    except OverflowError:  # a whole number of hundreds of digits
        raise InvalidInputError(name, value, "is too large a number", rule.remedy) from None


def split_error(text: str) -> tuple[str, str | None]:
    """Return a figure without its standard error, and the error with the same unit; None where none is written.

    ``0.25 ± 0.05 arcsec`` gives ``0.25 arcsec`` and ``0.05 arcsec``, as does ``0.25 arcsec ± 0.05 arcsec``; ``+-`` and
    ``+/-`` mean the same.
    """
    value, sign, rest = _BEFORE_ERROR.sub("±", text, count=1).partition("±")
    if not sign:
        return text, None
    found = _ERROR.fullmatch(rest)
    if found is None:
        return value, rest
    own = _WRITTEN.fullmatch(value.replace("−", "-"))
    unit = own[2] if own else ""
    bare = value if unit else f"{value.strip()} {found[2]}"
    return bare.strip(), f"{found[1]} {found[2] or unit}".strip()


def parse_option(name: str, text: str, rule: Rule) -> u.Quantity:
    """Return the quantity that an option holds, checked; a bare number is in the rule's unit: ``60`` is ``60 s``."""
    try:
        return check(name, parse_quantity(name, with_unit(text, rule), rule), rule)
    except InvalidInputError as error:
        raise InvalidInputError(name, text, error.rule, error.remedy) from None


def with_unit(text: str, rule: Rule) -> str:
    """Return a bare number with the rule's unit behind it, anything else as it is."""
    return f"{text.strip()} {unit_text(rule.unit)}" if _BARE.fullmatch(text) else text


def _refuse_comma(name: str, text: str, like: str) -> None:
    """Refuse a decimal comma, which elsewhere parts thousands, with the number as it may be meant."""
    found = _COMMA.match(text)
    if found:
        pointed, whole = (f"{found[1]}{mark}{found[2]}{text[found.end():]}" for mark in (".", ""))
        other = f', or "{whole}"' if len(found[2]) == 3 and found[1].strip("+-−0") else ""
        raise InvalidInputError(name, text, like, f'Write a decimal point: "{pointed}"{other}.')


def quantity_text(value: u.Quantity) -> str:
    """Return a scalar Quantity as `parse_quantity` reads it, to 10 significant digits."""
    return f"{value.value:.10g} {unit_text(value.unit)}"


def unit_text(unit: u.UnitBase | None) -> str:
    """Return the unit without blanks, as it is written in the equipment file: ``electron/adu``."""
    return str(unit).replace(" ", "") if unit is not None else ""


def _example(bare: object, rule: Rule) -> str:
    """Return the remedy for a value without unit: how to write it."""
    is_number = (isinstance(bare, (int, float)) and not isinstance(bare, bool)) or (
        isinstance(bare, str) and "n" not in bare.lower())  # neither nan nor inf
    return f'Write it like "{bare if is_number else 1} {unit_text(rule.unit)}".'


def _unit(text: str, rule: Rule) -> u.UnitBase | None:
    if text == unit_text(rule.unit):
        return rule.unit
    if rule.unit is u.deg_C and text in _TEMPERATURES:
        return _TEMPERATURES[text]
    return _named_unit(text)


@functools.lru_cache(maxsize=256)
def _named_unit(text: str) -> u.UnitBase | None:
    if text in _IMPERIAL:
        return _IMPERIAL[text]
    plain = text.replace("²", "2").replace("³", "3")
    words = _WORD.sub(lambda found: _WORDS.get(found[0], found[0]), plain)
    try:
        unit = u.Unit(words)
    except (ValueError, TypeError):
        return None
    return unit if isinstance(unit, u.UnitBase) else None


# Figures that an equipment file may give as a curve over wavelength: a list of pairs of nm and a share. By kind of
# table: its key, and the model's key of the curve.
CURVES = {"filter": ("transmission", "curve"), "camera": ("quantum_efficiency", "response")}
LOW_NM, HIGH_NM = 300, 1100


def with_curve(kind: str, table: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the table with one number in place of a curve, and the curve by the model's key; as is without one.

    A filter's centre and width follow from its curve where they are not given: the mean wavelength of what passes, and
    what passes over the highest value.

    Raises InvalidInputError if the curve breaks its rule.
    """
    key, field = CURVES.get(kind, ("", ""))
    pairs = _parsed(table.get(key))
    if not isinstance(pairs, list):
        return table, {}
    fault = _fault(pairs)
    if fault:
        raise InvalidInputError(key, pairs, fault, "Write it like [[495, 0], [497, 0.9], [504, 0.9], [506, 0]].")
    curve = tuple((float(nm), float(share)) for nm, share in pairs)
    highest = max(share for _, share in curve)
    shown = {**table, key: highest}
    if kind == "filter":
        centre, width = _box(curve, highest)
        shown = {"centre": f"{centre:.4g} nm", "width": f"{width:.3g} nm"} | shown
    return shown, {field: curve}


def _parsed(value: Any) -> Any:
    """Return a curve that was typed as a text, as a form hands it on; anything else as it is."""
    if not isinstance(value, str) or not value.strip().startswith("["):
        return value
    try:
        return json.loads(value)
    except ValueError:
        return []


def _fault(pairs: list[Any]) -> str | None:
    """Return the rule that a curve breaks, None if it keeps all."""
    if len(pairs) < 2 or any(not isinstance(pair, list) or len(pair) != 2 for pair in pairs):
        return "must be a list of at least two pairs of nm and a share"
    if any(isinstance(one, bool) or not isinstance(one, int | float) for pair in pairs for one in pair):
        return "must hold plain numbers"
    if any(not low[0] < high[0] for low, high in pairwise(pairs)):
        return "must ascend in wavelength"
    if any(not LOW_NM <= nm <= HIGH_NM or not 0 <= share <= 1 for nm, share in pairs):
        return f"must hold wavelengths from {LOW_NM} to {HIGH_NM} nm and shares from 0 to 1"
    if not max(share for _, share in pairs) >= 0.01:
        return "must pass at least 0.01 somewhere"
    return None


def _box(curve: tuple[tuple[float, float], ...], highest: float) -> tuple[float, float]:
    """Return the mean wavelength of what passes and what passes over the highest value [nm], of straight lines."""
    light = moment = 0.0
    for (low, first), (high, second) in pairwise(curve):
        light += (first + second) / 2 * (high - low)
        moment += (high - low) * (first * (2 * low + high) + second * (low + 2 * high)) / 6
    return moment / light, light / highest
