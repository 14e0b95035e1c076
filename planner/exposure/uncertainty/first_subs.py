"""What the first subs tell of a mount: with which length to go on, by how many of them are round.

A draw of what is not known counts as often as it gives that count of round subs (Bayes' rule, beta-binomial: subs of
one evening are alike, since they share its air and the mount's walk). The subs of less than a turn of the drive would
be round or not together.
"""

import itertools
import math
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.exposure.speed import SUB_LADDER
from planner.exposure.sub_exposure import TIE, shortest_best
from planner.fields import Key, rows

LEAST_COUNT, MOST_COUNT = 10, 60  # subs that are looked at
EVENING = 10.0  # independent subs of any night tell as much as all of one evening's: a model's caution, no source
LEAST_GAIN = 0.01  # of the mean speed: a look that brings less is not asked for


@dataclass(frozen=True, kw_only=True)
class FirstSubs:
    """The look at the first subs."""

    first: Annotated[u.Quantity[u.s], "their length", Key("sub_exposure_s")]
    then: u.Quantity[u.s]  # (count + 1,), to go on with, by how many of them are round
    gain: Annotated[float, "of the mean speed, on average", Key("gain_fraction")]
    table = rows("length to go on with by how many are round, the longest first", lambda look: look.steps, key="steps",
                 least_round=(int, "of the subs"), most_round=(int, "of the subs"),
                 sub_exposure=(u.s, "to go on with"))

    @property
    def count(self) -> Annotated[int, "how many subs are looked at"]:
        """How many subs are looked at."""
        return len(self.then) - 1

    @property
    def steps(self) -> list[tuple[int, int, float]]:
        """The least and the most round subs for each length [s] to go on with, the longest length first."""
        runs = [(length, [count for count, _ in run])
                for length, run in itertools.groupby(enumerate(self.then.value), key=lambda one: one[1])]
        return [(counts[0], counts[-1], float(length)) for length, counts in reversed(runs)]

    @property
    def sentence(self) -> Annotated[str, "what to look for, and what then to do"]:
        """What to look for, and what then to do."""
        choices = ", ".join(f"{self._words(least, most)}: {length:g} s" for least, most, length in self.steps)
        return (f"Look at the first {self.count} subs of {self.first.value:g} s and go on by how many are round. "
                f"{choices[0].upper()}{choices[1:]}. On average that brings {100 * self.gain:.0f} % more.")

    def _words(self, least: int, most: int) -> str:
        if least == most:
            return {self.count: "all", 0: "none"}.get(most, f"{most}")
        return f"{least} or more" if most == self.count else f"{most} or fewer" if least == 0 else f"{least} to {most}"


def subs_of_a_turn(cycle: u.Quantity[u.s], periods: u.Quantity[u.s]) -> int:
    """Return how many subs to look at: of a turn of the drive, periods (m,), where one is ready every `cycle`."""
    turn = float((periods.max() / cycle).to_value(u.one)) if periods.size else 0.0
    return int(np.clip(np.ceil(turn), LEAST_COUNT, MOST_COUNT))


def first_subs(speeds: np.ndarray, kept: np.ndarray, length: int, count: int = LEAST_COUNT) -> FirstSubs | None:
    """Return what to do after the first subs of one way; None where looking brings next to nothing.

    `speeds` (draws, lengths): on the ladder of lengths. `kept` (draws,): share of the first subs, one after the other,
    that each draw keeps. `length`: place of the first length on the ladder. `count`: how many subs are looked at.
    """
    odds = _odds_of_counts(np.clip(kept, 0, 1)[:, np.newaxis], count)
    means = odds.T @ speeds / len(speeds)  # (counts, lengths), times how likely the count is
    best = [length if row[length] >= TIE * row.max() else shortest_best(row) for row in means]
    then = np.minimum.accumulate(best[::-1])[::-1]  # fewer round ones never ask for a longer sub
    before = float(speeds[:, length].mean())
    gain = float(means[np.arange(count + 1), then].sum()) / before - 1 if before > 0 else 0.0
    return None if gain < LEAST_GAIN else FirstSubs(first=SUB_LADDER[length], then=SUB_LADDER[then], gain=gain)


def _odds_of_counts(share: np.ndarray, count: int) -> np.ndarray:
    """Return the odds of each count of round subs (draws, count + 1), where a share of all nights' (draws, 1) is round.

    An evening's own share is of a beta law that scatters as the share of EVENING independent subs does.
    """
    ways = np.array([math.comb(count, one) for one in range(count + 1)], float)
    more = np.arange(count)
    round_, lost = (np.cumprod(np.concatenate([np.ones_like(part), EVENING * part + more], axis=1), axis=1)
                    for part in (share, 1 - share))
    return ways * round_ * lost[:, ::-1] / np.prod(EVENING + more)
