"""Positions on the sky as people write them: ``22:37:04.1 +34:24:56``, ``22 37 04 +34 24 57``, ``339.27d 34.42d``."""

import re

from astropy import units as u

from planner.errors import InvalidInputError

# One coordinate: a sign, then one to three numbers with whatever marks hours, degrees, minutes and seconds.
_POSITION = re.compile(r"\s*[\d+\-−–.][\d\s.,:;+\-−–hmsdr°′″'\"]+", re.I)
_NUMBER = re.compile(r"[+\-]?\d+(?:\.\d*)?|[+\-]?\.\d+")
EXAMPLE = "Write it like 22 37 04 +34 24 57 (hours, degrees) or 339.267 34.416 (degrees)."


def looks_like_position(text: str) -> bool:
    """Return whether a text holds nothing but two, four or six numbers with their marks."""
    return bool(_POSITION.fullmatch(text)) and len(_numbers(text)) in (2, 4, 6)


def parse_position(text: str) -> tuple[u.Quantity, u.Quantity]:
    """Return right ascension and declination written in one text.

    Parameters
    ----------
    text : str
        Six numbers (hours, minutes, seconds, degrees, minutes, seconds), four without seconds, or two: decimal
        degrees, or decimal hours if an ``h`` follows the first.

    Returns
    -------
    tuple of Quantity [deg]
        Right ascension in 0 to 360, declination.

    Raises
    ------
    InvalidInputError
        If it is no position or a part of it is out of range.
    """
    numbers = _numbers(text)
    if not _POSITION.fullmatch(text) or len(numbers) not in (2, 4, 6):
        raise InvalidInputError("position", text, "must be a right ascension and a declination", EXAMPLE)
    half = len(numbers) // 2
    ra_parts, dec_parts = numbers[:half], numbers[half:]
    in_hours = half > 1 or bool(re.match(r"\s*[+]?[\d.]+\s*h", text, re.I))
    if half > 1 and re.match(r"\s*[+]?\d+\s*[d°]", text, re.I):
        in_hours = False  # 339d16m01s: degrees, minutes and seconds
    ra = _sexagesimal(text, ra_parts) * (15 if in_hours else 1)
    dec = _sexagesimal(text, dec_parts)
    if not 0 <= ra <= 360:
        raise InvalidInputError("position", text, "right ascension must be 0 to 24 h or 0 to 360 deg", EXAMPLE)
    if not -90 <= dec <= 90:
        raise InvalidInputError("position", text, "declination must be -90 to 90 deg", EXAMPLE)
    return ra % 360 * u.deg, dec * u.deg


def position_name(ra: u.Quantity, dec: u.Quantity) -> str:
    """Return a position as a name, to the second: ``22h37m04s +34°24′57″``."""
    seconds = round(ra.to_value(u.deg) * 240) % 86400
    arcsec = round(abs(dec.to_value(u.deg)) * 3600)
    sign = "−" if dec.value < 0 and arcsec else "+"
    return (f"{seconds // 3600:02d}h{seconds // 60 % 60:02d}m{seconds % 60:02d}s "
            f"{sign}{arcsec // 3600:02d}°{arcsec // 60 % 60:02d}′{arcsec % 60:02d}″")


def _numbers(text: str) -> list[str]:
    plain = text.replace("−", "-").replace("–", "-")
    return _NUMBER.findall(plain)


def _sexagesimal(text: str, parts: list[str]) -> float:
    """Return whole units of one to three parts; the sign of the first counts for all, of −00 too."""
    values = [abs(float(part)) for part in parts]
    is_signed_inside = any(part[0] in "+-" for part in parts[1:])
    if is_signed_inside or any(value >= 60 for value in values[1:]):
        raise InvalidInputError("position", text, "minutes and seconds must be 0 to below 60", EXAMPLE)
    size = sum(value / 60**place for place, value in enumerate(values))
    return -size if parts[0].startswith("-") else size
