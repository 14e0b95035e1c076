"""Numbers and angles as people type them into a field: decimals with point or comma, degrees and minutes, N or W."""

import re

from astropy import units as u

from planner.checks import Rule, check
from planner.errors import InvalidInputError
from planner.files.quantities import parse_option

# Digits with at most one point or comma; of 1,234.5 or 1 234 nobody can say which mark is the decimal one.
_NUMBER = re.compile(r"[+-]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)")
_SIDES = {"N": 1, "E": 1, "S": -1, "W": -1}
_PARTS = re.compile(r"""(?P<sign>[+-]?)\s*(?P<degrees>[0-9]+(?:[.,][0-9]+)?)\s*(?:°|d|deg|\s)?
                        (?:\s*(?P<minutes>[0-9]+(?:[.,][0-9]+)?)\s*(?:′|'|’|m|min|\s)?)?
                        (?:\s*(?P<seconds>[0-9]+(?:[.,][0-9]+)?)\s*(?:″|"|”|''|s)?)?\s*""", re.X)

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

    Raises InvalidInputError if it is no number, writes two marks, or breaks the rule.
    """
    plain = text.strip().replace("−", "-")
    if not _NUMBER.fullmatch(plain):
        raise InvalidInputError(name, text.strip(), "must be a number with at most one decimal point or comma",
                                rule.remedy)
    try:
        return float(check(name, float(plain.replace(",", ".")), rule))
    except InvalidInputError as error:
        raise InvalidInputError(name, text.strip(), error.rule, rule.remedy) from None


def typed_angle(name: str, text: str, sides: str) -> float:
    """Return an angle of a place [deg] from decimals, degrees and minutes, or degrees, minutes and seconds.

    `name`: ``latitude`` or ``longitude``. `text`: such as ``47.4``, ``-31,8``, ``47° 24′ N`` or ``149 36 18 E``.
    `sides`: the letters that may stand before or behind: ``NS`` or ``EW``; S and W are negative.
    Raises InvalidInputError if it is no angle, has a letter and a minus sign, or minutes of 60 and more.
    """
    like = f'Write it like 47.4, 47° 24′ {sides[0]} or 47 24 18 {sides[0]}.'
    plain = " ".join(text.replace("−", "-").split())
    letter = next((one for one in (plain[:1].upper(), plain[-1:].upper()) if one in sides and one), "")
    body = (plain[1:] if plain[:1].upper() == letter else plain[:-1]).strip() if letter else plain
    found = _PARTS.fullmatch(body)
    if found is None or (letter and found["sign"]):
        raise InvalidInputError(name, text.strip(), f"must be decimals or degrees and minutes, {sides[0]} or {sides[1]}"
                                " standing for the sign", like)
    degrees, minutes, seconds = (float((found[part] or "0").replace(",", "."))
                                 for part in ("degrees", "minutes", "seconds"))
    if minutes >= 60 or seconds >= 60 or (found["minutes"] and degrees % 1) or (found["seconds"] and minutes % 1):
        raise InvalidInputError(name, text.strip(), "must have whole parts before the last, minutes and seconds "
                                "below 60", like)
    size = degrees + minutes / 60 + seconds / 3600
    most = 90 if sides == "NS" else 180
    if size > most:
        raise InvalidInputError(name, text.strip(), f"must be at most {most}°", like)
    return size * (_SIDES[letter] if letter else -1 if found["sign"] == "-" else 1)
