"""A list of targets that the user keeps: CSV with name, ra, dec and, if known, size and magnitude."""

from pathlib import Path
from typing import Any

from astropy import units as u

from planner.checks import Rule, did_you_mean
from planner.errors import InvalidInputError
from planner.files.csv_text import csv_cells
from planner.files.forms.orbits import is_orbit_line, is_typed_orbit, orbit_line, typed_orbit
from planner.files.quantities import parse_option
from planner.files.reading import read_text
from planner.files.sky_position import declination, pointed, right_ascension
from planner.visibility.target import Target

HEAD_LINES, MOST_ORBITS = 100, 1000
# Column names that are understood, and what they mean.
_COLUMNS = {
    "name": "name", "target": "name", "ra": "ra", "ra_deg": "ra", "dec": "dec", "dec_deg": "dec", "kind": "kind",
    "size": "size_major", "size_arcmin": "size_major", "size_minor_arcmin": "size_minor",
    "position_angle_deg": "position_angle", "magnitude": "magnitude", "mag": "magnitude",
    "surface_brightness": "surface_brightness", "common_name": "common_name",
}
_TEXTS = ("name", "kind", "common_name")
_UNITS = {"size_major": u.arcmin, "size_minor": u.arcmin, "position_angle": u.deg, "magnitude": u.mag,
          "surface_brightness": u.mag / u.arcsec**2}


def read_target_list(path: Path | str) -> tuple[Target | str, ...]:
    """Return the targets of a list file, in its order.

    `path`: CSV (comma, semicolon or tab) with a line of column names: ``name``, ``ra``, ``dec`` (degrees, or hours and
    degrees like ``22:37:04`` and ``+34:24:56``), optionally ``size_arcmin`` and ``magnitude``; ``#`` starts a comment
    line. Or published orbits of comets and minor planets, a line each (`planner.files.forms.orbits`).
    A line without coordinates gives its name alone, for the catalogue to know.
    Raises InvalidInputError with the line number, if a line makes no target.
    """
    path = Path(path)
    lines = [(number, line) for number, line in enumerate(read_text(path, what="target list").splitlines(), start=1)
             if line.strip() and not line.lstrip().startswith("#")]
    if any(is_orbit_line(line) for _, line in lines[:HEAD_LINES]):
        return _orbits(lines)
    if not lines:
        raise InvalidInputError("target list", path, "must hold a line of column names and at least one target",
                                "Start it with the line: name,ra,dec")
    delimiter = max(",;\t", key=lines[0][1].count)
    (_, head), *rows = ((number, [cell.strip() for cell in csv_cells(path.name, number, line, delimiter)])
                        for number, line in lines)
    columns = _columns(path, head)
    return tuple(_entry(f"{path.name}, line {number}", columns, fields, delimiter) for number, fields in rows)


def _orbits(lines: list[tuple[int, str]]) -> tuple[Target, ...]:
    """Return the targets of the lines of orbits; what stands above the first is a head."""
    first = next(place for place, (_, line) in enumerate(lines) if is_orbit_line(line))
    if len(lines) - first > MOST_ORBITS:
        raise InvalidInputError("target list", f"{len(lines) - first} orbits", f"must hold at most {MOST_ORBITS}",
                                "Copy the lines of your targets into a file of their own.")
    for number, line in lines[first:]:
        if not is_orbit_line(line):
            raise InvalidInputError(f"line {number}", line[:60], "must be an orbit like the lines above it",
                                    "Copy the line anew, blanks included.")
    return tuple(orbit_line(line) for _, line in lines[first:])


def _columns(path: Path, head: list[str]) -> list[str]:
    for name in head:
        if name.lower() not in _COLUMNS:
            raise InvalidInputError(f"{path.name}, column", name, "is not a column of a target list",
                                    did_you_mean(name, _COLUMNS))
    columns = [_COLUMNS[name.lower()] for name in head]
    if "name" not in columns or ("ra" in columns) != ("dec" in columns) or len(set(columns)) < len(columns):
        raise InvalidInputError(f"{path.name}, columns", ", ".join(head),
                                "must hold name, and ra and dec together, each once", "Write: name,ra,dec")
    return columns


def _entry(place: str, columns: list[str], fields: list[str], delimiter: str) -> Target | str:
    """Return the target of a row; where cells are not parted by commas, a comma is a decimal mark."""
    values = {column: field if column in _TEXTS or delimiter == "," else pointed(field)
              for column, field in zip(columns, fields, strict=False) if field}
    if len(fields) > len(columns) or "name" not in values:
        raise InvalidInputError(place, " ".join(fields), f"must hold {', '.join(columns)}", "Check the separators.")
    if "ra" not in values and "dec" not in values:
        return typed_orbit(values["name"]) if is_typed_orbit(values["name"]) else values["name"]
    try:
        ra, dec = right_ascension(values.pop("ra", "")), declination(values.pop("dec", ""))
        known: dict[str, Any] = {key: parse_option(key, text, Rule(unit=_UNITS[key], kind="quantity"))
                                 if key in _UNITS else text for key, text in values.items()}
        return Target(ra=ra, dec=dec, **known)
    except InvalidInputError as error:
        raise InvalidInputError(f"{place}, {error.name}", error.value, error.rule, error.remedy) from None
