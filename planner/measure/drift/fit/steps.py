"""Steps of a drift log: the star was moved at once and stayed there, by a dither, a cable or a knock.

A step is one difference of the log that the drift, the walk and the white noise of all others do not explain. Both axes
are judged together: a dither moves both, a snag may move one. Plain-float kernels (arcsec, seconds) for `report`.
"""

import numpy as np

from planner.measure.drift.fit.wander_noise import Differences, LinearFit, Regression

# Chance that a log without steps shows one.
FALSE_STEP = 1e-5
ROUNDS = 40
NEAR = 0.5  # of the most certain step's evidence: found in the same round


def find_steps(time_s: np.ndarray, axes: tuple[np.ndarray, ...], exposure_s: float, degree: int) -> np.ndarray:
    """Return the differences, in order, across which the star was moved.

    `time_s` (n,): of the rows, in order. `axes` (n,): where the star stood, in arcsec. `exposure_s`: of one row.
    `degree`: of the polynomial that stands for the drift.
    """
    place = 2 * (time_s - time_s[0]) / (time_s[-1] - time_s[0]) - 1
    drift = np.diff(np.polynomial.legendre.legvander(place, degree)[:, 1:], axis=0)
    level = 2 * np.log(time_s.size / FALSE_STEP)  # of chi-squared of two degrees: exp(-x/2) each
    found: list[int] = []
    for _ in range(ROUNDS):
        evidence = _evidence(Differences(time_s, exposure_s, tuple(found)), axes, drift)
        evidence[found] = 0
        new = _peaks(evidence, max(level, NEAR * float(evidence.max())))
        if not new.size or len(found) + new.size > time_s.size // 4:
            break
        found = sorted([*found, *(int(index) for index in new)])
    return np.array(found, dtype=int)


def _evidence(differences: Differences, axes: tuple[np.ndarray, ...], drift: np.ndarray) -> np.ndarray:
    """Return chi-squared of a step at each difference (m,); 0 where a single row that is off explains it as well."""
    steps = np.zeros(differences.size)
    rows = np.zeros(differences.size + 1)
    for values in axes:
        y = np.diff(values)
        fit = Regression(differences, y, drift).best()
        step, row = _scores(differences, fit, y - drift @ fit.coefficients)
        steps += step
        rows += row
    return np.where(steps > np.maximum(rows[:-1], rows[1:]), steps, 0.0)


def _scores(differences: Differences, fit: LinearFit, residual: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return chi-squared of a step at each difference (m,), and of an error of each single row (m + 1,)."""
    weighted = differences.whiten(fit.ratio, residual[:, None])[:, 0]
    inner, beside = differences.inverse_bands(fit.ratio)
    scale = fit.squares / differences.count
    pull = np.diff(np.concatenate([[0.0], -weighted, [0.0]]))
    precision = np.concatenate([[inner[0]], inner[:-1] + inner[1:] - 2 * beside, [inner[-1]]])
    return weighted**2 / inner / scale, pull**2 / precision / scale


def _peaks(evidence: np.ndarray, level: float) -> np.ndarray:
    """Return where the evidence passes a level and is larger than beside it."""
    padded = np.concatenate([[0.0], evidence, [0.0]])
    return np.flatnonzero((evidence > level) & (evidence >= padded[:-2]) & (evidence >= padded[2:]))
