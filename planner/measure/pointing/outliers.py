"""One wrong sighting among few: the terms bend towards it, so that its own miss looks no worse than the others'.

Each sighting is judged by what the others predict for it, against what they scatter (the mean-shift test [CW82]_).

References
----------
.. [CW82] R. D. Cook and S. Weisberg, Residuals and Influence in Regression, Chapman & Hall (1982), sec. 2.2.2.
"""

import numpy as np

from planner.measure.pointing.design import Sightings, misses

FALSE_OUTLIER = 1e-3  # chance that a set of good sightings loses one
FEW = 14  # sightings; among more, one wrong one bends little
MOST_SHARE = 0.25  # of the sightings that may be wrong


def without_shifted(
    seen: Sightings, used: list[int], values: np.ndarray, good: np.ndarray, jacobian: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return values, good sightings (n,) and slopes without those that the others contradict, tried from all again."""
    if seen.count > FEW:
        return values, good, jacobian
    start, kept = misses(seen, values), np.ones(seen.count, bool)
    while (~kept).sum() < MOST_SHARE * seen.count and 2 * (kept.sum() - 1) > len(used) + 2:
        worst, chance = _worst(jacobian, start, kept)
        if chance * kept.sum() > FALSE_OUTLIER:
            break
        kept[worst] = False
    if np.array_equal(kept, good):
        return values, good, jacobian
    found = values.copy()
    found[used] += _step(jacobian[kept], start[kept])
    return found, kept, jacobian


def _step(jacobian: np.ndarray, miss: np.ndarray) -> np.ndarray:
    return np.linalg.lstsq(jacobian.reshape(-1, jacobian.shape[-1]), -miss.ravel(), rcond=None)[0]


def _worst(jacobian: np.ndarray, start: np.ndarray, kept: np.ndarray) -> tuple[int, float]:
    """Return the sighting that the others contradict most, and the chance that a good one is contradicted so."""
    from scipy.stats import f

    rows = np.flatnonzero(kept)
    slopes = jacobian[rows]
    left = start[rows] + slopes @ _step(slopes, start[rows])
    inverse = np.linalg.pinv(np.einsum("nik,nil->kl", slopes, slopes))
    leverage = slopes @ inverse @ np.swapaxes(slopes, 1, 2)
    gain = np.einsum("ni,ni->n", left, np.linalg.solve(np.eye(2) - (1 - 1e-9) * leverage, left[..., None])[..., 0])
    free = 2 * rows.size - slopes.shape[-1] - 2
    ratio = gain / 2 / np.maximum((np.sum(left**2) - gain) / free, 1e-30)
    worst = int(np.argmax(ratio))
    return int(rows[worst]), float(f.sf(ratio[worst], 2, free))
