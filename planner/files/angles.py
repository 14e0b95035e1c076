"""Angles as people write them: decimals with point or comma, degrees and minutes, N or W in place of a sign."""

import re

from planner.errors import InvalidInputError

_SIDES = {"N": 1, "E": 1, "S": -1, "W": -1}
_PARTS = re.compile(r"""(?P<sign>[+-]?)\s*(?P<degrees>[0-9]+(?:[.,][0-9]+)?)\s*(?:°|d|deg|\s)?
                        (?:\s*(?P<minutes>[0-9]+(?:[.,][0-9]+)?)\s*(?:′|'|’|m|min|\s)?)?
                        (?:\s*(?P<seconds>[0-9]+(?:[.,][0-9]+)?)\s*(?:″|"|”|''|s)?)?\s*""", re.X)
_IN_PARTS = re.compile(r"[+\-−]?[0-9]+\s*(?:°|d|deg|\s)\s*[0-9].*", re.S)


def in_parts(name: str, text: str) -> bool:
    """Return whether a text is degrees and minutes, or of a latitude or longitude with a letter for its sign."""
    letters = _letters(name)
    lettered = letters and re.fullmatch(rf"[{letters}]\s*[0-9].*|[^A-Z]+[{letters}]", text.strip(), re.I | re.S)
    return bool(lettered or _IN_PARTS.fullmatch(text.strip()))


def _letters(name: str) -> str:
    return "NS" if "latitude" in name else "EW" if "longitude" in name else ""


def typed_angle(name: str, text: str) -> float:
    """Return an angle [deg] from decimals, degrees and minutes, or degrees, minutes and seconds.

    `name`: of a latitude or a longitude a letter before or behind may be the sign; S and W are negative. `text`: such
    as ``47.4``, ``-31,8``, ``47° 24′ N`` or ``149 36 18 E``.
    Raises InvalidInputError if it is no angle, has a letter and a minus sign, or minutes of 60 and more.
    """
    sides = _letters(name)
    side = f" {sides[0]}" if sides else ""
    like = f"Write it like 47.4, 47° 24′{side} or 47 24 18{side}."
    plain = " ".join(text.replace("−", "-").split())
    letter = next((one for one in (plain[:1].upper(), plain[-1:].upper()) if one and one in sides), "")
    body = (plain[1:] if plain[:1].upper() == letter else plain[:-1]).strip() if letter else plain
    found = _PARTS.fullmatch(body)
    if found is None or (letter and found["sign"]):
        standing = f", {sides[0]} or {sides[1]} standing for the sign" if sides else ""
        raise InvalidInputError(name, text.strip(), f"must be decimals or degrees and minutes{standing}", like)
    degrees, minutes, seconds = (float((found[part] or "0").replace(",", "."))
                                 for part in ("degrees", "minutes", "seconds"))
    if minutes >= 60 or seconds >= 60 or (found["minutes"] and degrees % 1) or (found["seconds"] and minutes % 1):
        raise InvalidInputError(name, text.strip(), "must have whole parts before the last, minutes and seconds "
                                "below 60", like)
    size = degrees + minutes / 60 + seconds / 3600
    most = {"NS": 90, "EW": 180}.get(sides, 360)
    if size > most:
        raise InvalidInputError(name, text.strip(), f"must be at most {most}°", like)
    return size * (_SIDES[letter] if letter else -1 if found["sign"] == "-" else 1)
