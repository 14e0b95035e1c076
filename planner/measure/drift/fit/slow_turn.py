"""A wheel that turns too slowly for the log: curves that follow the part of its turn, and what they hide.

A part of a turn bends the drift, and its harmonics look like waves of other periods. The curves are Legendre
polynomials over the log; what of the turn is straight cannot be told from the drive's rate.
"""

import numpy as np

from planner.measure.drift.fit.wander_noise import Differences, Regression

# The slowest usual worm turns once in 15 min (96 teeth; common practice, no source), and a log of one turn and a half
# tells a wave from a bend.
SHORT_LOG_S = 1380.0
CURVES, ROWS_A_CURVE = 14, 4  # polynomials: so many follow a worm of 6 to 11 min and its third harmonic for 10 min
HIDDEN_SLOPE = 0.4  # of the rms of the other curves: median of sines of 0.6 to 1.6 logs with harmonics, at any phase
BY_CHANCE = 0.001


def legendre(time_s: np.ndarray, degree: int) -> np.ndarray:
    """Return the Legendre polynomials of degree 1 to the one given over the log, (n, d)."""
    place = 2 * (time_s - time_s[0]) / (time_s[-1] - time_s[0]) - 1
    return np.polynomial.legendre.legvander(place, degree)[:, 1:]


def slow_turn(differences: Differences, y: np.ndarray, *, bent: bool, waves: int) -> np.ndarray | None:
    """Return curves (n, d) that follow a slow turn; None where the log is long enough, or shows no part of one.

    `differences`: of the log. `y` (n - 1,): differences of the axis that the wheel turns. `bent`: whether a bent drift
    describes the log better than waves. `waves`: how many waves do otherwise.
    Of rows too few for all curves a slow turn is assumed.
    """
    time_s = differences.time_s
    if time_s[-1] - time_s[0] > SHORT_LOG_S:
        return None
    number = min(CURVES, time_s.size // ROWS_A_CURVE)
    curves = legendre(time_s, number)
    return curves if bent or number < CURVES or (not waves and _curved(differences, y, curves)) else None


def _curved(differences: Differences, y: np.ndarray, curves: np.ndarray) -> bool:
    """Return whether all curves together gain more than they would of a straight drift by chance."""
    from scipy.stats import chi2

    line, count = Regression(differences, y, np.diff(curves, axis=0)), differences.count
    gain = 2 * (line.best().likelihood(count) - line.best(1).likelihood(count))
    return bool(gain > chi2.isf(BY_CHANCE, curves.shape[1] - 1))
