"""A wheel that turns too slowly for the log: curves that follow the part of its turn, and what they hide.

A part of a turn bends the drift, and its harmonics look like waves of other periods. The curves are Legendre
polynomials over the log; what of the turn is straight cannot be told from the drive's rate.
"""

import numpy as np

from planner.measure.drift.fit.periodic_terms import basis
from planner.measure.drift.fit.wander_noise import Differences, Regression

# The slowest usual worm turns once in 15 min (96 teeth; common practice, no source), and a log of one turn and a half
# tells a wave from a bend.
SHORT_LOG_S = 1380.0
CURVES, ROWS_A_CURVE = 14, 4  # polynomials: so many follow a worm of 6 to 11 min and its third harmonic for 10 min
HIDDEN_SLOPE = 0.4  # of the rms of the other curves: median of sines of 0.6 to 1.6 logs with harmonics, at any phase
BY_CHANCE = 0.001
PER_WAVE = 3  # numbers: sine, cosine and period


def legendre(time_s: np.ndarray, degree: int) -> np.ndarray:
    """Return the Legendre polynomials of degree 1 to the one given over the log, (n, d)."""
    place = 2 * (time_s - time_s[0]) / (time_s[-1] - time_s[0]) - 1
    return np.polynomial.legendre.legvander(place, degree)[:, 1:]


def fastest_hz(time_s: np.ndarray) -> float:
    """Return the frequency up to which the curves follow a wave: of a harmonic of a slow turn."""
    return float(CURVES / 2 / np.ptp(time_s))


def slow_turn(differences: Differences, y: np.ndarray, *, bent: bool, frequencies_hz: np.ndarray) -> np.ndarray | None:
    """Return curves (n, d) that follow a slow turn; None where the log is long enough, or shows no part of one.

    `differences`: of the log. `y` (n - 1,): differences of the axis that the wheel turns. `bent`: whether a bent drift
    describes the log better than waves. `frequencies_hz` (k,): of the waves that do otherwise.
    Of rows too few for all curves a slow turn is assumed.
    """
    time_s = differences.time_s
    if time_s[-1] - time_s[0] > SHORT_LOG_S:
        return None
    number = min(CURVES, time_s.size // ROWS_A_CURVE)
    curves = legendre(time_s, number)
    return curves if bent or number < CURVES or _curved(differences, y, curves, frequencies_hz) else None


def _curved(differences: Differences, y: np.ndarray, curves: np.ndarray, frequencies_hz: np.ndarray) -> bool:
    """Return whether all curves gain more than by chance over a straight drift and the waves that they could follow."""
    from scipy.stats import chi2

    slow = frequencies_hz <= fastest_hz(differences.time_s)
    gears, waves = (basis(differences.time_s, some) for some in (frequencies_hz[~slow], frequencies_hz[slow]))
    likely = [Regression(differences, y, np.diff(np.column_stack([gears, *shapes]), axis=0)).best().likelihood(
        differences.count) for shapes in ((curves[:, :1], waves), (curves,))]
    more = curves.shape[1] - 1 - PER_WAVE * int(slow.sum())
    return bool(2 * (likely[1] - likely[0]) > chi2.isf(BY_CHANCE, max(more, 1)))
