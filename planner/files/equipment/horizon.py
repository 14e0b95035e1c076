"""The observer's skyline from a text file of azimuth and altitude."""

import re
from pathlib import Path

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.files.reading import InMemory, read_text
from planner.rig import HorizonProfile

_NUMERIC = re.compile(r"[\d.+-]")


def read_horizon(path: Path | InMemory) -> HorizonProfile:
    """Return the skyline written in a file: one azimuth and altitude per line, in degrees.

    `path`: two columns split by comma, semicolon or blanks, the last two with decimal commas too; ``#`` starts a
    comment; one line of column names may come first. Azimuth from north through east, altitude apparent. Lines need
    not be sorted.
    Raises InvalidInputError with the line number, if a line does not hold two numbers or one is out of range.
    """
    points = _points(path)
    if not points:
        raise InvalidInputError("horizon file", path, "must hold at least one line of azimuth and altitude",
                                'Write lines like "135, 12".')
    table = np.array(points)
    # A stable sort keeps the two points of a wall, which share one azimuth, in the order they were written.
    table = table[np.argsort(table[:, 0], kind="stable")]
    return HorizonProfile(azimuth=table[:, 0] * u.deg, altitude=table[:, 1] * u.deg)


def _points(path: Path | InMemory) -> list[tuple[float, float]]:
    points: list[tuple[float, float]] = []
    head_allowed = True
    for number, line in enumerate(read_text(path, what="horizon file").splitlines(), start=1):
        content = line.split("#")[0].strip()
        if not content:
            continue
        point = _point(content)
        if (point is None and not (head_allowed and not _NUMERIC.match(content))) or (point and not _in_range(*point)):
            raise InvalidInputError(f"horizon file {path.name}, line {number}", content,
                                    "must be an azimuth of 0 to 360 and an altitude of -10 to 90, in degrees",
                                    'Write it like "135, 12".')
        head_allowed = False
        if point:
            points.append(point)
    return points


def _point(content: str) -> tuple[float, float] | None:
    """Return the two numbers of a line; where a semicolon or a blank parts them, a comma is a decimal mark."""
    fields = content.replace(";", " ").split()
    fields = [field.strip(",").replace(",", ".") for field in fields] if len(fields) == 2 else content.split(",")
    try:
        azimuth, altitude = (float(field) for field in fields)
    except ValueError:
        return None
    return azimuth, altitude


def _in_range(azimuth: float, altitude: float) -> bool:
    return 0 <= azimuth <= 360 and -10 <= altitude <= 90  # false for NaN too
