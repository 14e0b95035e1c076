"""Numbers and sizes as people type them into a field: decimals with point or comma, one side or two."""

import re
from dataclasses import replace

from astropy import units as u

from planner.checks import Rule, check
from planner.errors import InvalidInputError
from planner.files.quantities import parse_option, parse_quantity

# Digits with at most one point or comma; of 1,234.5 or 1 234 nobody can say which mark is the decimal one.
_NUMBER = re.compile(r"[+-]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_UNIT = re.compile(r".*\(([^()]+)\)")  # that a label names
_WITH_UNIT = re.compile(rf"({_NUMBER.pattern})\s*([^\d\s.,].*)")
_SIZE = re.compile(r"([0-9.,]+)\s*(\D*?)\s*(?:[x×]\s*([0-9.,]+)\s*(\D*?))?", re.I)
SIZE_RULE = Rule(unit=u.arcmin, kind="quantity", more_than=0, at_most=10800,
                 remedy='Write it like "3x2 deg" or "30 arcmin".')


def typed_size(name: str, text: str) -> tuple[u.Quantity[u.arcmin], u.Quantity[u.arcmin]]:
    """Return the larger and the smaller diameter on the sky that a text writes: ``3x2 deg``, ``190′ × 60′``, ``1°``.

    Raises InvalidInputError if it is not one angle or two, has no unit, or breaks the rule.
    """
    found = _SIZE.fullmatch(text.strip())
    if found is None or not (found[2] or found[4]):
        raise InvalidInputError(name, text.strip(), "must be one angle or two, with their unit", SIZE_RULE.remedy)
    sides = [(found[1], found[2] or found[4]), (found[3] or found[1], found[4] or found[2])]
    try:
        minor, major = sorted(parse_option(name, f"{number.replace(',', '.')} {unit}", SIZE_RULE)
                              for number, unit in sides)
    except InvalidInputError as error:
        raise InvalidInputError(name, text.strip(), error.rule, SIZE_RULE.remedy) from None
    return major, minor


def typed_number(name: str, text: str, rule: Rule) -> float:
    """Return the number that a text writes, with a decimal point or comma, within the limits of its rule.

    `name`: of the field. Where it names a unit, ``Length of one (s)``, a number with another unit of its kind is read.
    Raises InvalidInputError if it is no number, writes two marks, or breaks the rule.
    """
    plain = text.strip().replace("−", "-")
    label, own = _UNIT.fullmatch(name), _WITH_UNIT.fullmatch(plain)
    if label and own and not _NUMBER.fullmatch(plain):
        unit = parse_quantity(name, f"1 {label[1]}", rule).unit
        with_unit = replace(rule, unit=unit, kind="quantity")
        return float(parse_option(name, f"{own[1].replace(',', '.')} {own[2]}", with_unit).to_value(unit))
    if not _NUMBER.fullmatch(plain):
        raise InvalidInputError(name, text.strip(), "must be a number with at most one decimal point or comma",
                                rule.remedy)
    try:
        return float(check(name, float(plain.replace(",", ".")), rule))
    except InvalidInputError as error:
        raise InvalidInputError(name, text.strip(), error.rule, rule.remedy) from None
