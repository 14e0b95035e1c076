"""The best path through the night where needs are prices: the price of a need lowers the worth of what fills it.

One pass through the slots (dynamic programming) over whole runs, exact with blocks and runs of minimum length. A run
brings no more than its need however long it is: that is what makes the bound close where needs are a few slots, for
half of a run twice as long is then not half of a need met. Whatever the prices between 0 and 1, the best path's value
plus prices times needs is a proven upper bound of every plan (Lagrange): with c the sum over a need's runs of what
each brings so capped, min(gain, need) <= min(c, need) <= (1 - price) c + price need.
"""

from dataclasses import dataclass

import numpy as np

from planner.session.optimum.problem import IDLE, FlowProblem

NEVER = -1e30
NONE = -1  # no state
MOST_PRICE = 1 - 1e-9  # what cannot be used stays out at any price


@dataclass(frozen=True, kw_only=True)
class PricedPath:
    """The best path at some prices, (slots,); what its runs bring, (needs,); and the bound that it proves."""

    state: np.ndarray
    gained: np.ndarray
    bound: float


class PathFinder:
    """Finds best paths of one problem at any prices; what does not depend on prices is prepared once."""

    def __init__(self, problem: FlowProblem) -> None:
        self.problem = problem
        self.run, self.block, self.rest = problem.minimum_run, problem.minimum_block, problem.least_rest
        self.ages = self.block - self.run + 1  # of a block at the end of a run: run .. block slots or more
        self.slots = problem.worth.shape[1]
        self.state = _grid(problem)  # (targets and sides, members), NONE where a target has fewer than another
        flat, there = self.state.ravel(), self.state.ravel() != NONE
        minute = np.where(there, problem.time_value[problem.target[flat]].T, 0.0)  # (slots, places in the grid)
        self.change, self.band, self.flip = (
            cost * minute for cost in (problem.change_cost, problem.filter_cost, problem.flip_cost))
        self.need_index, self.work = problem.need_index[flat], problem.work_cost[flat]
        self.gains = _gains(problem, np.where(there[:, None], problem.worth[flat], 0.0), self.need_index)

    def best(self, price: np.ndarray) -> PricedPath:
        """Return the best path at prices (needs,), 0 to 1."""
        price = np.minimum(price, MOST_PRICE)
        table = _Table(self, (1 - price)[self.need_index])
        for slot in range(self.slots + 1):
            self._stand(table, slot)
            if slot + self.run <= self.slots:
                self._begin(table, slot)
                self._go_on(table, slot)
        value = max(table.ended[-self.rest:].max(), table.rested[-1])
        state, gained = self._back(table)
        return PricedPath(state=state, gained=gained, bound=float(value + price @ self.problem.need))

    def _stand(self, table: "_Table", slot: int) -> None:
        """Say what it is worth to end a block at a boundary, and to be at rest there."""
        worked = table.worked[slot]
        worked[:, :-1] = table.short[slot]
        worked[:, -1] = table.whole[:, slot]
        worked -= (table.work * slot)[:, None]
        table.ended[slot] = worked[:, -1].max()
        at_rest = 0.0 if slot == 0 else table.rested[slot - 1]
        table.rested[slot] = max(at_rest, table.ended[slot - self.rest]) if slot >= self.rest else at_rest

    def _begin(self, table: "_Table", slot: int) -> None:
        """Say what it is worth to begin a run of each state at a boundary: of a new block, or after a run in it."""
        table.fresh[slot] = np.maximum(table.ended[slot] - self.change[slot], table.rested[slot] - self.band[slot])
        worked = table.worked[slot].reshape(*self.state.shape, self.ages)
        after = np.empty_like(worked)
        up = np.maximum.accumulate(worked, axis=1)  # best of the members up to each
        down = np.maximum.accumulate(worked[:, ::-1], axis=1)[:, ::-1]
        turned = up[:, -1].reshape(-1, 2, self.ages)[:, ::-1].reshape(-1, 1, self.ages)
        np.subtract(turned, self.flip[slot].reshape(*self.state.shape, 1), out=after)
        _raise(after[:, 1:], up[:, :-1])
        _raise(after[:, :-1], down[:, 1:])
        after = after.reshape(-1, self.ages)
        after -= self.band[slot][:, None]
        # Of blocks that are at least so old: what an age can do, a greater one can.
        table.after[slot] = np.maximum.accumulate(after[:, ::-1], axis=1)[:, ::-1]

    def _go_on(self, table: "_Table", slot: int) -> None:
        """Enter runs of all lengths from a boundary."""
        gain = self.gains[slot] * table.share[:, None]  # from the shortest run on
        spent = table.work * slot
        fresh, after = table.fresh[slot] + spent, table.after[slot] + spent[:, None]
        for length in range(self.run, min(self.block, self.slots - slot + 1)):
            end, brought = slot + length, gain[:, length - self.run]
            _raise(table.short[end, :, length - self.run], fresh + brought)
            full = max(self.block - length - self.run, 0)  # ages from here on become a whole block
            for age in range(full):
                _raise(table.short[end, :, age + length], after[:, age] + brought)
            if full < self.ages:
                _raise(table.whole[:, end], after[:, full] + brought)
        long = gain[:, self.block - self.run:]
        long += np.maximum(fresh, after[:, 0])[:, None]
        _raise(table.whole[:, slot + self.block:], long)

    def _back(self, table: "_Table") -> tuple[np.ndarray, np.ndarray]:
        """Read the best path off the table, from its end; return it and what its runs bring."""
        state, gained = np.full(self.slots, IDLE), np.zeros(len(self.problem.need))
        last = self.slots + 1 - self.rest + int(np.argmax(table.ended[-self.rest:]))
        at_rest = bool(table.rested[-1] >= table.ended[last])
        slot = self.slots if at_rest else last
        while slot > 0:
            if at_rest:
                at_rest = not (slot >= self.rest and table.rested[slot] == table.ended[slot - self.rest])
                slot -= 1 if at_rest else self.rest
                continue
            now, age = self._ended_last(table, slot)
            while not at_rest:
                length, age = self._length_back(table, slot, now, age)
                slot -= length
                state[slot:slot + length] = self.state.flat[now]
                gained[self.need_index[now]] += self.gains[slot][now, length - self.run]
                if age >= 0:
                    now, age = self._before(table, slot, now, age)
                elif table.rested[slot] - self.band[slot, now] == table.fresh[slot, now]:
                    at_rest = True
                else:
                    now, age = self._ended_last(table, slot)
        return state, gained

    def _ended_last(self, table: "_Table", slot: int) -> tuple[int, int]:
        """Return the place and age of the best block that ended at a boundary."""
        return int(np.argmax(table.worked[slot][:, -1])), self.ages - 1

    def _length_back(self, table: "_Table", end: int, now: int, age: int) -> tuple[int, int]:
        """Return how long the run was that ends so, and how old its block was before at least, -1 if it began it."""
        value = table.whole[now, end] if age == self.ages - 1 else table.short[end, now, age]
        for length in range(self.run, end + 1):
            slot = end - length
            brought = self.gains[slot][now, length - self.run] * table.share[now]
            if brought < 0:
                break  # beyond what can be used
            reached = min(length, self.block) - self.run
            if reached == age and table.fresh[slot, now] + table.work[now] * slot + brought == value:
                return length, -1
            before = max(self.block - length - self.run, 0) if age == self.ages - 1 else age - length
            if 0 <= before < self.ages and table.after[slot, now, before] + table.work[now] * slot + brought == value:
                return length, before
        raise AssertionError("a value of the table must come from somewhere")

    def _before(self, table: "_Table", slot: int, now: int, least: int) -> tuple[int, int]:
        """Return place and age, `least` or more, of the run that ended at a boundary before one of the same target."""
        value, worked = table.after[slot, now, least], table.worked[slot]
        members = self.state.shape[1]
        group = now // members
        for which, cost in ((group, 0.0), (group ^ 1, self.flip[slot, now])):
            for age in range(least, self.ages):
                for place in range(which * members, which * members + members):
                    if place != now and worked[place, age] - cost - self.band[slot, now] == value:
                        return place, age
        raise AssertionError("a value of the table must come from somewhere")


