"""What a frame's header knows: exposure, time, place on the sky, orientation, filter, where it clips.

Nothing in a header is trusted: what cannot be read or is out of range counts as not given.
"""

import datetime
import math
import warnings
from typing import Any

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError, inert
from planner.files.sky_position import declination, right_ascension
from planner.optics import image_scale

CLIPS = {8: 255.0, 16: 65535.0}  # largest value of unsigned integers, by BITPIX
SIGNED_CLIP = 32767.0
LONGEST_EXPOSURE_S = 1e6
# Words of keyword or comment that tell which thermometer a temperature is of, the best first, and which it is not.
THERMOMETERS = ("FOC", "TUBE", "TEL", "MIRROR", "AMB", "AIR", "OUT", "ENV", "DOME")
ELSEWHERE = ("CCD", "SENS", "CHIP", "DET", "CAM", "COOL", "SET", "DEW", "FAHR", "COMP")
COLDEST_C, WARMEST_C = -60, 60


def _number(header: Any, *names: str) -> float | None:
    for name in names:
        try:
            value = float(header[name])
        except (KeyError, TypeError, ValueError):
            continue
        if math.isfinite(value):
            return value
    return None


def header_text(header: Any, name: str) -> str | None:
    value = header.get(name)
    return inert(" ".join(str(value).split())) or None if isinstance(value, (str, int, float)) else None


def header_exposure(header: Any) -> u.Quantity | None:
    seconds = _number(header, "EXPTIME", "EXPOSURE")
    return seconds * u.s if seconds is not None and 0 < seconds < LONGEST_EXPOSURE_S else None


def header_time(header: Any) -> str | None:
    """Return the start of the exposure in UTC as ISO 8601, if the header gives one that can be read."""
    text = header_text(header, "DATE-OBS")
    if text is None:
        return None
    if "T" not in text and header_text(header, "TIME-OBS"):
        text = f"{text}T{header_text(header, 'TIME-OBS')}"
    try:
        moment = datetime.datetime.fromisoformat(text.replace("Z", "+00:00"))
    except ValueError:
        return None
    if moment.tzinfo is not None:
        moment = moment.astimezone(datetime.UTC).replace(tzinfo=None)
    return moment.isoformat() if 1900 <= moment.year <= 2100 and "T" in text else None


def header_temperature(header: Any) -> u.Quantity | None:
    """Return the temperature of the telescope, else of the air, by what keywords and comments say."""
    found: dict[int, float] = {}
    for card in header.cards:
        words = f"{card.keyword} {card.comment}".upper()
        value = None if isinstance(card.value, bool) or "TEMP" not in words else _number(header, card.keyword)
        if value is None or not COLDEST_C <= value <= WARMEST_C or any(word in words for word in ELSEWHERE):
            continue
        rank = next((place for place, word in enumerate(THERMOMETERS) if word in words), None)
        if rank is not None:
            found.setdefault(rank, value)
    return found[min(found)] * u.deg_C if found else None


def header_saturation(header: Any) -> float | None:
    """Return the level where pixels clip: of the header, else the largest value its integers can hold."""
    given = _number(header, "SATURATE", "DATAMAX")
    if given is not None and given > 0:
        return given
    bits = int(_number(header, "ZBITPIX", "BITPIX") or 0)
    if bits == 16 and not header.get("BZERO"):
        return SIGNED_CLIP
    return CLIPS.get(bits)


def header_scale(header: Any) -> u.Quantity | None:
    """Return the sky in a pixel by its side [um], binning included, and the focal length [mm], where both are given."""
    side, focal_length = _number(header, "XPIXSZ"), _number(header, "FOCALLEN")
    if side is None or focal_length is None or not (0.3 <= side <= 1000 and 1 <= focal_length <= 1e5):
        return None
    return image_scale(side * u.um, focal_length * u.mm)


def header_sky(header: Any, shape: tuple[int, int], notes: list[str]) -> tuple[np.ndarray | None, Any, Any]:
    """Return the matrix from pixel steps to (east, north) arcsec at the frame's centre, and where that is."""
    place = header_place(header)
    if not str(header.get("CTYPE1", "")).upper().startswith(("RA", "DEC", "GLON", "ELON")):
        return None, *place
    try:
        from astropy.wcs import WCS

        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            wcs = WCS(header, naxis=2).celestial
            x, y = (shape[1] - 1) / 2, (shape[0] - 1) / 2
            world = wcs.pixel_to_world(np.array([x, x + 1, x]), np.array([y, y, y + 1])).icrs
    except Exception:  # the library raises many kinds
        notes.append("The world coordinates of the header cannot be used.")
        return None, *place
    steps = [world[0].spherical_offsets_to(world[index]) for index in (1, 2)]
    matrix = np.array([[east.to_value(u.arcsec), north.to_value(u.arcsec)] for east, north in steps]).T
    if not np.all(np.isfinite(matrix)) or abs(np.linalg.det(matrix)) < 1e-8:
        return None, *place
    return matrix, world[0].ra.to(u.deg), world[0].dec.to(u.deg)


def header_place(header: Any) -> tuple[Any, Any]:
    """Return right ascension and declination of the header's RA and DEC: degrees, or sexagesimal text."""
    ra, dec = header.get("RA"), header.get("DEC")
    try:
        if isinstance(ra, str) and isinstance(dec, str):
            return right_ascension(ra), declination(dec)
        if ra is not None and dec is not None and 0 <= float(ra) <= 360 and -90 <= float(dec) <= 90:
            return float(ra) % 360 * u.deg, float(dec) * u.deg
    except (InvalidInputError, TypeError, ValueError):
        pass
    return None, None
