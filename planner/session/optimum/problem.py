"""The plan as a problem on plain floats: what each state is worth in each slot, and what a sequence of states brings.

A state is a target through one filter on one side of the pier. What a target and filter gain is the sum of their
slots' worth, up to the need that is left. Entering a target right after another, changing the filter and flipping cost
their time, at the worth that the target has just then; after a rest only the filter counts, for the mount slewed in it.
"""

from dataclasses import dataclass

import numpy as np

IDLE = -1


@dataclass(frozen=True, kw_only=True)
class FlowProblem:
    """What can be gained when. States are (target, filter, side), the sides of a target next to each other.

    Attributes
    ----------
    worth : ndarray, (states, slots)
        Gain of each slot, weighted with priority; 0 where the state cannot be used.
    target, need_index, side : ndarray of int, (states,)
        Target and need (target and filter, both sides) of each state; side 0 or 1.
    need : ndarray, (needs,)
        Gain that is wanted at most, weighted like `worth`.
    change_cost, filter_cost, flip_cost : float
        Slots that it takes: to enter a target right after another; to begin a run on it with another filter or side;
        what a flip takes more than that. To enter a target takes no less than flip and filter together, for it may
        need both.
    minimum_block, minimum_run : int
        Slots that a target, and a state of it, keeps at least; a block is no shorter than a run.
    work_cost : ndarray, (states,)
        Value that each slot of work costs, like `worth`: a need is met in the best hours, not in just any.
    """

    worth: np.ndarray
    target: np.ndarray
    need_index: np.ndarray
    side: np.ndarray
    need: np.ndarray
    change_cost: float
    filter_cost: float
    flip_cost: float
    minimum_block: int
    minimum_run: int
    work_cost: np.ndarray

    @property
    def least_rest(self) -> int:
        """Slots between two blocks that are not joined: long enough to enter the next target meanwhile."""
        return max(1, int(np.ceil(self.change_cost - 1e-9)))

    @property
    def time_value(self) -> np.ndarray:
        """What a slot of each target is worth at most, whatever the filter and side, (targets, slots)."""
        value = np.zeros((int(self.target.max(initial=-1)) + 1, self.worth.shape[1]))
        np.maximum.at(value, self.target, self.worth)
        return value


def plan_value(problem: FlowProblem, state: np.ndarray) -> float:
    """Return the value of a sequence of states (slots,); minus infinity if it breaks a rule of the problem."""
    if not _allowed(problem, state):
        return -np.inf
    gained = np.zeros(len(problem.need))
    time_value = problem.time_value
    lost, before = 0.0, IDLE
    for slot, now in enumerate(state):
        if now != IDLE:
            gained[problem.need_index[now]] += problem.worth[now, slot]
            lost += problem.work_cost[now]
            lost += _cost(problem, before, now, slot) * time_value[problem.target[now], slot]
        before = now
    return float(np.minimum(gained, problem.need).sum() - lost)


def _cost(problem: FlowProblem, before: int, now: int, slot: int) -> float:
    """Return the slots that it takes to come from one state to another; from rest, only the filter."""
    if before == now:
        return 0.0
    if before == IDLE:
        return problem.filter_cost
    if problem.target[before] != problem.target[now]:
        return problem.change_cost
    return problem.filter_cost + (problem.flip_cost if problem.side[before] != problem.side[now] else 0.0)


def _allowed(problem: FlowProblem, state: np.ndarray) -> bool:
    """Say whether all slots can be used and no block or run is too short."""
    used = state != IDLE
    if np.any(problem.worth[state[used], np.flatnonzero(used)] <= 0):
        return False
    target = np.where(used, problem.target[state], IDLE)
    if any(value == IDLE and 0 < start < len(state) - length and length < problem.least_rest
           for value, start, length in runs(state)):
        return False
    return all(value == IDLE or length >= least
               for values, least in ((target, problem.minimum_block), (state, problem.minimum_run))
               for value, _, length in runs(values))


def runs(values: np.ndarray) -> list[tuple[int, int, int]]:
    """Return (value, start, length) of each stretch of equal values."""
    starts = np.flatnonzero(np.append(True, values[1:] != values[:-1]))
    lengths = np.diff(np.append(starts, len(values)))
    return [(int(values[start]), int(start), int(length)) for start, length in zip(starts, lengths, strict=True)]
