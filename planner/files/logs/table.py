"""A table written down at the telescope: CSV with a line of column names, and comments above it that tell about it all.

``#`` starts a comment, and comments like ``# dec_deg: 12.3`` before the columns tell about the whole file. Cells left
empty or written ``nan`` are a row without a measurement; any other text that is no number is an error that names its
rows. Where the cells are not parted by commas, a comma is a decimal mark.
"""

import math
import re
from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import Rule, did_you_mean
from planner.errors import InvalidInputError, inert
from planner.files.csv_text import csv_cells
from planner.files.quantities import parse_option
from planner.files.reading import InMemory, read_text

LARGEST_LOG = 64 * 2**20  # bytes; a row a second for three weeks
MOST_ROWS = 1_000_000  # lines
NAMED_SETS = 3  # of columns, that an error names
NAMED_ROWS = 4  # bad rows that an error names
SEPARATORS = ",;\t"
NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?|[+-]?inf(?:inity)?", re.I)
WORDS = ("pier_side", "time_utc")  # columns that hold text
LIMITS = {"time_s": 1e12, "time_min": 1e10, "time_h": 1e9, "ra_arcsec": 1.3e6, "dec_arcsec": 1.3e6, "dec_deg": 90,
          "declination_deg": 90, "latitude_deg": 90, "longitude_deg": 360,
          "camera_angle_deg": 360, "image_scale_arcsec": 3600, "hour_angle_deg": 360, "ra_deg": 360,
          "mount_hour_angle_deg": 720, "mount_declination_deg": 360}
# By the end of a comment's key.
UNITS = {"deg": u.deg, "s": u.s, "arcsec": u.arcsec, "hpa": u.hPa, "c": u.deg_C}


@dataclass(frozen=True)
class Table:
    """The rows of a CSV file, by column; `lines` holds the line number of each row."""

    name: str
    header: dict[str, float]
    columns: dict[str, np.ndarray]
    lines: np.ndarray
    site: str | None = None  # its name

    @property
    def measured(self) -> np.ndarray:
        """Return which rows hold a number in every numeric column (n,)."""
        numeric = [values for name, values in self.columns.items() if name not in WORDS]
        return np.all(np.isfinite(numeric), axis=0)

    def angle(self, name: str) -> u.Quantity:
        """Return a column of degrees, measured rows only."""
        return self.columns[name][self.measured] * u.deg


def read_table(
    path: Path | str | InMemory, columns: Sequence[str] | tuple[Sequence[str], ...], *, what: str, header: Sequence[str]
) -> Table:
    """Return the wanted columns of a CSV file.

    `path`: the file, at most 64 MB and a million lines. `columns`: names of the columns, or several sets of which the
    first complete one is taken; others are ignored. `what`: what the file is, for errors. `header`: names that
    comments at the top may give.
    """
    name = f"{what} {path.name if isinstance(path, InMemory) else Path(path).name}"
    lines = _lines(name, read_text(path, what=what, largest=LARGEST_LOG))
    values, rows = _header(name, lines, header), _rows(lines)
    first, second = next(rows, None), next(rows, None)
    if first is None or second is None:
        raise InvalidInputError(name, "(empty)", "must hold a line of column names and rows under it",
                                f"Start it with {','.join(_sets(columns)[0])}")
    separator = max(SEPARATORS, key=lines[first[0] - 1].count)
    there = [cell.strip().lower() for cell in csv_cells(name, *first, separator)]
    wanted = _wanted(name, there, _sets(columns))
    cells = ((number, csv_cells(name, number, text, separator)) for number, text in chain([second], rows))
    return replace(_filled(name, values, wanted, there, cells, separator != ","), site=_site(lines))


def _rows(lines: list[str]) -> Iterator[tuple[int, str]]:
    """Yield the number and the text of each line that holds more than a comment."""
    for number, line in enumerate(lines, start=1):
        text = line.partition("#")[0]
        if text.strip():
            yield number, text


def _lines(name: str, text: str) -> list[str]:
    """Return the lines of a text, counted before it is cut: many short ones take ten times the room of their file."""
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    count = text.count("\n") + 1
    if count > MOST_ROWS:
        raise InvalidInputError(name, f"{count} lines", f"must have at most {MOST_ROWS}", "Split it.")
    return text.split("\n")


def _sets(columns: Sequence[str] | tuple[Sequence[str], ...]) -> list[tuple[str, ...]]:
    first = columns[0]
    return [tuple(columns)] if isinstance(first, str) else [tuple(names) for names in columns]  # type: ignore[arg-type]


