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


def find_steps(time_s: np.ndarray, axes: tuple[np.ndarray, ...], exposure_s: float, columns: tuple[np.ndarray, ...]
               ) -> np.ndarray:
    """Return the differences, in order, across which the star was moved.

    `time_s` (n,): of the rows, in order. `axes` (n,): where the star stood, in arcsec. `exposure_s`: of one row.
    `columns` (n, k), for each axis: what moves it smoothly, as far as it is known.
    Where steps were found another is likelier, and a smaller one counts.
    """
    count = time_s.size
    strictest = 2 * np.log(count / FALSE_STEP)  # of chi-squared of two degrees: exp(-x/2) each
    moved, shapes = ([np.diff(values, axis=0) for values in some] for some in (axes, columns))
    found: dict[int, float] = {}
    for _ in range(ROUNDS):
        evidence = _evidence(Differences(time_s, exposure_s, tuple(sorted(found))), moved, shapes)
        evidence[list(found)] = 0
        # A step of the sizes found, which lie as far from none as their evidence says, against none, by their number.
        likely = 2 * np.log(count / len(found) * np.mean(list(found.values())) / 2) if found else np.inf
        new = _peaks(evidence, max(min(strictest, likely), NEAR * float(evidence.max())))
        if not new.size or len(found) + new.size > count // 4:
            break
        found |= {int(index): float(evidence[index]) for index in new}
    return np.array(sorted(found), dtype=int)


def _evidence(differences: Differences, moved: list[np.ndarray], shapes: list[np.ndarray]) -> np.ndarray:
    """Return chi-squared of a step at each difference (m,); 0 where a single row that is off explains it as well."""
    steps = np.zeros(differences.size)
    rows = np.zeros(differences.size + 1)
    for y, columns in zip(moved, shapes, strict=True):
        fit = Regression(differences, y, columns).best()
        step, row = _scores(differences, fit, y - columns @ fit.coefficients)
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
