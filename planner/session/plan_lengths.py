"""Guided or not and the length of the subs, block by block, with few different lengths in one night.

For every block the lengths on the plateau of its speed (95 % of the best, as in an advice) are good, whole subs
counted. Of these, the length that serves most of the night is taken, then the next for the blocks that are left: fewer
sets of darks.
"""

import numpy as np

from planner.exposure.speed import SUB_LADDER
from planner.exposure.sub_exposure import PLATEAU
from planner.session.plan_worth import FilterWorth

LEAST_SUBS = 3  # in a block, where it has room for them: one spoiled sub is not the whole block


def lengths_as_good(worth: FilterWorth, slots: slice, duration_s: float, overhead_s: float) -> tuple[bool, np.ndarray]:
    """Return whether to guide, and which steps of SUB_LADDER are as good as the best in a block, bool (lengths,)."""
    guided = worth.guided(slots)
    cycle_s = SUB_LADDER.value + overhead_s
    count = np.floor((duration_s + overhead_s) / cycle_s)
    room = count >= min(LEAST_SUBS, count.max())
    brought = worth.rate[int(guided), :, slots].mean(axis=1) * count * cycle_s / duration_s * room
    return guided, (brought >= PLATEAU * brought.max()) & (brought > 0)


def common_lengths(good: np.ndarray, durations: np.ndarray) -> np.ndarray:
    """Return a place in SUB_LADDER for each block, few different ones; the shorter of equals, -1 where none is good.

    Parameters
    ----------
    good : ndarray of bool, (blocks, lengths)
    durations : ndarray, (blocks,)
    """
    chosen = np.full(len(good), -1)
    while np.any(served := good & (chosen < 0)[:, np.newaxis]):
        length = int(np.argmax(durations @ served))
        chosen[served[:, length]] = length
    return chosen
