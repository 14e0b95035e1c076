"""The season's hours in whole visits: what its nights bring on the average of all weather is gathered into stays."""

import numpy as np

from planner.session.optimum.season import windows
from planner.session.worth.times import MINIMUM_RUN

STAY = float(MINIMUM_RUN.to_value("h"))  # h
NEARLY = 0.5  # of a stay: from here on it is made whole, at the cost of a later night's
LEAST = 0.1  # h: less is no visit
POOR = 0.3  # of what an hour brings on average: for less nobody comes


def visits(clock: np.ndarray, gain: np.ndarray, up: np.ndarray, room: np.ndarray, owner: np.ndarray) -> np.ndarray:
    """Return the hours of each visit, (needs, nights, watches): a stay or more, or all that is left of a need.

    They bring a need as much in all as its pieces, where there is room.

    Parameters
    ----------
    clock, gain, up : ndarray, (needs, nights, watches)
        Hours that each night gives on average, what an hour brings, and hours above the limits.
    room : ndarray, (nights, watches)
        Hours that can be used.
    owner : ndarray of int, (needs,)
        The project of each need: its needs share the hours in which it is up.
    """
    window = windows(up, owner)
    given, hours, brought = np.zeros_like(clock), clock.sum(axis=2), (clock * gain).sum(axis=2)
    rate = np.divide(brought, hours, out=np.full_like(hours, np.inf), where=brought > 0)
    owed, later = np.zeros(len(clock)), brought.sum(axis=1)
    poor = POOR * later / np.maximum(hours.sum(axis=1), LEAST)
    for night, free in enumerate(room.copy()):
        owed, later = owed + brought[:, night], later - brought[:, night]
        due, rest = owed / rate[:, night], (owed + later) / rate[:, night]
        least = np.minimum(STAY, rest)
        some = np.flatnonzero((least >= LEAST) & (due >= NEARLY * least) & (rate[:, night] >= poor))
        for most in (np.maximum(due, least), rest):  # who is there stays for as long as nobody else comes
            for need in some[np.argsort(-due[some], kind="stable")]:
                there = given[need, night]
                more = _taken(max(most[need] - there.sum(), 0.0), clock[need, night],
                              np.minimum.reduce([up[need, night] - there, window[owner[need], night], free]))
                if there.sum() + more.sum() >= 0.999 * least[need]:
                    there += more
                    free -= more
                    window[owner[need], night] -= more
                    owed[need] -= more @ gain[need, night] if least[need] == STAY else owed[need] + later[need]
    return given


def _taken(hours: float, wished: np.ndarray, most: np.ndarray) -> np.ndarray:
    """Return hours of a visit by watch, from those with the most hours on."""
    taken = np.zeros_like(most)
    for watch in np.lexsort((-most, -wished)):
        taken[watch] = min(most[watch], hours - taken.sum())
    return taken
