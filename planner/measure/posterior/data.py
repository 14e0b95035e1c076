"""A cleaned log as the posterior sees it: averaged rows, and what moves them; plain floats.

How far stars trail inside a frame is not in it: beside the positions between 20 frames of 30 s it brought no more of 45
simulated mounts to the advice of the true one.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from astropy import units as u

from planner.constants import SIDEREAL_RATE
from planner.measure.drift.causes import RATE_STEP_PPM, track_of
from planner.measure.drift.fit.log_cleaning import gaps_in
from planner.measure.drift.fit.wander_noise import Differences
from planner.measure.drift.model import DriftReport
from planner.measure.drift.report import FAR_S
from planner.rig import Mount

MOST_ROWS = 500
ROWS_PER_TERM = 8  # averaged rows to the shortest term, at least
UNKNOWN_DRIFT = 0.5  # arcsec/min: what axis and air do to a star whose place is not known
KEYS = ("rate", "altitude", "azimuth", "flexure_ra", "flexure_dec")


@dataclass(frozen=True, kw_only=True)
class LogData:
    """Differences of averaged rows (m,), what a unit of each figure adds to them (m, 5), and their noise."""

    differences: Differences
    ra: np.ndarray
    dec: np.ndarray
    ra_columns: np.ndarray
    dec_columns: np.ndarray
    placed: bool  # whether the log knows where the star was
    rows: int  # averaged into one
    step_s: float
    exposure_s: float
    to_equator: float  # arcsec of the axis to an arcsec on the sky
    told: tuple[bool, bool] = (True, True)  # whether RA and Dec tell of the mount; else their rows are zeros

    def seen_share(self, period_s: np.ndarray) -> np.ndarray:
        """Return the share of waves' amplitudes that the averaged rows show."""
        places = np.arange(self.rows) - (self.rows - 1) / 2
        turns = 2 * np.pi * self.step_s * places[:, None] / period_s
        return np.maximum(np.abs(np.sinc(self.exposure_s / period_s) * np.mean(np.cos(turns), axis=0)), 0.05)


def data_of(report: DriftReport, mount: Mount, declination: u.Quantity, air: dict[str, u.Quantity],
            shortest_s: float, told: tuple[bool, bool] = (True, True)) -> LogData:
    """Return the log less what the mount's table predicts, in rows that still show a term of the shortest period."""
    log, time_s = report.log, report.ra.time_s
    placed = log.placed
    columns, start = _columns(report, mount, air) if placed else _without_place(report, declination)
    step = float(np.median(np.diff(time_s)))
    rows = max(1, min(-(-time_s.size // MOST_ROWS), int(shortest_s / ROWS_PER_TERM / step)))
    if report.far_wander is not None:  # slow air lasts for seconds, and is white from one such mean to the next
        rows = int(FAR_S / step)
    places = [axis.model_arcsec + axis.residual_arcsec - begin
              for axis, begin in zip((report.ra, report.dec), start, strict=True)]
    whole = _in_blocks(time_s, rows)
    time, *parts = (part[whole].reshape(-1, rows, *part.shape[1:]).mean(axis=1)
                    for part in (time_s, *places, *columns))
    exposure = report.row_exposure_s if rows == 1 else rows * step
    breaks = np.unique(np.clip(
        np.searchsorted(whole, report.breaks + 1) // rows - 1, 0, time.size - 2)) if report.breaks.size else ()
    ra, dec, ra_columns, dec_columns = (np.diff(part, axis=0) * known for part, known in
                                        zip(parts, (*told, *told), strict=True))
    return LogData(
        differences=Differences(time, exposure, breaks), ra=ra, dec=dec, ra_columns=ra_columns,
        dec_columns=dec_columns, placed=placed, rows=rows, step_s=step, exposure_s=report.row_exposure_s,
        to_equator=float(np.cos(declination.to_value(u.rad))), told=told)


def _in_blocks(time_s: np.ndarray, rows: int) -> np.ndarray:
    """Return which rows are averaged, whole blocks of them: none across a gap, unless most would be lost by that."""
    edges = [0, *(gaps_in(time_s) + 1), time_s.size]
    kept = np.concatenate([np.arange(first, last - (last - first) % rows) for first, last in pairwise(edges)])
    return kept if 2 * kept.size > time_s.size else np.arange(time_s.size // rows * rows)


def _columns(report: DriftReport, mount: Mount, air: dict[str, u.Quantity]
             ) -> tuple[list[np.ndarray], tuple[np.ndarray, np.ndarray]]:
    """Return what a ppm, an arcmin of each angle and an arcsec/h of each flexure do, and the table's own prediction."""
    log, time_s = report.log, report.ra.time_s
    start = track_of(log, mount, time_s, **air, rate_error_ppm=mount.rate_error_ppm)
    changes = [
        {"rate_error_ppm": mount.rate_error_ppm + RATE_STEP_PPM},
        *({"rate_error_ppm": mount.rate_error_ppm, key: value + 1 * u.arcmin}
          for key, value in mount.axis.items())]
    moved = [track_of(log, mount, time_s, **air, **change) for change in changes]
    hours, still = time_s / 3600, np.zeros(time_s.size)
    scale = (RATE_STEP_PPM, 1.0, 1.0)
    ra, dec = ([(track[axis] - start[axis]) / size for track, size in zip(moved, scale, strict=True)]
               for axis in (0, 1))
    return [np.column_stack([*ra, hours, still]), np.column_stack([*dec, still, hours])], start


def _without_place(report: DriftReport, declination: u.Quantity
                   ) -> tuple[list[np.ndarray], tuple[np.ndarray, np.ndarray]]:
    """Return the same where the place is not known: axis and air are any drift."""
    time_s = report.ra.time_s
    still, minutes = np.zeros(time_s.size), time_s / 60
    per_ppm = 1e-6 * SIDEREAL_RATE.to_value(u.arcsec / u.min) * np.cos(declination.to_value(u.rad))
    ra = np.column_stack([per_ppm * minutes, UNKNOWN_DRIFT * minutes, still, minutes / 60, still])
    dec = np.column_stack([still, still, UNKNOWN_DRIFT * minutes, still, minutes / 60])
    return [ra, dec], (still, still)
