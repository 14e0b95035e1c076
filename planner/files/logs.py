"""Reading what was written down at the telescope: drift logs, pointing sightings, solved positions.

CSV with a line of column names; ``#`` starts a comment, and comments like ``# dec_deg: 12.3`` before the columns tell
about the whole file. Cells left empty or written ``nan`` are a row without a measurement; any other text that is no
number is an error that names its rows.
"""

import csv
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from astropy import units as u

from planner.checks import did_you_mean
from planner.errors import InvalidInputError
from planner.files.reading import InMemory, read_text
from planner.measure.drift.report import DriftLog
from planner.measure.pointing.results import PointingData

LARGEST_LOG = 64 * 2**20  # bytes; a row a second for three weeks
MOST_ROWS = 1_000_000
NAMED_ROWS = 4  # bad rows that an error names
LONGEST_LOG_S = 86400  # no star is up longer in one track
SEPARATORS = ",;\t"

DRIFT_COLUMNS = ("time_s", "ra_arcsec", "dec_arcsec")
POINTING_COLUMNS = ("hour_angle_deg", "declination_deg", "mount_hour_angle_deg", "mount_declination_deg", "pier_side")
GROUND_COLUMNS = ("hour_angle_deg", "declination_deg")
SKY_COLUMNS = ("time_utc", "ra_deg", "dec_deg")
NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?|[+-]?inf(?:inity)?", re.I)
WORDS = ("pier_side", "time_utc")  # columns that hold text
LIMITS = {"time_s": 1e12, "ra_arcsec": 1.3e6, "dec_arcsec": 1.3e6, "dec_deg": 90, "declination_deg": 90,
          "latitude_deg": 90, "longitude_deg": 360, "hour_angle_deg": 360, "ra_deg": 360, "mount_hour_angle_deg": 720,
          "mount_declination_deg": 360}


@dataclass(frozen=True)
class Table:
    """The rows of a CSV file, by column; `lines` holds the line number of each row."""

    name: str
    header: dict[str, float]
    columns: dict[str, np.ndarray]
    lines: np.ndarray

    @property
    def measured(self) -> np.ndarray:
        """Return which rows hold a number in every numeric column (n,)."""
        numeric = [values for name, values in self.columns.items() if name not in WORDS]
        return np.all(np.isfinite(numeric), axis=0)

    def angle(self, name: str) -> u.Quantity:
        """Return a column of degrees, measured rows only."""
        return self.columns[name][self.measured] * u.deg


@dataclass(frozen=True)
class SolvedPositions:
    """Solved positions: on the sky with times, or as hour angle and declination."""

    ra: u.Quantity | None
    dec: u.Quantity | None
    time_utc: tuple[str, ...]
    hour_angle: u.Quantity | None
    declination: u.Quantity | None
    header: dict[str, float]


def read_drift_log(path: Path | str | InMemory) -> DriftLog:
    """Return a drift log: columns time_s, ra_arcsec, dec_arcsec.

    Parameters
    ----------
    path : Path, str or InMemory
        Comments at the top may give dec_deg, hour_angle_deg (at the first row), latitude_deg and exposure_s (of each
        row). Rows without a position become NaN.

    Raises
    ------
    InvalidInputError
        If the file cannot be read, a column is missing, a cell is neither a number nor empty, or exposure_s is not
        more than 0.
    """
    header = ("dec_deg", "hour_angle_deg", "latitude_deg", "exposure_s")
    table = read_table(path, DRIFT_COLUMNS, what="drift log", header=header)
    time, ra, dec = (table.columns[name] for name in DRIFT_COLUMNS)
    _check_span(table.name, time)
    declination, hour_angle, latitude = (
        table.header[name] * u.deg if name in table.header else None
        for name in ("dec_deg", "hour_angle_deg", "latitude_deg")
    )
    seconds = table.header.get("exposure_s")
    if seconds is not None and seconds <= 0:
        raise InvalidInputError(f"{table.name}, exposure_s", f"{seconds:g}", "must be more than 0",
                                "Write how long the star was exposed for one row.")
    exposure = None if seconds is None else seconds * u.s
    return DriftLog(time=time * u.s, ra=ra * u.arcsec, dec=dec * u.arcsec, declination=declination,
                    hour_angle=hour_angle, latitude=latitude, exposure=exposure)