class _Table:
    """Best values at every boundary: a run of a state just ended, by block age; any block ended; at rest.

    `short` and `whole`, for blocks younger than the least and for the rest, hold what the work costs up to there on
    top; `worked` is both without it. `fresh` and `after` say with what a run begins, of a new block or in one that is
    at least so old.
    """

    def __init__(self, finder: PathFinder, share: np.ndarray) -> None:
        slots, states, ages = finder.slots, finder.state.size, finder.ages
        self.share, self.work = share, finder.work
        self.worked = np.full((slots + 1, states, ages), NEVER)
        self.short = np.full((slots + 1, states, ages - 1), NEVER)
        self.whole = np.full((states, slots + 1), NEVER)
        self.fresh = np.full((slots + 1, states), NEVER)
        self.after = np.full((slots + 1, states, ages), NEVER)
        self.ended, self.rested = np.full(slots + 1, NEVER), np.full(slots + 1, NEVER)


def _grid(problem: FlowProblem) -> np.ndarray:
    """Return the states of each target and side in a row, NONE at the end of those that have fewer than another."""
    group = 2 * problem.target + problem.side
    found = [np.flatnonzero(group == which) for which in range(2 * (int(problem.target.max(initial=-1)) + 1))]
    grid = np.full((len(found), max(map(len, found), default=0)), NONE)
    for row, members in zip(grid, found, strict=True):
        row[:len(members)] = members
    return grid


def _gains(problem: FlowProblem, worth: np.ndarray, need_index: np.ndarray) -> list[np.ndarray]:
    """Return what runs from each boundary bring, (places, lengths from the shortest on), NEVER where one cannot be."""
    sums, used = (np.concatenate([np.zeros((len(worth), 1)), np.cumsum(part, axis=1)], axis=1)
                  for part in (worth, worth > 0))
    need, gains = problem.need[need_index][:, None], []
    for slot in range(worth.shape[1] - problem.minimum_run + 1):
        ends = slice(slot + problem.minimum_run, None)
        usable = used[:, ends] - used[:, slot, None] == np.arange(used.shape[1])[ends] - slot
        gains.append(np.where(usable, np.minimum(sums[:, ends] - sums[:, slot, None], need), NEVER))
    return gains


def _raise(values: np.ndarray, to: np.ndarray) -> None:
    """Raise values, in place, to others where those are greater."""
    np.maximum(values, to, out=values)
