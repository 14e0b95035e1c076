"""Reading what was written down at the telescope: drift logs, pointing sightings, solved positions."""

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.files.logs.table import MOST_ROWS, Table, read_table, refuse_rows
from planner.files.reading import InMemory
from planner.measure.drift.model import DriftLog
from planner.measure.frame.sky_trail import Orientation
from planner.measure.pointing.results import PointingData

LONGEST_LOG_S = 86400  # no star is up longer in one track
FASTEST_ROWS_S = 0.01  # no camera places a star more often

PLACES = ("ra_arcsec", "dec_arcsec")
TIMES = {"time_s": 1.0, "time_min": 60.0, "time_h": 3600.0}  # seconds in the unit of each column
SOLVED, PIXELS = ("ra_deg", "dec_deg"), ("x_pixels", "y_pixels")
DRIFT_COLUMNS = (("time_s", *PLACES), ("time_utc", *SOLVED), ("time_s", *PIXELS), *(
    (time, *where) for where in (PLACES, SOLVED, PIXELS) for time in ("time_s", "time_min", "time_h", "time_utc")))
POINTING_COLUMNS = ("hour_angle_deg", "declination_deg", "mount_hour_angle_deg", "mount_declination_deg", "pier_side")
GROUND_COLUMNS = ("hour_angle_deg", "declination_deg")
SKY_COLUMNS = ("time_utc", "ra_deg", "dec_deg")


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
    """Return a drift log: time_s (time_min, time_h, or time_utc in ISO 8601), and where the star or the field stood.

    `path`: places are ra_arcsec, dec_arcsec of the star; or ra_deg, dec_deg of the middle of solved frames, which goes
    the other way; or x_pixels, y_pixels of the star with image_scale_arcsec and, if known, camera_angle_deg (of +y,
    north through east) at the top. Comments at the top may give dec_deg, hour_angle_deg (at the first row),
    latitude_deg, exposure_s (of each row) and site (its name). Rows without a position become NaN.
    Raises InvalidInputError if the file cannot be read, a column is missing, a cell is neither a number nor empty, or
    exposure_s is not more than 0.
    """
    header = ("dec_deg", "hour_angle_deg", "latitude_deg", "exposure_s", "image_scale_arcsec", "camera_angle_deg")
    table = read_table(path, DRIFT_COLUMNS, what="drift log", header=header)
    time, (ra, dec) = _seconds(table), _places(table)
    _check_span(table.name, time)
    if "dec_deg" in table.columns and np.any(table.measured):
        table.header.setdefault("dec_deg", float(np.mean(table.columns["dec_deg"][table.measured])))
    declination, hour_angle, latitude = (
        table.header[name] * u.deg if name in table.header else None
        for name in ("dec_deg", "hour_angle_deg", "latitude_deg")
    )
    seconds = table.header.get("exposure_s")
    if seconds is not None and seconds <= 0:
        raise InvalidInputError(f"{table.name}, exposure_s", f"{seconds:g}", "must be more than 0",
                                "Write how long the star was exposed for one row.")
    steps = np.diff(np.unique(time[np.isfinite(time)]))
    step = float(np.median(steps)) if steps.size else np.inf
    if seconds is not None and seconds > 1.5 * step:
        raise InvalidInputError(f"{table.name}, exposure_s", f"{seconds:g}",
                                f"is longer than the {step:.3g} s from row to row",
                                "Check the unit of the times: time_s, time_min or time_h.")
    exposure = None if seconds is None else seconds * u.s
    return DriftLog(time=time * u.s, ra=ra * u.arcsec, dec=dec * u.arcsec, declination=declination,
                    hour_angle=hour_angle, latitude=latitude, exposure=exposure, site=table.site,
                    oriented="x_pixels" not in table.columns or "camera_angle_deg" in table.header)


def _places(table: Table) -> tuple[np.ndarray, np.ndarray]:
    """Return how far a star stands east and north of its first place, or of any, in arcsec (n,)."""
    columns = table.columns
    if "ra_arcsec" in columns:
        return columns["ra_arcsec"], columns["dec_arcsec"]
    if "ra_deg" in columns:
        good = np.flatnonzero(table.measured)
        if not good.size:
            return columns["ra_deg"], columns["dec_deg"]
        return star_moved(columns["ra_deg"], columns["dec_deg"], int(good[0]))
    scale = table.header.get("image_scale_arcsec", 0.0)
    if not scale > 0:
        raise InvalidInputError(f"{table.name}, image_scale_arcsec", scale or "(missing)", "must be more than 0",
                                "Write # image_scale_arcsec: 1.2 at the top.")
    sky = Orientation.from_angle(scale * u.arcsec / u.pix, table.header.get("camera_angle_deg", 0.0) * u.deg)
    ra, dec = sky.sky(columns["x_pixels"], columns["y_pixels"])
    return ra.to_value(u.arcsec), dec.to_value(u.arcsec)


def star_moved(ra_deg: np.ndarray, dec_deg: np.ndarray, first: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Return how far a star went east and north, arcsec (n,), from where frames looked; against one of them."""
    east = (ra_deg - ra_deg[first] + 180) % 360 - 180
    return -3600 * east * np.cos(np.radians(dec_deg[first])), -3600 * (dec_deg - dec_deg[first])


def _seconds(table: Table) -> np.ndarray:
    """Return the times of the rows in seconds (n,), from any zero point; NaN for an empty one."""
    for name, unit in TIMES.items():
        if name in table.columns:
            return unit * table.columns[name]
    moments = [_moment(table, line, str(text).strip())
               for line, text in zip(table.lines, table.columns["time_utc"], strict=True)]
    first = min((moment for moment in moments if moment is not None), default=None)
    return np.array([np.nan if moment is None or first is None else (moment - first).total_seconds()
                     for moment in moments])


def _moment(table: Table, line: int, text: str) -> datetime | None:
    """Return a moment in ISO 8601; UTC if no zone is written."""
    if not text:
        return None
    try:
        moment = datetime.fromisoformat(text.replace(",", "."))
    except ValueError:
        raise InvalidInputError(f"{table.name}, line {line}: time_utc", text, "must be a time in UTC",
                                "Write it like 2026-11-25T21:04:30Z.") from None
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)


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
    if steps.size > 2 and float(np.median(steps)) < FASTEST_ROWS_S:
        raise InvalidInputError(f"{name}: time_s", f"{float(np.median(steps)):.2g} s from row to row",
                                f"must be at least {FASTEST_ROWS_S:g} s",
                                "If the times are hours or minutes, name the column time_h or time_min.")


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

    Raises InvalidInputError if the file cannot be read, a column is missing, or a cell is out of range.
    """
    table = read_table(path, POINTING_COLUMNS, what="pointing file", header=("latitude_deg",))
    sides = [str(side).strip().lower() for side in table.columns["pier_side"]]
    refuse_rows(table, [(line, "pier_side", side) for line, side in zip(table.lines, sides, strict=True)
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

    Raises InvalidInputError if the file cannot be read, neither set of columns is there, or a cell is out of range.
    """
    header = ("latitude_deg", "longitude_deg", "pressure_hpa", "temperature_c")
    table = read_table(path, (SKY_COLUMNS, GROUND_COLUMNS), what="positions file", header=header)
    if "ra_deg" in table.columns:
        times = tuple(str(text).strip() for text, good in zip(table.columns["time_utc"], table.measured, strict=True)
                      if good)
        return SolvedPositions(table.angle("ra_deg"), table.angle("dec_deg"), times, None, None, table.header)
    return SolvedPositions(None, None, (), table.angle("hour_angle_deg"), table.angle("declination_deg"), table.header)
