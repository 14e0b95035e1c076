"""Fits that a few wild values do not pull away: Huber's rule.

P. J. Huber, Ann. Math. Statist. 35, 73 (1964), doi:10.1214/aoms/1177703732: a value beyond a limit counts by the limit
over its distance.
"""

import numpy as np

SIGMA_PER_MEDIAN = 1.4826  # of absolute values of a normal distribution: 1/0.6745
ERROR_OF_MEDIAN = 1.2533  # over that of a mean, of normal values: sqrt(pi / 2)
MEDIAN_ERROR = ERROR_OF_MEDIAN * SIGMA_PER_MEDIAN  # of a median, from the median deviation of one value
LIMIT = 1.5  # standard deviations
NOTHING = 1e-30


def huber_weight(away: np.ndarray, limit: float | np.ndarray) -> np.ndarray:
    """Return the weights of values by their distance from a fit: 1 to the limit, limit over distance beyond."""
    return np.minimum(1, limit / np.maximum(away, NOTHING))


def huber_fit(terms: np.ndarray, values: np.ndarray, *, least_spread: float, rounds: int
              ) -> tuple[np.ndarray, np.ndarray, float]:
    """Return the numbers (k,) with which terms (n, k) fit values (n,), their covariance at unit spread, and the spread.

    The spread is the median distance as a standard deviation, at least `least_spread`.
    """
    weight = np.ones(values.size)
    for _ in range(rounds):
        weighted = terms * weight[:, None]
        covariance = np.linalg.pinv(weighted.T @ terms)
        found = covariance @ (weighted.T @ values)
        away = np.abs(values - terms @ found)
        spread = max(SIGMA_PER_MEDIAN * float(np.median(away)), least_spread)
        weight = huber_weight(away, LIMIT * spread)
    return found, covariance, spread
