"""The best path through the night where needs are prices: the price of a need lowers the worth of what fills it.

One pass through the slots (dynamic programming), exact with blocks and runs of minimum length. Whatever the prices
between 0 and 1, the best path's value plus prices times needs is a proven upper bound of every plan (Lagrange), for
min(gain, need) <= (1 - price) gain + price need.
"""

from dataclasses import dataclass

import numpy as np

from planner.session.plan_problem import IDLE, FlowProblem

NEVER = -1e30


@dataclass(frozen=True, kw_only=True)
class PricedPath:
    """The best path at some prices, (slots,), and the bound that it proves."""

    state: np.ndarray
    bound: float


class PathFinder:
    """Finds best paths of one problem at any prices; what does not depend on prices is prepared once."""

    def __init__(self, problem: FlowProblem) -> None:
        self.problem = problem
        self.run, self.rest = problem.minimum_run, problem.least_rest
        self.ages = problem.minimum_block - problem.minimum_run + 1  # block ages minimum_run .. minimum_block
        self.slots = problem.worth.shape[1]
        self.group = 2 * problem.target + problem.side
        self.groups = int(self.group.max(initial=-1)) + 1
        self.minute_value = problem.time_value[problem.target]  # (states, slots)
        used = np.concatenate([np.zeros((len(problem.target), 1), int), np.cumsum(problem.worth > 0, axis=1)], axis=1)
        self.whole = used[:, self.run:] - used[:, :-self.run] == self.run  # can a run start here?

    def best(self, price: np.ndarray) -> PricedPath:
        """Return the best path at prices (needs,), 0 to 1."""
        problem = self.problem
        worth = problem.worth * (1 - price)[problem.need_index][:, np.newaxis] - problem.work_cost
        worth = np.where(problem.worth > 0, worth, NEVER)
        table = self._forward(worth)
        value = max(table.ended[-self.rest:].max(), table.rested[-1])
        return PricedPath(state=self._back(table, worth), bound=float(value + price @ problem.need))

    def _forward(self, worth: np.ndarray) -> "_Table":
        """Fill the table of best values at every boundary."""
        problem, run = self.problem, self.run
        table = _Table(self.slots, len(problem.target), self.ages)
        known = np.where(problem.worth > 0, worth, 0.0)
        sums = np.concatenate([np.zeros((len(worth), 1)), np.cumsum(known, axis=1)], axis=1)
        for k in range(self.slots + 1):
            at = table.working[k]
            table.ended[k] = at[:, -1].max(initial=NEVER)
            table.rested[k] = 0.0 if k == 0 else table.rested[k - 1]
            if k >= self.rest:
                table.rested[k] = max(table.rested[k], table.ended[k - self.rest])
            if k < self.slots:
                step = at + worth[:, k, None]
                onward = table.working[k + 1]
                np.maximum(onward[:, 1:], step[:, :-1], out=onward[:, 1:])
                np.maximum(onward[:, -1], step[:, -1], out=onward[:, -1])
            if k + run <= self.slots:
                brought = np.where(self.whole[:, k], sums[:, k + run] - sums[:, k], NEVER)
                begun = self._begun(table, k) + brought[:, None]
                np.maximum(table.working[k + run], begun, out=table.working[k + run])
        return table

    def _begun(self, table: "_Table", k: int) -> np.ndarray:
        """Return the value with which a run of each state begins at a boundary, by age at its end, (states, ages)."""
        problem, ages = self.problem, self.ages
        minute = self.minute_value[:, k]
        begun = np.full((len(minute), ages), NEVER)
        begun[:, 0] = np.maximum(table.ended[k] - problem.change_cost * minute,
                                 table.rested[k] - problem.filter_cost * minute)
        before = np.full((self.groups + self.groups % 2, ages), NEVER)
        np.maximum.at(before, self.group, table.working[k])
        other = before[self.group ^ 1] - (problem.flip_cost * minute)[:, None]
        changed = np.maximum(before[self.group], other) - (problem.filter_cost * minute)[:, None]
        shift = min(self.run, ages - 1)
        if shift:
            begun[:, shift:] = np.maximum(begun[:, shift:], changed[:, :ages - shift])
        begun[:, -1] = np.maximum(begun[:, -1], changed[:, max(ages - 1 - shift, 0):].max(axis=1))
        return begun

    def _back(self, table: "_Table", worth: np.ndarray) -> np.ndarray:
        """Read the best path off the table, from its end."""
        state = np.full(self.slots, IDLE)
        last = self.slots + 1 - self.rest + int(np.argmax(table.ended[-self.rest:]))
        at_rest = bool(table.rested[-1] >= table.ended[last])
        k = self.slots if at_rest else last
        while k > 0:
            if not at_rest:
                k, at_rest = self._block_back(table, worth, state, k)
            elif k >= self.rest and table.rested[k] == table.ended[k - self.rest]:
                k, at_rest = k - self.rest, False
            else:
                k -= 1
        return state

    def _block_back(self, table: "_Table", worth: np.ndarray, state: np.ndarray, k: int) -> tuple[int, bool]:
        """Fill in a block that ends at boundary k; return where it began, and whether from rest."""
        now, age = int(np.argmax(table.working[k, :, -1])), self.ages - 1
        while True:
            before = self._slot_back(table, worth, k, now, age)
            if before is not None:
                k -= 1
                state[k] = now
                now, age = before
                continue
            k -= self.run
            state[k:k + self.run] = now
            source = self._source(table, k, now, age)
            if isinstance(source, bool):
                return k, source
            now, age = source

    def _slot_back(self, table: "_Table", worth: np.ndarray, k: int, now: int, age: int) -> tuple[int, int] | None:
        """Return state and age one slot before if the best value came from there, None if a run began."""
        step = table.working[k - 1, now] + worth[now, k - 1]
        for earlier in (age - 1, age) if age == self.ages - 1 else (age - 1,):
            if earlier >= 0 and step[earlier] == table.working[k, now, age]:
                return now, earlier
        return None

    def _source(self, table: "_Table", k: int, now: int, age: int) -> tuple[int, int] | bool:
        """Return state and age from which a run began by a change of filter, else whether its block began from rest."""
        problem, minute = self.problem, self.minute_value[now, k]
        rested = table.rested[k] - problem.filter_cost * minute
        at_once = table.ended[k] - problem.change_cost * minute
        best = max(rested, at_once) if age == 0 else NEVER
        found: tuple[int, int] | bool = bool(rested >= at_once)
        last = self.ages - 1
        for earlier in range(self.ages):
            if min(earlier + self.run, last) != age:
                continue
            for side, cost in ((0, 0.0), (1, problem.flip_cost * minute)):
                members = np.flatnonzero(self.group == self.group[now] ^ side)
                values = table.working[k, members, earlier] - cost - problem.filter_cost * minute
                if members.size and values.max() > best:
                    best, found = values.max(), (int(members[np.argmax(values)]), earlier)
        return found


class _Table:
    """Best values at every boundary: in a state by block age, just ended, rested for a slot."""

    def __init__(self, slots: int, states: int, ages: int) -> None:
        self.working = np.full((slots + 1, states, ages), NEVER)
        self.ended = np.full(slots + 1, NEVER)
        self.rested = np.full(slots + 1, NEVER)
