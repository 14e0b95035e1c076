"""Which targets are worth beginning in a night that is all there is.

Beginning a target has a cost, and a picture counts by the broad band that lags most (`NightDraft.whole`). Here each
target has one stay, in coarse slots, through its filters in any order: what the best stay on every target from each
boundary to each other one brings is found by dynamic programming, and then the best sequence of stays, over all sets of
targets. That is exact but for what a picture counts for: the bands of a stay are taken to have equal times of it.
"""

from collections.abc import Callable
from itertools import combinations

import numpy as np

from planner.session.optimum.problem import NEVER, FlowProblem

MOST, LARGEST = 12, 6  # targets, those that bring most by themselves; of a set


Counts = Callable[[int, np.ndarray], np.ndarray]


def best_stays(problem: FlowProblem, needs: list[list[int]], counts: Counts, cost: np.ndarray
               ) -> dict[int, np.ndarray]:
    """Return what the best stay on each target brings beyond what beginning it costs, (slots + 1, slots + 1).

    From each boundary to each other one. `needs`: of each target. `counts`: what their hours count for, (…, needs),
    from the target and such hours gained. `cost` (targets,): of beginning each.
    """
    return {target: _net(problem, target, np.array(needs[target]), counts) - cost[target]
            for target in np.unique(problem.target).tolist()}


def best_sets(nets: dict[int, np.ndarray]) -> list[tuple[float, set[int]]]:
    """Return sets of targets with what their best stays bring together, the best first."""
    targets = sorted(nets, key=lambda target: -nets[target].max())[:MOST]
    targets = [target for target in targets if nets[target].max() > NEVER / 2]
    sets = [set(some) for size in range(min(LARGEST, len(targets)) + 1) for some in combinations(targets, size)]
    number = {frozenset(some): at for at, some in enumerate(sets)}
    pairs = {target: np.array([(number[frozenset(some - {target})], at) for at, some in enumerate(sets)
                               if target in some]).T for target in targets}
    boundaries = len(next(iter(nets.values()), [0]))
    best = np.full((len(sets), boundaries), NEVER)
    best[0] = 0.0
    for end in range(1, boundaries):
        best[:, end] = best[:, end - 1]
        for target, (before, after) in pairs.items():
            worth = (best[before, :end] + nets[target][:end, end]).max(axis=1)
            best[after, end] = np.maximum(best[after, end], worth)
    order = np.argsort(-best[:, -1], kind="stable")
    return [(float(best[at, -1]), sets[at]) for at in order if best[at, -1] > NEVER / 2 and sets[at]]


def _net(problem: FlowProblem, target: int, needs: np.ndarray, counts: Counts) -> np.ndarray:
    """Return what the best stay on a target from each boundary to each other brings, (slots + 1, slots + 1)."""
    start, end = np.indices((problem.slots + 1, problem.slots + 1))
    found, length = np.full(start.shape, NEVER), np.arange(problem.slots + 1)[:, np.newaxis]
    for group in np.unique(problem.group[problem.target == target]):
        rows = np.flatnonzero((problem.group == group) & (problem.gain > 0).any(axis=1))
        stays, place = _stays(problem, rows), np.searchsorted(needs, problem.need_index[rows])
        hourly = np.zeros(len(needs))  # of a slot
        hourly[place] = problem.gain[rows].sum(axis=1) / np.maximum(np.count_nonzero(problem.gain[rows], axis=1), 1)
        for done in range(1, stays.shape[1]):
            have = place[done >> np.arange(len(rows)) & 1 == 1]
            gained = np.zeros((len(length), len(needs)))
            gained[:, have] = np.minimum(length / len(have) * hourly[have], problem.worth.most[needs[have]])
            worth = problem.worth.of(gained, needs)
            share = (counts(target, gained) * worth).sum(axis=1) / np.maximum(worth.sum(axis=1), 1e-12)
            brought = np.where(stays[:, done] > NEVER / 2, stays[:, done] * share[(end - start)[:-1]], NEVER)
            np.maximum(found[:-1], brought, out=found[:-1])
    return np.where(end - start >= problem.minimum_block, found, NEVER)


def _stays(problem: FlowProblem, rows: np.ndarray) -> np.ndarray:
    """Return the worth of stays from each boundary through some of the rows to each, (slots, 2 ** rows, slots + 1)."""
    slots, run, which = problem.slots, problem.minimum_run, np.arange(1 << len(rows))
    found = np.full((slots, len(which), slots + 1), NEVER)
    for start, (changed, kept) in enumerate(zip(*problem.entered, strict=True)):
        for place, row in enumerate(rows):
            before = which[which >> place & 1 == 0]
            at = slice(start), before | 1 << place, slice(start + run, None)
            worth = found[:start, before, start][:, :, np.newaxis] + kept[:, row]
            found[at] = np.maximum(found[at], worth)
            first = found[start, 1 << place, start + run:]
            np.maximum(first, changed[:, row], out=first)
    return found
