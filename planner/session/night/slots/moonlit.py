"""What a moonlit hour is for, in a night that is planned by itself: what loses least under the Moon comes first.

Dark nights will come for what the Moon spoils most, so that an hour spent on it now is worth less than what it brings
tonight. The worth of each picture (a line of a target, or all of its broad bands) is multiplied by the square of what
the Moon leaves of its hours over what it leaves of the best one's at the same time. Without Moon, or where all lose
alike, nothing changes; where other nights are looked at, their hours are counted instead (`planner.session.campaign`).
"""

import numpy as np

# Of what is left over what is left of the best: with 1 galaxies under a full Moon still come before a nebula's lines
# (common practice, no source).
POWER = 2


def moonlit_weights(kept: np.ndarray, clock: np.ndarray, picture: np.ndarray) -> np.ndarray:
    """Return what the worth of each need is multiplied by, (needs,).

    `kept` (needs, slots): background without the Moon over that with it. `clock` (needs, slots): share of each slot in
    which a need that something is left to do of can be worked on. `picture` (needs,): number of the one it belongs to.
    """
    whole, left = np.zeros((2, int(picture.max(initial=-1)) + 1, clock.shape[1]))
    np.add.at(whole, picture, clock)
    np.add.at(left, picture, clock * kept)
    share = np.divide(left, whole, out=np.zeros_like(left), where=whole > 0)
    best = share.max(axis=0, initial=0.0)
    relative = np.divide(share, best, out=np.zeros_like(share), where=best > 0)
    hours = left.sum(axis=1)
    mean = np.divide((left * relative).sum(axis=1), hours, out=np.ones_like(hours), where=hours > 0)
    return mean[picture] ** POWER
