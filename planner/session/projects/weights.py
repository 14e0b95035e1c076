"""How much the needs of one target weigh beside each other."""

from collections.abc import Sequence

import numpy as np

from planner.session.projects.request import Need


def need_weights(needs: Sequence[tuple[int, Need]], hours: np.ndarray) -> np.ndarray:
    """Return the weights (needs,): 1 of a line; broad bands, one picture, by the hours wanted, 1 on average.

    `needs` come with the number of their target; `hours` are those wanted of each.
    """
    owner = np.array([row for row, _ in needs], int)
    broad = np.array([not need.band.narrow for _, need in needs], bool)
    wanted = np.bincount(owner[broad], hours[broad], int(owner.max(initial=0)) + 1)
    mean = (wanted / np.maximum(np.bincount(owner[broad], minlength=len(wanted)), 1))[owner]
    return np.where(broad & (mean > 0), hours / np.where(mean > 0, mean, 1.0), 1.0)
