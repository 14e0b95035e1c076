"""The season's hours in whole visits: what its program deals out in pieces is gathered into stays."""

import numpy as np

from planner.session.worth.times import MINIMUM_RUN

STAY = float(MINIMUM_RUN.to_value("h"))  # h
NEARLY = 0.5  # of a stay: from here on it is made whole, at the cost of a later night's
LEAST = 0.1  # h: less is no visit


def visits(clock: np.ndarray, up: np.ndarray, room: np.ndarray) -> np.ndarray:
    """Return the hours of each visit, (needs, nights, watches): a stay or more, or all that is left of a need.

    Parameters
    ----------
    clock, up : ndarray, (needs, nights, watches)
        Hours that the program gives, and hours above the limits.
    room : ndarray, (nights, watches)
        Hours that can be used.
    """
    given, each = np.zeros_like(clock), clock.sum(axis=2)
    owed, later = np.zeros(len(clock)), each.sum(axis=1)
    for night, left in enumerate(room):
        owed, later, free = owed + each[:, night], later - each[:, night], left.copy()
        least = np.minimum(STAY, owed + later)
        due = np.flatnonzero((each[:, night] > 0) & (owed >= NEARLY * least) & (least >= LEAST))
        for need in due[np.argsort(-owed[due], kind="stable")]:
            taken = _taken(max(owed[need], least[need]), clock[need, night], np.minimum(up[need, night], free))
            if taken.sum() >= 0.999 * least[need]:
                given[need, night] = taken
                free -= taken
                owed[need] -= taken.sum()
    return given


def _taken(hours: float, wished: np.ndarray, most: np.ndarray) -> np.ndarray:
    """Return hours of a visit by watch, from those that the program prefers on."""
    taken = np.zeros_like(most)
    for watch in np.lexsort((-most, -wished)):
        taken[watch] = min(most[watch], hours - taken.sum())
    return taken
