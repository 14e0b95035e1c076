"""Rows of a drift log made fit for fitting: sorted, each time once, finite, without spikes; plain floats."""

from dataclasses import dataclass, field, replace

import numpy as np

from planner.errors import InvalidInputError

# Rows beyond this are averaged in blocks: the fit's time grows with the rows, its knowledge hardly.
MOST_ROWS = 8_000
NEIGHBOURS = 3  # on either side, that say where a row should be
# Distance from there, over the mean distance of most rows, that only a spike reaches.
SPIKE_RATIO = 12.0
GAP_STEPS = 10  # a wait of this many typical steps is called a gap


@dataclass(frozen=True, kw_only=True)
class CleanLog:
    """Usable rows and the count of those that were not."""

    time_s: np.ndarray  # from the first usable row
    ra_arcsec: np.ndarray
    dec_arcsec: np.ndarray
    origin_s: float  # the log's own time of the first usable row
    block: int = 1  # rows averaged into one
    lost: int = 0
    repeated: int = 0
    unsorted: bool = False
    outlier_times_s: np.ndarray = field(default_factory=lambda: np.empty(0))

    def without(self, bad: np.ndarray) -> "CleanLog":
        """Return the log without the rows marked bad (n,), which count as outliers."""
        keep = ~bad
        times = np.sort(np.concatenate([self.outlier_times_s, self.time_s[bad]]))
        return replace(self, time_s=self.time_s[keep], ra_arcsec=self.ra_arcsec[keep],
                       dec_arcsec=self.dec_arcsec[keep], outlier_times_s=times)

    def notes(self) -> list[str]:
        """Return what was done, a sentence each."""
        gaps = gaps_in(self.time_s).size
        found = [
            (self.lost, "without a position dropped"), (self.repeated, "repeated, the first kept"),
            (self.outlier_times_s.size, "far off, set aside"),
        ]
        notes = [f"{count} row{'s' if count > 1 else ''} {what}." for count, what in found if count]
        if self.unsorted:
            notes.append("Rows were not in order of time and were sorted.")
        if gaps:
            notes.append(f"{gaps} gap{'s' if gaps > 1 else ''} longer than {GAP_STEPS} typical steps.")
        if self.block > 1:
            notes.append(f"Each {self.block} rows averaged; periods shorter than {2 * self.block} steps not searched.")
        return notes


def gaps_in(time_s: np.ndarray) -> np.ndarray:
    """Return the differences of times (n,) that are gaps."""
    step = np.diff(time_s)
    return np.flatnonzero(step > GAP_STEPS * np.median(step))


def clean(time_s: np.ndarray, ra_arcsec: np.ndarray, dec_arcsec: np.ndarray, fewest: int) -> CleanLog:
    """Return the usable rows (n,); `InvalidInputError` if fewer than `fewest` are left or nothing changes."""
    finite = np.isfinite(time_s) & np.isfinite(ra_arcsec) & np.isfinite(dec_arcsec)
    times = time_s[finite]
    order = np.argsort(times, kind="stable")
    first = np.concatenate([[True], np.diff(times[order]) > 0]) if times.size else np.empty(0, bool)
    order = order[first]
    log = CleanLog(
        time_s=times[order] - times.min(initial=np.inf), origin_s=float(times.min(initial=np.inf)),
        ra_arcsec=ra_arcsec[finite][order], dec_arcsec=dec_arcsec[finite][order],
        lost=int(np.sum(~finite)), repeated=int(np.sum(~first)), unsorted=bool(np.any(np.diff(times) < 0)),
    )
    if log.time_s.size < fewest:
        raise InvalidInputError("rows", log.time_s.size, f"a drift log needs at least {fewest} different times",
                                "Record the star for longer; ten minutes or more tell most.")
    if np.ptp(log.ra_arcsec) == 0 or np.ptp(log.dec_arcsec) == 0:
        axis = "ra_arcsec" if np.ptp(log.ra_arcsec) == 0 else "dec_arcsec"
        raise InvalidInputError(axis, f"{getattr(log, axis)[0]:g} in every row", "must change from row to row",
                                "Write offsets with enough digits, unguided.")
    bad = _spikes(log.time_s, log.ra_arcsec) | _spikes(log.time_s, log.dec_arcsec)
    return _averaged(log.without(bad) if bad.any() and (~bad).sum() >= fewest else log)


def _spikes(time_s: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Return which values (n,) leave the place that their neighbours agree on by far more than most do.

    The place is the median of straight lines through the first, second and third neighbours on either side: a spike
    spoils one of them at most, and a steep drive error none.
    """
    times, padded = (np.pad(row, NEIGHBOURS, mode="reflect", reflect_type="odd") for row in (time_s, values))
    count = values.size
    lines, sides = [], []
    for reach in range(1, NEIGHBOURS + 1):
        before, after = (slice(NEIGHBOURS + side, NEIGHBOURS + side + count) for side in (-reach, reach))
        share = (time_s - times[before]) / (times[after] - times[before])
        lines.append(padded[before] + share * (padded[after] - padded[before]))
        sides.append(padded[after] - padded[before])
    away = np.abs(values - np.median(lines, axis=0))
    # Beside a gap the lines are too long to tell a spike from the curve of a drive error: left to the fit.
    span = times[2 * NEIGHBOURS:] - times[:count]
    away[span > GAP_STEPS * np.median(np.diff(time_s))] = 0
    # The mean of the lowest nine tenths: in a coarsely rounded log the median is zero.
    lowest = np.sort(away)[: max(1, int(0.9 * count))]
    away[away < np.abs(np.median(sides, axis=0))] = 0  # a step: the star does not come back
    return away > SPIKE_RATIO * max(float(np.mean(lowest)), 1e-9)


def _averaged(log: CleanLog) -> CleanLog:
    """Return the log with blocks of rows averaged if it has more than `MOST_ROWS`."""
    block = -(-log.time_s.size // MOST_ROWS)
    if block == 1:
        return log
    whole = log.time_s.size // block * block
    time_s, ra, dec = (
        values[:whole].reshape(-1, block).mean(axis=1) for values in (log.time_s, log.ra_arcsec, log.dec_arcsec)
    )
    return replace(log, time_s=time_s, ra_arcsec=ra, dec_arcsec=dec, block=block)
