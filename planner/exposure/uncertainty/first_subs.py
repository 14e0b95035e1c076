"""What the first subs tell of a mount: with which length to go on, by how many of ten are round.

A draw of what is not known counts as often as it gives that count of round subs (Bayes' rule, binomial).
"""

import math
from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.exposure.speed import SUB_LADDER

LOOKED_AT = 10
NEARLY_ALL = 0.95  # of what the best count to part at would bring: fewer are left to chance
LEAST_GAIN = 0.01  # of the mean speed: a look that brings less is not asked for


@dataclass(frozen=True, kw_only=True)
class FirstSubs:
    """The look at the first ten subs."""

    first: u.Quantity[u.s]  # their length
    longer: u.Quantity[u.s]  # to go on with, if all are round
    few: int  # round ones: with so many or fewer ...
    shorter: u.Quantity[u.s]  # ... to go on with this
    gain: float  # of the mean speed, on average

    @property
    def sentence(self) -> str:
        """What to look for, and what then to do."""
        choices = [f"{words}, go on with {length.value:g} s" for words, length in (
            ("if all are round", self.longer),
            ("if none is" if self.few == 0 else f"with {self.few} or fewer", self.shorter)) if length != self.first]
        return (f"Look at the first {LOOKED_AT} subs of {self.first.value:g} s: {'; '.join(choices)}. On average that "
                f"brings {100 * self.gain:.0f} % more.")


def first_subs(speeds: np.ndarray, kept: np.ndarray, length: int) -> FirstSubs | None:
    """Return what to do after the first subs of one way; None where looking brings next to nothing.

    Parameters
    ----------
    speeds : (draws, lengths)
        On the ladder of lengths.
    kept : (draws,)
        Share of the subs of the first length that each draw keeps where the air alone spoils none: ten subs follow each
        other, none is low down among others that are not.
    length : int
        Place of the first length on the ladder.
    """
    gains = speeds - speeds[:, [length]]
    counts = np.arange(LOOKED_AT + 1)
    ways = np.array([math.comb(LOOKED_AT, count) for count in counts])
    share = np.clip(kept, 0, 1)[:, np.newaxis]
    odds = ways * share**counts * (1 - share) ** (LOOKED_AT - counts)  # (draws, counts)
    by_count = odds.T @ gains / len(speeds)  # (counts, lengths)
    more = by_count[-1, length:]
    less = np.cumsum(by_count[:-1], axis=0)[:, :length + 1]
    few = int(np.argmax(less.max(axis=1) >= NEARLY_ALL * less.max()))
    shorter, longer = int(np.argmax(less[few])), length + int(np.argmax(more))
    gain, before = float(more.max() + less[few, shorter]), float(speeds[:, length].mean())
    if before <= 0 or gain < LEAST_GAIN * before:
        return None
    return FirstSubs(first=SUB_LADDER[length], longer=SUB_LADDER[longer], few=few,
                     shorter=SUB_LADDER[shorter], gain=gain / before)