def _check_span(name: str, time: np.ndarray) -> None:
    """Refuse a log longer than a night can be, or finer than a million steps: it is cut into even steps later."""
    known = np.sort(time[np.isfinite(time)])
    steps = np.diff(known)
    steps = steps[steps > 0]
    span = float(known[-1] - known[0]) if known.size else 0.0
    if span > LONGEST_LOG_S:
        raise InvalidInputError(f"{name}: time_s", f"{span:g} s from first to last",
                                f"must span at most {LONGEST_LOG_S:g} s", "Give the log of one night.")
    if steps.size and span > MOST_ROWS * float(np.median(steps)):
        raise InvalidInputError(f"{name}: time_s", f"{span:g} s in steps of {float(np.median(steps)):g} s",
                                f"must span at most {MOST_ROWS} steps", "Correct the times, or split the log.")


@dataclass(frozen=True)
class PointingFile:
    """A pointing file; its `latitude` is None if it does not say, `lines` are the line numbers of the rows."""

    hour_angle: u.Quantity
    declination: u.Quantity
    mount_hour_angle: u.Quantity
    mount_declination: u.Quantity
    pier_side: tuple[str, ...]
    latitude: u.Quantity | None
    lines: np.ndarray

    def data(self, latitude: u.Quantity) -> PointingData:
        """Return the sightings for a latitude."""
        return PointingData(
            hour_angle=self.hour_angle, declination=self.declination, mount_hour_angle=self.mount_hour_angle,
            mount_declination=self.mount_declination, pier_side=self.pier_side, latitude=latitude)


def read_pointing(path: Path | str | InMemory) -> PointingFile:
    """Return the sightings of a pointing file: where the tube looked, what the mount displayed, the pier side.

    Raises
    ------
    InvalidInputError
        If the file cannot be read, a column is missing, or a cell is out of range.
    """
    table = read_table(path, POINTING_COLUMNS, what="pointing file", header=("latitude_deg",))
    sides = [str(side).strip().lower() for side in table.columns["pier_side"]]
    _refuse_rows(table, [(line, "pier_side", side) for line, side in zip(table.lines, sides, strict=True)
                         if side not in ("east", "west")], "must be east or west",
                 "Name the side of the pier where the telescope is.")
    good = table.measured
    latitude = table.header.get("latitude_deg")
    hour_angle, declination, mount_hour_angle, mount_declination = map(table.angle, POINTING_COLUMNS[:4])
    return PointingFile(
        hour_angle=hour_angle, declination=declination, mount_hour_angle=mount_hour_angle,
        mount_declination=mount_declination,
        pier_side=tuple(side for side, kept in zip(sides, good, strict=True) if kept),
        latitude=None if latitude is None else latitude * u.deg, lines=table.lines[good],
    )


def read_positions(path: Path | str | InMemory) -> SolvedPositions:
    """Return solved positions: columns time_utc, ra_deg, dec_deg (ICRS), or hour_angle_deg, declination_deg.

    Comments at the top may give latitude_deg and longitude_deg.

    Raises
    ------
    InvalidInputError
        If the file cannot be read, neither set of columns is there, or a cell is out of range.
    """
    header = ("latitude_deg", "longitude_deg", "pressure_hpa", "temperature_c")
    table = read_table(path, (SKY_COLUMNS, GROUND_COLUMNS), what="positions file", header=header)
    if "ra_deg" in table.columns:
        times = tuple(str(text).strip() for text, good in zip(table.columns["time_utc"], table.measured, strict=True)
                      if good)
        return SolvedPositions(table.angle("ra_deg"), table.angle("dec_deg"), times, None, None, table.header)
    return SolvedPositions(None, None, (), table.angle("hour_angle_deg"), table.angle("declination_deg"), table.header)


