"""Which targets of a long list can matter tonight: what the mount does to their stars is worked out for them alone.

The best paths of those looked at say what it is worth to be at each boundary of the slots. A run of another target that
on a mount which moves no star is worth no more than what they bring over the same slots betters no path, for the levels
of a path add up to those of its end: what is proven of the targets looked at then holds for the whole list. Targets
that may bring more are looked at too, until none is left.
"""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from planner.session.optimum.problem import Worth
from planner.session.optimum.solve import ENOUGH, FlowSolution

FEW = 30  # targets: of no more, all are looked at
ABREAST = 6  # of the best at any time that are looked at first
MORE = 12  # that are looked at in one go where a better plan may hide in more


@dataclass(frozen=True, kw_only=True)
class BestCases:
    """The most that each need can gain, on a mount that moves no star."""

    gain: np.ndarray  # (needs, slots), equivalent hours of each slot
    owner: np.ndarray  # (needs,), number of the request
    worth: Worth
    least_run: np.ndarray  # (needs,), slots
    requests: int

    def first_choice(self) -> set[int]:
        """Return the requests whose shortest runs are worth most at some time of the night."""
        run = int(self.least_run.max(initial=1))
        sums = self._sums()
        worth = self.worth.of((sums[:, run:] - sums[:, :-run]).T).T * (self.gain[:, :1 - run or None] > 0)
        each = np.zeros((self.requests, worth.shape[1]))
        np.maximum.at(each, self.owner, worth)
        best = np.argsort(-each, axis=0, kind="stable")[:ABREAST]
        return {int(row) for row in best[np.take_along_axis(each, best, axis=0) > 0]}

    def most(self) -> np.ndarray:
        """Return what no stay on each request brings more than, (requests,): each slot through one of its filters.

        Every filter takes its best hours, those of one slot together no more than there are slots.
        """
        best = np.cumsum(-np.sort(-self.gain, axis=1), axis=1)
        more = np.diff(self.worth.of(best.T).T, axis=1, prepend=0.0)  # with each slot, the best first: less and less
        found = np.zeros(self.requests)
        for row in np.unique(self.owner):
            needs = self.owner == row
            slots = np.count_nonzero((self.gain[needs] > 0).any(axis=0))
            found[row] = -np.sort(-more[needs], axis=None)[:slots].sum()
        return found

    def overlooked(self, solution: FlowSolution, looked: Collection[int]) -> tuple[set[int], float]:
        """Return the requests not looked at that may better a plan, and the bound of the whole list."""
        more, bound = set[int](), solution.bound if not solution.proofs else np.inf
        for proven, levels in solution.proofs:  # the last is the least
            more, whole = self._beyond(proven, levels, looked)
            bound = min(bound, whole)
        return more if bound > solution.bound * (1 + ENOUGH) else set(), max(bound, solution.bound)

    def _beyond(self, bound: float, levels: np.ndarray, looked: Collection[int]) -> tuple[set[int], float]:
        """Return requests with a run that is worth most beyond what the levels rise meanwhile, and the bound of all."""
        stood, reached = levels
        best = self.gain.max(axis=1, initial=0.0)
        needs = np.flatnonzero(~np.isin(self.owner, list(looked)) & (best > 0) & (self.worth.most > 0))
        # Its best slot over and over, against the least that the levels rise over as many: most needs end here.
        length = np.arange(1, len(stood))
        rise = np.array([(reached[count:] - stood[:-count]).min() for count in length])
        over = (rise < self.worth.of(np.outer(length, best[needs]), needs).T) & (
            length >= self.least_run[needs, np.newaxis])
        needs = needs[over.any(axis=1)]
        sums, least, excess = self._sums()[needs], self.least_run[needs, np.newaxis], np.zeros(len(needs))
        there = self.gain[needs] > 0  # where runs begin and end
        slots = len(stood) - 1
        shortest = int(least.min(initial=slots))
        for start in range(slots - shortest + 1):
            ends = np.arange(start + shortest, slots + 1)
            more = self.worth.of((sums[:, ends] - sums[:, [start]]).T, needs).T - (reached[ends] - stood[start])
            more[(ends - start < least) | ~there[:, [start]] | ~there[:, ends - 1]] = 0.0
            np.maximum(excess, more.max(axis=1), out=excess)
        most = needs[np.argsort(-excess, kind="stable")][:np.count_nonzero(excess > 0)]
        # A plan has no more runs than fit.
        return set(self.owner[most][:MORE].tolist()), bound + slots // shortest * float(excess.max(initial=0.0))

    def _sums(self) -> np.ndarray:
        return np.concatenate([np.zeros((len(self.gain), 1)), np.cumsum(self.gain, axis=1)], axis=1)
