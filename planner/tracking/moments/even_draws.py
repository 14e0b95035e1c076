"""Normal values that fill their space evenly and are always the same."""

from functools import lru_cache
from statistics import NormalDist

import numpy as np

from planner.tracking.drive import drive_phases
from planner.tracking.mount_frame import Array


@lru_cache(maxsize=64)
def even_normals(count: int, columns: int) -> Array:
    """Return standard normal values (count, columns) from an additive recurrence, white: no mean, no correlation.

    Their order is shuffled, so that they stand beside other even values without a pattern. Not to be written to.
    """
    even = drive_phases(count, columns)[np.random.default_rng(count).permutation(count)] / (2 * np.pi)
    drawn = np.vectorize(NormalDist().inv_cdf)(np.clip(even, 0.5 / count, 1 - 0.5 / count))
    drawn -= drawn.mean(axis=0)
    drawn = np.linalg.solve(np.linalg.cholesky(drawn.T @ drawn / count), drawn.T).T
    drawn.flags.writeable = False
    return drawn