def read_table(
    path: Path | str | InMemory, columns: Sequence[str] | tuple[Sequence[str], ...], *, what: str, header: Sequence[str]
) -> Table:
    """Return the wanted columns of a CSV file.

    Parameters
    ----------
    path : Path, str or InMemory
        The file, at most 64 MB and a million rows.
    columns : sequence of str, or tuple of such sequences
        Names of the columns, or several sets of which the first complete one is taken; others are ignored.
    what : str
        What the file is, for errors.
    header : sequence of str
        Names that comments at the top may give.
    """
    name = f"{what} {path.name if isinstance(path, InMemory) else Path(path).name}"
    lines = read_text(path, what=what, largest=LARGEST_LOG).splitlines()
    values = _header(name, lines, header)
    rows = [(number, line) for number, line in enumerate(lines, start=1) if line.split("#")[0].strip()]
    if len(rows) < 2:
        raise InvalidInputError(name, "(empty)", "must hold a line of column names and rows under it",
                                f"Start it with {','.join(_sets(columns)[0])}")
    if len(rows) > MOST_ROWS:
        raise InvalidInputError(name, f"{len(rows)} rows", f"must have at most {MOST_ROWS}", "Split it.")
    separator = max(SEPARATORS, key=rows[0][1].count)
    there = [cell.strip().lower() for cell in rows[0][1].split("#")[0].split(separator)]
    wanted = _wanted(name, there, _sets(columns))
    comma = separator != ","
    cells = list(csv.reader((line.split("#")[0] for _, line in rows[1:]), delimiter=separator))
    return _filled(name, values, wanted, there, cells, [number for number, _ in rows[1:]], comma)


def _sets(columns: Sequence[str] | tuple[Sequence[str], ...]) -> list[tuple[str, ...]]:
    first = columns[0]
    return [tuple(columns)] if isinstance(first, str) else [tuple(names) for names in columns]  # type: ignore[arg-type]


def _header(name: str, lines: list[str], known: Sequence[str]) -> dict[str, float]:
    """Return the numbers that comments before the first row give."""
    values: dict[str, float] = {}
    for number, line in enumerate(lines, start=1):
        if line.strip() and not line.lstrip("﻿ \t").startswith("#"):
            break
        key, mark, text = line.strip().lstrip("# \t").partition(":")
        key = key.strip().lower()
        if not mark or key not in known:
            continue
        value = _number(text)
        if value is None or not math.isfinite(value) or abs(value) > LIMITS.get(key, 1e6):
            raise InvalidInputError(f"{name}, line {number}: {key}", text.strip(),
                                    f"must be a number within ±{LIMITS.get(key, 1e6):g}",
                                    f"Write it like # {key}: 12.3")
        values[key] = value
    return values


def _wanted(name: str, there: list[str], sets: list[tuple[str, ...]]) -> tuple[str, ...]:
    """Return the first set of columns that is complete."""
    for names in sets:
        if all(column in there for column in names):
            return names
    fullest = max(sets, key=lambda names: sum(column in there for column in names))
    missing = [column for column in fullest if column not in there]
    choice = " or ".join(",".join(names) for names in sets)
    raise InvalidInputError(f"{name}: column {missing[0]}", "(missing)", f"the columns must be {choice}",
                            did_you_mean(missing[0], there))


def _filled(
    name: str, header: dict[str, float], wanted: tuple[str, ...], there: list[str], cells: list[list[str]],
    lines: list[int], comma: bool,
) -> Table:
    """Return the table with its cells as numbers; short rows at the very end are dropped as cut off in writing."""
    places = {column: there.index(column) for column in wanted}
    while cells and len(cells[-1]) <= max(places.values()):
        cells.pop()
    bad: list[tuple[int, str, str]] = []
    columns: dict[str, np.ndarray] = {}
    for column, place in places.items():
        if column in WORDS:
            columns[column] = np.array([row[place] if len(row) > place else "" for row in cells], dtype=object)
            continue
        values = [_number(row[place], comma) if len(row) > place else None for row in cells]
        limit = LIMITS.get(column, math.inf)
        bad += [(line, column, row[place] if len(row) > place else "(missing)")
                for line, row, value in zip(lines, cells, values, strict=False)
                if value is None or abs(value) > limit or math.isinf(value)]
        columns[column] = np.array([math.nan if value is None else value for value in values])
    table = Table(name, header, columns, np.array(lines[: len(cells)], dtype=int))
    _refuse_rows(table, bad, "must be a number in range, or empty for no measurement", "Correct or remove these rows.")
    return table


def _refuse_rows(table: Table, bad: Iterable[tuple[int, str, str]], rule: str, remedy: str) -> None:
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
    text = text.strip().replace("−", "-")
    if comma and "." not in text:
        text = text.replace(",", ".", 1)
    if not text or text.lower() in ("nan", "null", "none", "-", "--"):
        return math.nan
    return float(text) if NUMBER.fullmatch(text) else None
