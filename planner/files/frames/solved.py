"""Where a solved frame looks and when, by its header, beside what the mount displayed and on which side of the pier."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from astropy import units as u

from planner.errors import InvalidInputError
from planner.files.frames.header import header_exposure, header_place, header_sky, header_text, header_time


@dataclass(frozen=True, kw_only=True)
class SolvedFrame:
    """One solved frame."""

    name: str
    time_utc: str  # of the middle of the exposure, ISO 8601
    ra: u.Quantity  # of the middle of the frame, ICRS
    dec: u.Quantity
    exposure: u.Quantity | None
    shown: tuple[u.Quantity, u.Quantity] | None  # right ascension and declination that the mount displayed


def solved_frame(name: str, header: Any, shape: tuple[int, ...]) -> SolvedFrame:
    """Return a solved frame of rows and columns from its header.

    Raises InvalidInputError if the header has no world coordinates or no time.
    """
    sky, ra, dec = header_sky(header, (shape[0], shape[1]), [])
    if sky is None:
        raise InvalidInputError(f"frame {name}, CTYPE1", header_text(header, "CTYPE1") or "(missing)",
                                "has no world coordinates that can be used", "Solve the frame first.")
    start, exposure = header_time(header), header_exposure(header)
    if start is None:
        raise InvalidInputError(f"frame {name}, DATE-OBS", header_text(header, "DATE-OBS") or "(missing)",
                                "must be the start of the exposure in UTC", "Write it like 2026-11-25T21:04:30.")
    middle = datetime.fromisoformat(start)
    if exposure is not None:
        middle += timedelta(seconds=exposure.to_value(u.s) / 2)
    shown = header_place(header)
    return SolvedFrame(name=name, time_utc=middle.isoformat(), ra=ra, dec=dec, exposure=exposure,
                       shown=None if shown[0] is None else shown)
