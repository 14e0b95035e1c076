"""The plan as a flow through time, for HiGHS: a mixed-integer program over chosen states and slots.

A node is a target on one side of the pier at the boundary of two slots. Work through one filter leads to the next
boundary, a flip to the other side, an end to the place from which any target can be entered, at once or after a rest.
One unit flows from dusk to dawn. A run of a state begins where its work exceeds that of the slot before.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from planner.session.optimum.problem import IDLE, FlowProblem

NO_COLUMN = -1
UNUSED = 0.5  # a binary below this is 0
Values = float | np.ndarray


@dataclass(frozen=True, kw_only=True)
class Program:
    """Columns and rows: minimise cost x with lower <= matrix x <= upper, 0 <= x <= most."""

    cost: np.ndarray
    matrix: Any  # scipy.sparse.csr_array
    lower: np.ndarray
    upper: np.ndarray
    most: np.ndarray
    whole: np.ndarray  # 1 where a column must be a whole number
    work: np.ndarray  # column of each state and slot, NO_COLUMN where it is not offered
    need_rows: np.ndarray

    def states(self, columns: np.ndarray) -> np.ndarray:
        """Return the state of each slot, (slots,), from the values of the columns."""
        worked = np.where(self.work == NO_COLUMN, 0.0, columns[self.work])
        return np.where(worked.max(axis=0, initial=0.0) > UNUSED, worked.argmax(axis=0), IDLE)


class _Builder:
    """Gathers columns and rows."""

    def __init__(self) -> None:
        self.cost: list[np.ndarray] = []
        self.most: list[np.ndarray] = []
        self.whole: list[np.ndarray] = []
        self.lower: list[np.ndarray] = []
        self.upper: list[np.ndarray] = []
        self.entries: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
        self.columns = self.rows = 0

    def column(self, where: np.ndarray, cost: Values = 0.0, most: Values = 1.0, whole: int = 1) -> np.ndarray:
        """Add a column wherever `where` is true; return their numbers in its shape."""
        number, count = np.full(where.shape, NO_COLUMN), int(where.sum())
        number[where] = self.columns + np.arange(count)
        self.cost.append(np.broadcast_to(cost, where.shape)[where])
        self.most.append(np.broadcast_to(most, where.shape)[where])
        self.whole.append(np.full(count, whole))
        self.columns += count
        return number

    def row(self, where: np.ndarray, lower: Values = 0.0, upper: Values = 0.0) -> np.ndarray:
        """Add a row wherever `where` is true; return their numbers in its shape."""
        number, count = np.full(where.shape, NO_COLUMN), int(where.sum())
        number[where] = self.rows + np.arange(count)
        self.lower.append(np.broadcast_to(lower, where.shape)[where])
        self.upper.append(np.broadcast_to(upper, where.shape)[where])
        self.rows += count
        return number

    def enter(self, rows: np.ndarray, columns: np.ndarray, value: Values = 1.0) -> None:
        """Enter values where both the row and the column exist."""
        at, of, entry = np.broadcast_arrays(rows, columns, value)
        there = (at != NO_COLUMN) & (of != NO_COLUMN)
        self.entries.append((at[there], of[there], entry[there].astype(float)))

    def matrix(self) -> Any:
        """Return the sparse matrix; entries at one place add up."""
        from scipy import sparse

        rows, columns, values = (np.concatenate(part) for part in zip(*self.entries, strict=True))
        return sparse.csr_array((values, (rows, columns)), shape=(self.rows, self.columns))


def flow_program(problem: FlowProblem, offered: np.ndarray) -> Program:
    """Return the program that may use the states and slots `offered`, bool (states, slots)."""
    build, slots = _Builder(), problem.worth.shape[1]
    offered = offered & (problem.worth > 0)
    group = 2 * problem.target + problem.side
    groups = 2 * (int(problem.target.max(initial=-1)) + 1)
    up = np.zeros((groups, slots + 1), bool)
    np.logical_or.at(up[:, :-1], group, offered)
    minute = np.zeros((groups, slots + 1))
    minute[:, :-1] = np.repeat(problem.time_value, 2, axis=0)
    work = build.column(offered, cost=problem.work_cost[:, np.newaxis])
    gain = build.column(np.ones(len(problem.need), bool), cost=-1.0, most=problem.need, whole=0)
    needs = build.row(np.ones(len(problem.need), bool), lower=-np.inf)
    build.enter(needs, gain)
    build.enter(needs[problem.need_index][:, None], work, -problem.worth)
    starts = _flow(build, problem, work, group, up, minute)
    _runs(build, problem, work, offered)
    _least(build, starts.reshape(2, groups // 2, 2, slots + 1).transpose(0, 2, 1, 3).reshape(4, groups // 2, slots + 1),
           _by(problem.target, work, groups // 2), problem.minimum_block)
    return Program(cost=np.concatenate(build.cost), matrix=build.matrix(), lower=np.concatenate(build.lower),
                   upper=np.concatenate(build.upper), most=np.concatenate(build.most),
                   whole=np.concatenate(build.whole), work=work, need_rows=needs)


def _flow(build: _Builder, problem: FlowProblem, work: np.ndarray, group: np.ndarray, up: np.ndarray,
          minute: np.ndarray) -> np.ndarray:
    """Add starts, ends, flips and rests with their balance; return the columns of starts, (2, groups, slots + 1)."""
    slots = work.shape[1]
    over = np.zeros_like(up)
    over[:, 1:] = up[:, :-1]  # a slot of it ends at this boundary
    twin = np.arange(len(up)) ^ 1
    at_once = build.column(up, cost=(problem.change_cost - problem.filter_cost) * minute)
    rested = build.column(up)
    end = build.column(over)
    flip = build.column(over & up[twin], cost=problem.flip_cost * minute)
    node = build.row(up | over)
    build.enter(node[group, :-1], work)
    build.enter(node[group, 1:], work, -1.0)
    build.enter(node, at_once, -1.0)
    build.enter(node, rested, -1.0)
    build.enter(node, end)
    build.enter(node, flip)
    build.enter(node[twin], flip, -1.0)
    every = np.ones(slots, bool)
    from_end, rest = build.column(every), build.column(every)
    ended = build.row(every)
    waiting = build.row(every, lower=np.eye(1, slots)[0], upper=np.eye(1, slots)[0])
    build.enter(ended, end[:, :-1])
    build.enter(ended, at_once[:, :-1], -1.0)
    build.enter(ended, from_end, -1.0)
    build.enter(waiting, rested[:, :-1])
    build.enter(waiting, rest)
    build.enter(waiting[1:], rest[:-1], -1.0)
    build.enter(waiting[problem.least_rest:], from_end[:-problem.least_rest], -1.0)
    return np.stack([at_once, rested])


def _runs(build: _Builder, problem: FlowProblem, work: np.ndarray, offered: np.ndarray) -> None:
    """Add the beginnings of runs in each state, with their cost and least length."""
    begin = build.column(offered, cost=problem.filter_cost * problem.time_value[problem.target])
    rows = build.row(offered, lower=-np.inf)
    build.enter(rows, work)
    build.enter(rows, begin, -1.0)
    build.enter(rows[:, 1:], work[:, :-1], -1.0)
    _least(build, begin[np.newaxis], work[np.newaxis], problem.minimum_run)


def _by(index: np.ndarray, columns: np.ndarray, count: int) -> np.ndarray:
    """Return columns (states, slots) as (members, count, slots), members of one index above each other."""
    members = np.bincount(index, minlength=count).max(initial=0)
    stacked = np.full((members, count, columns.shape[1]), NO_COLUMN)
    place = np.zeros(count, int)
    for state, which in enumerate(index):
        stacked[place[which], which] = columns[state]
        place[which] += 1
    return stacked


def _least(build: _Builder, starts: np.ndarray, work: np.ndarray, length: int) -> None:
    """Keep at work for so many slots after a start: starts (m, items, slots or more), work (n, items, slots)."""
    if length < 2:
        return
    slots = work.shape[2]
    started = (starts[:, :, :slots] != NO_COLUMN).any(axis=0)
    due = np.zeros((started.shape[0], slots + length), bool)
    for later in range(length):
        due[:, later:later + slots] |= started
    rows = build.row(due, lower=-np.inf)
    for later in range(length):
        build.enter(rows[:, later:later + slots], starts[:, :, :slots])
    build.enter(rows[:, :slots], work, -1.0)