def _header(name: str, lines: list[str], known: Sequence[str]) -> dict[str, float]:
    """Return the numbers that comments above the columns give; one below them is an error."""
    values: dict[str, float] = {}
    above = True
    for number, line in enumerate(lines, start=1):
        if not above and "#" not in line:
            continue
        bare = line.strip().lstrip("\ufeff \t")
        if not bare.startswith("#"):
            above = above and not bare
            continue
        key, *text = re.split("[:=]", bare.lstrip("# \t"), maxsplit=1)
        key = key.strip().lower()
        if not text or key not in known:
            continue
        if not above:
            raise InvalidInputError(f"{name}, line {number}: {key}", text[0].strip(), "stands below the column names",
                                    "Move what is true of the whole file to its top.")
        value = _number(text[0], comma=True)
        value = _in_unit_of(key, text[0]) if value is None else value
        if value is None or not math.isfinite(value) or abs(value) > LIMITS.get(key, 1e6):
            raise InvalidInputError(f"{name}, line {number}: {key}", text[0].strip(),
                                    f"must be a number within ±{LIMITS.get(key, 1e6):g}",
                                    f"Write it like # {key}: 12.3")
        values[key] = value
    return values


def _in_unit_of(key: str, text: str) -> float | None:
    """Return the number of a text like ``12 deg`` in the unit that the key ends in, None for any other text."""
    unit = UNITS[key.rpartition("_")[2]]
    try:
        return float(parse_option(key, text, Rule(unit=unit, kind="quantity")).to_value(unit))
    except InvalidInputError:
        return None


def _site(lines: list[str]) -> str | None:
    """Return the name of the site that a comment gives."""
    found = (re.match(r"[\ufeff \t]*#[# \t]*site\s*[:=](.*)", line, re.I) for line in lines if "#" in line)
    return next((inert(" ".join(one[1].split())) or None for one in found if one), None)


def _wanted(name: str, there: list[str], sets: list[tuple[str, ...]]) -> tuple[str, ...]:
    """Return the first set of columns that is complete."""
    for names in sets:
        if all(column in there for column in names):
            return names
    fullest = max(sets, key=lambda names: sum(column in there for column in names))
    missing = [column for column in fullest if column not in there]
    choice = " or ".join(",".join(names) for names in sets[:NAMED_SETS])
    raise InvalidInputError(f"{name}: column {missing[0]}", "(missing)", f"the columns must be {choice}",
                            did_you_mean(missing[0], there))


def _filled(
    name: str, header: dict[str, float], wanted: tuple[str, ...], there: list[str],
    rows: Iterable[tuple[int, list[str]]], comma: bool,
) -> Table:
    """Return the table with its cells as numbers; short rows at the very end are dropped as cut off in writing.

    Rows are read one by one: the cells of a million take twenty times the room of their numbers.
    """
    places = {column: there.index(column) for column in wanted}
    columns: dict[str, Any] = {column: [] if column in WORDS else array("d") for column in wanted}
    last, whole, lines = max(places.values()), 0, array("q")
    bad: list[tuple[int, str, str]] = []
    for line, cells in rows:
        lines.append(line)
        for column, place in places.items():
            text = cells[place] if len(cells) > place else None
            if column in WORDS:
                columns[column].append(text or "")
                continue
            value = None if text is None else _number(text, comma)
            if value is None or abs(value) > LIMITS.get(column, math.inf) or math.isinf(value):
                bad.append((line, column, "(missing)" if text is None else text))
            columns[column].append(math.nan if value is None else value)
        if len(cells) > last:
            whole = len(lines)
    numbers = np.array(lines[:whole], dtype=int)
    table = Table(name, header, {column: np.array(values[:whole], dtype=object if column in WORDS else float)
                                 for column, values in columns.items()}, numbers)
    refuse_rows(table, [one for one in bad if whole and one[0] <= numbers[-1]],
                "must be a number in range, or empty for no measurement", "Correct or remove these rows.")
    return table


def refuse_rows(table: Table, bad: Iterable[tuple[int, str, str]], rule: str, remedy: str) -> None:
    """Raise an error that names the bad rows, if there are any."""
    bad = sorted(bad)
    if not bad:
        return
    named = "; ".join(f"line {line} {column} = {text.strip()[:20] or '(empty)'}"
                      for line, column, text in bad[:NAMED_ROWS])
    more = f" and {len(bad) - NAMED_ROWS} more" if len(bad) > NAMED_ROWS else ""
    line, column, text = bad[0]
    rest = f" Bad rows: {named}{more}." if len(bad) > 1 else ""
    raise InvalidInputError(f"{table.name}, line {line}: {column}", text.strip() or "(empty)", rule, remedy + rest)


def _number(text: str, comma: bool = False) -> float | None:
    """Return the number in a cell, NaN for an empty one, None for any other text; a comma may be its decimal mark."""
    if NUMBER.fullmatch(text):
        return float(text)
    text = text.strip().replace("−", "-")
    if comma and "." not in text:
        text = text.replace(",", ".", 1)
    if not text or text.lower() in ("nan", "null", "none", "-", "--"):
        return math.nan
    return float(text) if NUMBER.fullmatch(text) else None
