"""The length of the subs of each filter of a target, with as few different lengths in one night as will do.

For each the lengths on the plateau of what all its blocks bring (95 % of the best, as in an advice) are good. Where
nothing follows a block at once, whole subs are counted; else the next begins with what is left over. Of the fewest
lengths among which every filter finds a good one, those nearest to what an advice recommends for each (the shortest of
those with 99 % of the best, were there no end to a block) are taken: every length more is another set of darks. Where
none are taken each filter has the nearest of its own.
"""

from itertools import combinations

import numpy as np

from planner.exposure.speed import SUB_LADDER
from planner.exposure.sub_exposure import PLATEAU, TIE
from planner.session.night.slots.slot_worth import FilterWorth

FEW = 4  # subs, from which on it is chance how many of them fit: nothing that a length is chosen by
LEAST_SUBS = 3  # in a block, where it has room for them: one spoiled sub is not the whole block
MOST_TRIED = 4  # lengths together; where more are needed, one after another is added


def length_shares(worth: FilterWorth, slots: slice, duration_s: float, overhead_s: np.ndarray, *, guided: bool,
                  followed: bool = False) -> np.ndarray:
    """Return what each step of SUB_LADDER brings in a block over what the best does, (lengths,).

    `followed` says that another block begins where this one ends.
    """
    cycle_s = SUB_LADDER.value + overhead_s
    fitting = (duration_s + overhead_s) / cycle_s
    whole = np.where(fitting < FEW, np.floor(fitting), fitting - 0.5)  # of many, half of one is lost on average
    count = np.where(followed & (fitting >= 1), fitting, whole)
    room = count >= min(LEAST_SUBS, count.max())
    brought = worth.rate[int(guided), :, slots].mean(axis=1) * count * cycle_s / duration_s * room
    return brought / brought.max() if brought.max() > 0 else brought


def common_lengths(share: np.ndarray, durations: np.ndarray, endless: np.ndarray | None = None, *,
                   few: bool = True) -> np.ndarray:
    """Return a place in SUB_LADDER for each row, as few different ones as will do; -1 where none is good.

    `share`: as of `length_shares`, of the best; from PLATEAU on a length is good. `endless`: the same where all is
    followed, as an advice counts; `share` if absent. `few`: whether few different ones matter.
    """
    steps = np.log(SUB_LADDER.value[:share.shape[1]])
    recommended = steps[((share if endless is None else endless) >= TIE).argmax(axis=1)]
    away = np.where(share >= PLATEAU, np.abs(steps - recommended[:, np.newaxis]), np.inf)
    able = np.isfinite(away).any(axis=1)
    chosen = np.full(len(share), -1)
    if able.any():
        lengths = np.array(_fewest(away[able], durations[able])) if few else np.arange(share.shape[1])
        chosen[able] = lengths[away[able][:, lengths].argmin(axis=1)]
    return chosen


def _fewest(away: np.ndarray, durations: np.ndarray) -> list[int]:
    """Return the fewest lengths with a good one for every block, the least far away of as many, in order."""
    useful = np.flatnonzero(np.isfinite(away).any(axis=0))
    for count in range(1, min(MOST_TRIED, len(useful)) + 1):
        sets = np.array(list(combinations(useful, count)))
        total = durations @ away[:, sets].min(axis=2)
        if np.isfinite(total.min()):
            return [int(length) for length in sets[int(np.argmin(total))]]
    first = int(np.argmax(durations @ np.isfinite(away)))
    left = ~np.isfinite(away[:, first])
    return sorted({first, *(_fewest(away[left], durations[left]) if left.any() else [])})
