"""The sway of a pier from logs or short frames of a windy night: what comes back, unlike noise and a walk."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u
from scipy.optimize import nnls

from planner.errors import InvalidInputError
from planner.measure.drift.model import DriftReport

LONGEST_ROW = 10 * u.s  # longer rows average most of a sway away
LONGEST_LAG, LAGS, PASSAGES = 240.0, 40, 30  # s
LONGEST_PASSAGE = 40.0  # s, of an eddy: in 1 m/s; what is slower is wander
FREQUENCY = np.geomspace(1e-5, 5.0, 800)  # Hz
MEMORY = 0.97  # of such a spectrum, in passages of an eddy (by Parseval)
# Of a log, for the error by leaving out one after the other; doubled, as gusts outlast a block (simulated winds).
BLOCKS = 8
FEWEST = 200  # rows


@dataclass(frozen=True, kw_only=True)
class MeasuredSway:
    """What a star did beyond noise and a walk, and came back from."""

    sway: Annotated[u.Quantity[u.arcsec], "rms per axis"]
    sway_error: Annotated[u.Quantity[u.arcsec], "of the sway"]
    memory: Annotated[u.Quantity[u.s], "for which it resembles itself"]
    beside_calm: Annotated[bool, "whether the same of a calm night is taken off"]

    @property
    def stands_out(self) -> Annotated[bool, "whether it is no chance"]:
        """Whether it is no chance, and comes back sooner than a wander might."""
        return bool(self.sway > 2 * self.sway_error and self.memory.value < 0.9 * MEMORY * LONGEST_PASSAGE)

    @property
    def lines(self) -> tuple[str, ...]:
        """What it says, and what to write where."""
        size, error = self.sway.value, self.sway_error.value
        if not self.stands_out:
            return (f"No sway stands out: less than {size + 2 * error:.2f}″ rms on either axis.",)
        slow_air = "" if self.beside_calm else (
            " Slow air and quick errors of the drive are in it: --calm, a log of the same rig without wind, takes them "
            "off.")
        return (f"Sway {size:.2f} ± {error:.2f}″ rms on either axis, alike for {self.memory.value:.2g} s.{slow_air}",
                f'Write sway = "{size:.2f} arcsec" and sway_memory = "{self.memory.value:.2g} s" into the [[rig]]: '
                "they go before what its pier file says.")


def measured_sway(windy: DriftReport, calm: DriftReport | None = None) -> MeasuredSway:
    r"""Return the sway of a pier in the wind of one log, less that of a calm one.

    Half the mean squared difference of rows a time Δ apart, drift and periodic terms taken out, is

    .. math:: D = n + \tfrac12 w^2\Delta + \sigma^2\int S(f)\,\mathrm{sinc}^2(f t)\,(1 - \cos 2\pi f\Delta)\,df,\qquad
        S = \frac{6.8\,T}{(1 + 10.2 f T)^{5/3}}

    with noise n, walk w, and a sway σ in rows exposed for t by eddies that pass in T: the spectrum of EN 1991-1-4
    eq. B.2 (from memory), by which the pier's own sway is reckoned. The three are fitted without negative ones at each
    of many T, and the best is taken; the memory is 0.97 T.

    Parameters
    ----------
    windy, calm : DriftReport
        Of unguided stars or solved short frames; both of the same mount on the same pier.

    Raises
    ------
    InvalidInputError
        If a log has too few rows, or rows of more than 10 s.
    """
    for report in (windy,) if calm is None else (windy, calm):
        _refuse(report)
    size, memory = _fitted(windy, range(BLOCKS))
    others = [_fitted(windy, [one for one in range(BLOCKS) if one != out])[0] for out in range(BLOCKS)]
    error = 2 * max(np.sqrt((BLOCKS - 1) * np.var(others)), 1e-6)  # of the variance
    still = 0.0 if calm is None else _fitted(calm, range(BLOCKS))[0]
    left = max(size - still, 0.0)
    root = np.sqrt(left)
    return MeasuredSway(sway=root * u.arcsec, sway_error=error / (2 * max(root, np.sqrt(error) / 2)) * u.arcsec,
                        memory=memory * u.s, beside_calm=calm is not None)


def _refuse(report: DriftReport) -> None:
    if report.ra.time_s.size < FEWEST:
        raise InvalidInputError("rows", report.ra.time_s.size, f"must be at least {FEWEST}",
                                "Log a star for a quarter of an hour or more, a row every second or two.")
    if report.step > LONGEST_ROW:
        raise InvalidInputError("step", f"{report.step:.3g}", f"must be at most {LONGEST_ROW:g}",
                                "Longer rows average the sway away: take short frames, one after the other.")


def _fitted(report: DriftReport, blocks: Sequence[int]) -> tuple[float, float]:
    """Return variance [arcsec2] and memory [s] of the sway in some blocks of a log."""
    lag, found = _structure(report, blocks)
    exposure = report.row_exposure_s or float(report.step.to_value(u.s))
    best = (np.inf, 0.0, 1.0)
    for passage in np.geomspace(max(2 * lag[0], exposure), LONGEST_PASSAGE, PASSAGES):
        spectrum = 6.8 * passage / (1 + 10.2 * FREQUENCY * passage) ** (5 / 3) * np.sinc(FREQUENCY * exposure) ** 2
        swaying = (1 - np.cos(2 * np.pi * np.outer(lag, FREQUENCY))) @ (spectrum * np.gradient(FREQUENCY))
        parts, miss = nnls(np.stack([np.ones_like(lag), lag / 2, swaying], axis=1) / found[:, None], np.ones_like(lag))
        best = min(best, (float(miss), float(parts[2]), MEMORY * float(passage)))
    return best[1], best[2]


def _structure(report: DriftReport, blocks: Sequence[int]) -> tuple[np.ndarray, np.ndarray]:
    """Return lags [s] and half the mean squared differences in declination, which no worm moves [arcsec2]."""
    time = report.ra.time_s
    step = float(np.median(np.diff(time)))
    counts = np.unique(np.geomspace(1, min(LONGEST_LAG, np.ptp(time) / 10) / step, LAGS).astype(int))
    edges = np.linspace(0, time.size, BLOCKS + 1).astype(int)
    sums = np.zeros((counts.size, 2))
    for block in blocks:
        rows = report.dec.residual_arcsec[edges[block]:edges[block + 1]]
        for place, count in enumerate(counts[counts < rows.size]):
            sums[place] += np.sum((rows[count:] - rows[:-count]) ** 2) / 2, rows.size - count
    kept = sums[:, 1] > 0
    return counts[kept] * step, np.maximum(sums[kept, 0] / sums[kept, 1], 1e-12)
