"""Positions on the sky as people write them: ``22:37:04.1 +34:24:56``, ``22 37 04 +34 24 57``, ``339.27d 34.42d``."""

import re

from astropy import units as u

from planner.errors import InvalidInputError

# One coordinate: a sign, then one to three numbers with whatever marks hours, degrees, minutes and seconds.
_POSITION = re.compile(r"\s*[\d+\-−–.][\d\s.,:;+\-−–hmsdr°′″'\"]*", re.I)
_NUMBER = re.compile(r"[+\-]?\d+(?:\.\d*)?|[+\-]?\.\d+")
_COMMA = re.compile(r"(?<![\d.,])(\d+),(\d+)(?![\d.,])")  # one that may be a decimal mark
_DEGREES = re.compile(r"(?<![a-z])deg(?:rees?)?(?![a-z])", re.I)
EXAMPLE = "Write it like 22 37 04 +34 24 57 (hours, degrees) or 339.267 34.416 (degrees)."


def looks_like_position(text: str) -> bool:
    """Return whether a text holds nothing but two, four or six numbers with their marks."""
    text = _marked(text)
    return bool(_POSITION.fullmatch(text)) and any(len(_numbers(read)) in (2, 4, 6) for read in (text, pointed(text)))


def parse_position(text: str) -> tuple[u.Quantity, u.Quantity]:
    """Return right ascension and declination written in one text.

    `text`: six numbers (hours, minutes, seconds, degrees, minutes, seconds), four without seconds, or two: decimal
    degrees, or decimal hours if an ``h`` follows the first. A comma is a decimal mark where the numbers would be too
    many otherwise.
    Returns [deg]: right ascension in 0 to 360, declination.
    Raises InvalidInputError if it is no position, could be two, or a part of it is out of range.
    """
    text = _marked(text)
    read = pointed(text)
    if len(_numbers(read)) in (2, 4, 6):
        if read != text and len(_numbers(text)) in (2, 4, 6):
            raise InvalidInputError("position", text, "must have decimal points, not commas", f"Write it like {read}")
        text = read
    numbers = list(_NUMBER.finditer(_plain(text)))
    if not _POSITION.fullmatch(text) or len(numbers) not in (2, 4, 6):
        raise InvalidInputError("position", text, "must be a right ascension and a declination", EXAMPLE)
    signed = [found.start() for found in numbers[1:] if found[0][0] in "+-"]
    middle = signed[0] if len(signed) == 1 else numbers[len(numbers) // 2].start()
    return right_ascension(_plain(text)[:middle]), declination(_plain(text)[middle:])


def right_ascension(text: str) -> u.Quantity:
    """Return a right ascension [deg, 0 to 360]: decimal degrees, or hours if an ``h`` or minutes follow.

    Raises InvalidInputError if it is none or out of range.
    """
    text = _marked(text)
    parts = _parts("right ascension", text)
    in_degrees = bool(re.match(r"\s*\+?[\d.]+\s*[d°]", text, re.I))
    in_hours = not in_degrees and (len(parts) > 1 or "h" in text.lower())
    angle = _sexagesimal("right ascension", text, parts) * (15 if in_hours else 1)
    if not 0 <= angle <= 360:
        raise InvalidInputError("right ascension", text.strip(), "must be 0 to 24 h or 0 to 360 deg", EXAMPLE)
    return angle % 360 * u.deg


def declination(text: str) -> u.Quantity:
    """Return a declination [deg, -90 to 90] of one to three numbers.

    Raises InvalidInputError if it is none or out of range.
    """
    text = _marked(text)
    angle = _sexagesimal("declination", text, _parts("declination", text))
    if not -90 <= angle <= 90:
        raise InvalidInputError("declination", text.strip(), "must be -90 to 90 deg", EXAMPLE)
    return angle * u.deg


def pointed(text: str) -> str:
    """Return the text with a point for each comma that may be a decimal mark."""
    return _COMMA.sub(r"\1.\2", text)


def position_name(ra: u.Quantity, dec: u.Quantity) -> str:
    """Return a position as a name, to the second: ``22h37m04s +34°24′57″``."""
    seconds = round(ra.to_value(u.deg) * 240) % 86400
    arcsec = round(abs(dec.to_value(u.deg)) * 3600)
    sign = "−" if dec.value < 0 and arcsec else "+"
    return (f"{seconds // 3600:02d}h{seconds // 60 % 60:02d}m{seconds % 60:02d}s "
            f"{sign}{arcsec // 3600:02d}°{arcsec // 60 % 60:02d}′{arcsec % 60:02d}″")


def _marked(text: str) -> str:
    """Return the text with the mark of degrees for the word."""
    return _DEGREES.sub("°", text)


def _plain(text: str) -> str:
    """Return the text with the one minus that programs know, each character kept in its place."""
    return text.replace("−", "-").replace("–", "-")


def _numbers(text: str) -> list[str]:
    return _NUMBER.findall(_plain(text))


def _parts(name: str, text: str) -> list[str]:
    parts = _numbers(text)
    if _COMMA.search(text):
        raise InvalidInputError(name, text.strip(), "must have decimal points, not commas",
                                f"Write it like {pointed(text.strip())}")
    if not _POSITION.fullmatch(text) or not 1 <= len(parts) <= 3:
        raise InvalidInputError(name, text.strip(), "must be one to three numbers", EXAMPLE)
    return parts


def _sexagesimal(name: str, text: str, parts: list[str]) -> float:
    """Return whole units of one to three parts; the sign of the first counts for all, of −00 too."""
    values = [abs(float(part)) for part in parts]
    is_signed_inside = any(part[0] in "+-" for part in parts[1:])
    if is_signed_inside or any(value >= 60 for value in values[1:]):
        raise InvalidInputError(name, text.strip(), "minutes and seconds must be 0 to below 60", EXAMPLE)
    size = sum(value / 60**place for place, value in enumerate(values))
    return -size if parts[0].startswith("-") else size
