"""What people type about a session: times of its night, and how far from the Moon each filter stays."""

import datetime
from dataclasses import replace
from zoneinfo import ZoneInfo

from astropy import units as u
from astropy.time import Time

from planner.errors import InvalidInputError
from planner.files.forms.typed import typed_number
from planner.rig import Site
from planner.session.night.calibration import Calibration
from planner.session.night.limits import MOON_DISTANCE

FRAMES = {"flats": "flats", "darks": "darks", "dark-flats": "dark_flats", "bias": "bias"}


def night_moment(name: str, text: str, night: datetime.date, site: Site) -> Time:
    """Return a time of the night by the site's clock: from noon on it is the evening's date, before the next."""
    try:
        clock = datetime.time.fromisoformat(text.strip())
    except ValueError:
        raise InvalidInputError(name, text, "must be a time of day", "Write it like 22:10.") from None
    date = night if clock.hour >= 12 else night + datetime.timedelta(days=1)
    return Time(datetime.datetime.combine(date, clock, ZoneInfo(site.time_zone)))


def moon_distances(name: str, text: str) -> dict[str, u.Quantity]:
    """Return the distances from the Moon by filter that a text like ``L=60, R=45`` writes, in degrees."""
    found = {}
    for part in filter(None, (piece.strip() for piece in text.replace(";", ",").split(","))):
        band, mark, angle = (piece.strip() for piece in part.partition("="))
        if not (band and mark):
            raise InvalidInputError(name, text, "must be filters with degrees from the Moon",
                                    "Write it like L=60,R=45.")
        bare = angle.removesuffix("deg").removesuffix("°")
        found[band] = typed_number(f"{name} of {band}", bare, replace(MOON_DISTANCE, unit=None, kind="number")) * u.deg
    return found


def calibration_frames(name: str, text: str) -> Calibration:
    """Return the calibration frames that a text like ``flats=30, bias=50`` writes; those not named are as usual."""
    found = {}
    for part in filter(None, (piece.strip() for piece in text.replace(";", ",").split(","))):
        kind, _, number = (piece.strip().lower() for piece in part.partition("="))
        if kind not in FRAMES or not number.isascii() or not number.isdigit():
            raise InvalidInputError(name, text, f"must be numbers of {', '.join(FRAMES)}",
                                    "Write it like flats=30,dark-flats=30,bias=50.")
        found[FRAMES[kind]] = int(number)
    return Calibration(**found)
