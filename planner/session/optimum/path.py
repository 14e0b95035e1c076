"""The best path through the night where each run of a need costs a charge.

One pass through the boundaries of the slots (dynamic programming) over whole runs, exact with runs and blocks of least
length. That a need is worked on once is kept for the needs that are named; for the others the charges stand for it.
Whatever they are, the best path's worth plus the sum of the charges is a proven upper bound of every plan (Lagrange): a
plan pays each charge once at most. The same pass from the end of the night tells which runs no good plan can use.
"""

from dataclasses import dataclass

import numpy as np

from planner.session.optimum.problem import NEVER, FlowProblem, Run

CLOSE = 1e-9  # values of the table that are one


@dataclass(frozen=True)
class _Ways:
    """Runs from one boundary, of lengths from `first` on: worth changing the target and keeping it, (lengths, rows)."""

    rows: slice  # their places in the finder
    first: int
    changed: np.ndarray
    kept: np.ndarray

    @property
    def lengths(self) -> np.ndarray:
        """Slots of the runs, (lengths,)."""
        return np.arange(self.first, self.first + len(self.kept))


class PathFinder:
    """Finds best paths of one problem at any charges; what does not depend on them is prepared once.

    The age of a block at the end of a run is told apart from the shortest run to the shortest block; that is the last.
    """

    def __init__(self, problem: FlowProblem, rows: np.ndarray | None = None, ways: list[_Ways] | None = None) -> None:
        """Take all runs of a problem, or those of some rows: `ways` from each boundary."""
        self.problem = problem
        self.limit: _Limit | None = None  # of what matters
        self.block, self.rest = problem.minimum_block, problem.least_rest
        self.run = problem.minimum_run if ways is None else min(
            (way.first for way in ways if way.kept.size), default=self.block)
        self.run = min(self.run, self.block)
        self.ages = self.block - self.run + 1
        self.rows = np.flatnonzero((problem.gain > 0).any(axis=1)) if rows is None else rows
        group = problem.group[self.rows]
        same = (group[:, np.newaxis] == group) & ~np.eye(len(group), dtype=bool)
        most = max(1, int(same.sum(axis=1).max(initial=0)))
        order = np.argsort(~same, axis=1, kind="stable")[:, :most]
        self.others = np.where(np.take_along_axis(same, order, axis=1), order, len(group))  # of a row's group; no row
        self.slack = float(problem.tie.max(initial=0.0)) * problem.slots  # what ties may cost a plan at most
        self.ways = ways if ways is not None else [
            _Ways(slice(0, len(group)), self.run, *(worth[:, self.rows] for worth in both))
            for both in zip(*problem.entered, strict=True)]
        self.levels = np.zeros((2, problem.slots + 1))  # of the last best path: to be at, and to get to, a boundary

    def size(self, once: int) -> int:
        """Return how many values the table has where so many needs are worked on once."""
        return (self.problem.slots + 1) * self.ages * (len(self.rows) + 1) << once

    def best(self, charge: np.ndarray, once: list[int] | None = None) -> tuple[list[Run], float]:
        """Return the runs of the best path at charges (needs,), in order of time, and the bound that it proves.

        `once`: needs that the path works on once at most. Of a finder of some runs: at the charges that chose them.
        """
        table = self._forward(charge, once or [])
        ended, rested = table.ended[:, :-1].max(axis=1), table.rested[:, :-1].max(axis=1)
        self.levels = np.stack([np.maximum(ended, rested), np.where(ended > NEVER / 2, ended, rested)])
        last = table.rested[-1, :-1] + table.paid
        done = int(last.argmax())
        return self._back(table, done), float(last[done]) + self.slack

    def among(self, charge: np.ndarray, least: float) -> "PathFinder":
        """Return a finder of the runs alone that a plan worth `least` may use, as charges (needs,) prove."""
        table = self._forward(charge, [])
        onward, rested_onward = self._onward(table.cost)
        least -= float(charge.sum()) + self.slack
        found: list[tuple[np.ndarray, _Ways]] = []
        for slot, way in enumerate(self.ways):
            fresh, old, young = self._ends(onward, slot, way)
            ended, rested, after = (values[..., 0] for values in self._starts(table, slot, way, np.zeros(1, int)))
            most = np.maximum(np.maximum(ended + way.changed, rested + way.kept) + fresh,
                              after[self._joinable(way.lengths)] + way.kept + old)
            place, age = self._young(way)
            np.maximum.at(most, place, after[age] + way.kept[place] + young)
            found.append((most >= least, way))
        used = np.zeros(len(self.rows), bool)
        for good, way in found:
            used[way.rows] |= good.any(axis=0)
        finder = PathFinder(self.problem, self.rows[used], [_cut(way, good, used) for good, way in found])
        finder.limit = _Limit(least, onward[:, finder.run - self.run:, :-1][..., used, np.newaxis], rested_onward)
        return finder

    def _forward(self, charge: np.ndarray, once: list[int]) -> "_Table":
        table = _Table(self, charge, once)
        for slot in range(self.problem.slots + 1):
            self._stand(table, slot)
            if slot < len(self.ways) and self.ways[slot].kept.size:
                done = self._matter(table, slot) if once else np.zeros(1, int)
                if done.size:
                    self._go_on(table, slot, self.ways[slot], done)
        return table

    def _matter(self, table: "_Table", slot: int) -> np.ndarray:
        """Return what may be done at a boundary in a path worth going on with."""
        if self.limit is None:
            return np.arange(len(table.paid))
        worked = (table.value[slot, :, :-1, :-1] + self.limit.onward[slot] >= self.limit.least).any(axis=(0, 1))
        return np.flatnonzero(worked | (table.rested[slot, :-1] + self.limit.rested[slot] >= self.limit.least))

    def _stand(self, table: "_Table", slot: int) -> None:
        """Say what it is worth to have ended a block at a boundary, and to be at rest there."""
        table.ended[slot, :-1] = table.value[slot, -1, :, :-1].max(axis=0)
        if slot == self.problem.slots:
            ready = table.ended[max(0, slot - self.rest):].max(axis=0)
        else:
            ready = table.ended[slot - self.rest] if slot >= self.rest else np.full_like(table.ended[0], NEVER)
        table.rested[slot] = np.maximum(ready, table.rested[slot - 1] if slot else table.rested[0])

    def _go_on(self, table: "_Table", slot: int, way: _Ways, done: np.ndarray) -> None:
        """Enter runs from a boundary where some of what can be done is done, (done,)."""
        ended, rested, after = self._starts(table, slot, way, done)
        changed, kept = way.changed[:, :, np.newaxis], way.kept[:, :, np.newaxis]
        long, own = max(0, self.block - way.first), table.own[way.rows]  # from there on a run alone makes an old block
        rows, then = np.arange(len(self.rows))[way.rows, np.newaxis], np.where(done & own, -1, done | own)

        def reach(ends: np.ndarray, worth: np.ndarray) -> None:  # (lengths, rows, done)
            if len(table.paid) == 1:
                np.maximum(ends[:, way.rows, :1], worth, out=ends[:, way.rows, :1])
            else:
                ends[:, rows, then] = np.maximum(ends[:, rows, then], worth)

        ends = table.value[slot + way.first:slot + way.first + len(kept), -1]
        reach(ends[long:], np.maximum(ended + changed[long:], np.maximum(rested, after[0]) + kept[long:]))
        if long:
            length, (place, age) = way.lengths[:long], self._young(way)
            reach(ends[:long], after[self._joinable(length)] + kept[:long])
            for ends, old, worth in ((slot + length, length - self.run, np.maximum(
                    ended + changed[:long], rested + kept[:long])), (
                    slot + place + way.first, age + place + way.first, after[age] + kept[place])):
                at = ends[:, np.newaxis, np.newaxis], old[:, np.newaxis, np.newaxis], rows, then
                table.value[at] = np.maximum(table.value[at], worth)

    def _starts(self, table: "_Table", slot: int, way: _Ways, done: np.ndarray
                ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return what it is worth to enter runs after a block, from rest, (rows, done), and in a block by its age."""
        others = table.value[slot][:, self.others[way.rows, :, np.newaxis], done].max(axis=2)
        # Of blocks that are at least so old: what an age can do, a greater one can.
        after = np.maximum.accumulate(others[::-1], axis=0)[::-1]
        ended, rested = table.ended[slot, done], table.rested[slot, done]
        cost = table.cost[way.rows]
        return ended - cost, rested - cost, after - cost

    def _joinable(self, lengths: np.ndarray) -> np.ndarray:
        """Return the least age of a block that is old at the end of a further run of such lengths."""
        return np.maximum(self.block - lengths - self.run, 0)

    def _young(self, way: _Ways) -> tuple[np.ndarray, np.ndarray]:
        """Return the places of runs, and the ages of blocks that are still young when they end."""
        lengths = way.lengths[:max(0, self.block - self.run - way.first), np.newaxis]
        place, age = np.nonzero(np.arange(self.ages - 1) + lengths < self.ages - 1)
        return place, age

    def _onward(self, cost: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return what may come after a run of a row that ends at a boundary, (slots + 1, ages, rows + 1), or a rest."""
        slots, rested = self.problem.slots, np.zeros(self.problem.slots + 2)
        onward = np.full((slots + 1, self.ages, len(self.rows) + 1), NEVER)
        for slot in range(slots, -1, -1):
            rested[slot] = rested[slot + 1]
            ended, further = rested[min(slot + self.rest, slots)], np.full(onward.shape[1:], NEVER)
            if slot < len(self.ways) and self.ways[slot].kept.size:
                way = self.ways[slot]
                changed, kept = way.changed - cost[way.rows, 0], way.kept - cost[way.rows, 0]
                fresh, old, young = self._ends(onward, slot, way)
                ended, rested[slot] = max(ended, (changed + fresh).max()), max(rested[slot], (kept + fresh).max())
                best = np.maximum.accumulate((kept + old)[::-1], axis=0)[::-1]
                first = np.maximum(self.block - self.run - np.arange(self.ages) - way.first, 0)
                there = np.flatnonzero(first < len(best))
                further[there, way.rows] = best[first[there]]
                place, age = self._young(way)
                np.maximum.at(further[:, way.rows], age, kept[place] + young)
            onward[slot, :, :-1] = further[:, self.others].max(axis=2)
            onward[slot, -1, :-1] = np.maximum(onward[slot, -1, :-1], ended)
        return onward, rested

    def _ends(self, onward: np.ndarray, slot: int, way: _Ways) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return what comes after runs that begin a block, that end an old one, (lengths, rows), or a young one."""
        old = onward[slot + way.first:slot + way.first + len(way.kept), -1, way.rows]
        length, (place, age) = way.lengths[:max(0, self.block - way.first)], self._young(way)
        fresh = np.concatenate([onward[slot + length, length - self.run, way.rows], old[len(length):]])
        return fresh, old, onward[slot + place + way.first, age + place + way.first, way.rows]

    def _back(self, table: "_Table", done: int) -> list[Run]:
        """Read the best path off the table, from its end."""
        found: list[Run] = []
        slot, rested = self.problem.slots, True
        while slot > 0:
            if rested:
                value = table.rested[slot, done] - CLOSE
                if table.rested[slot - 1, done] >= value:
                    slot -= 1
                    continue
                waits = range(self.rest + 1) if slot == self.problem.slots else (self.rest,)
                slot -= next(back for back in waits if table.ended[slot - back, done] >= value)
                if slot == 0:
                    break
            row, age = int(table.value[slot, -1, :-1, done].argmax()), self.ages - 1
            while True:
                start, age, rested = self._before(table, slot, row, age, done)
                found.append(Run(int(self.rows[row]), start, slot))
                slot, done = start, done & ~int(table.own[row, 0])
                if age < 0:
                    break
                row, age = self._row_before(table, slot, row, age, done)
        return found[::-1]

    def _before(self, table: "_Table", end: int, row: int, age: int, done: int) -> tuple[int, int, bool]:
        """Return where the run began that ends so, its block's least age before (-1: it began it), and if from rest."""
        value, cost = table.value[end, age, row, done] - CLOSE, table.cost[row, 0]
        before = done & ~int(table.own[row, 0])
        for start in range(end - self.run, -1, -1):
            way, length = self.ways[start], end - start
            place, at = length - way.first, row - way.rows.start
            if not (0 <= place < len(way.kept) and 0 <= at < way.kept.shape[1]):
                continue
            changed, kept = (float(worth[place, at]) - cost for worth in (way.changed, way.kept))
            if kept < NEVER / 2:
                continue
            if min(length, self.block) - self.run == age:
                if table.rested[start, before] + kept >= value:
                    return start, -1, True
                if table.ended[start, before] + changed >= value:
                    return start, -1, False
            others = table.value[start, :, self.others[row], before].max(axis=0)
            for earlier in range(self.ages):
                if min(earlier + self.run + length, self.block) - self.run == age and (
                        others[earlier:].max() + kept >= value):
                    return start, earlier, False
        raise RuntimeError("a value of the table must come from somewhere")

    def _row_before(self, table: "_Table", slot: int, row: int, least: int, done: int) -> tuple[int, int]:
        """Return row and age, `least` or more, of the run of the same group that ended at a boundary."""
        worth = table.value[slot, least:, self.others[row], done]  # (others, ages)
        other, age = np.unravel_index(int(worth.argmax()), worth.shape)
        return int(self.others[row, other]), least + int(age)


@dataclass(frozen=True)
class _Limit:
    """What a path must be worth, less all charges; what may come after runs, (slots + 1, ages, rows, 1), and rests."""

    least: float
    onward: np.ndarray
    rested: np.ndarray


def _cut(way: _Ways, good: np.ndarray, used: np.ndarray) -> _Ways:
    """Return good runs (lengths, rows) of ways, in rows numbered anew without those that are not used."""
    own, number = used[way.rows], np.cumsum(used) - 1
    good, changed, kept = (part[:, own] for part in (good, way.changed, way.kept))
    lengths, rows = np.flatnonzero(good.any(axis=1)), np.flatnonzero(good.any(axis=0))
    if not lengths.size:
        return _Ways(slice(0, 0), way.first, changed[:0, :0], kept[:0, :0])
    first, part = number[way.rows][own][0], (slice(lengths[0], lengths[-1] + 1), slice(rows[0], rows[-1] + 1))
    return _Ways(slice(int(first + rows[0]), int(first + rows[-1] + 1)), way.first + int(lengths[0]),
                 *(np.where(good, worth, NEVER)[part] for worth in (changed, kept)))


class _Table:
    """Best values at every boundary: a run of a row just ended, by block age; ended; rested.

    All by which of the needs `once` are done, as the bits of a number; the last place is for what cannot be. `own`
    (rows, 1) is the bit of a row's need, `cost` (rows, 1) what a run costs, `paid` (done,) the charges of what is done.
    """

    def __init__(self, finder: PathFinder, charge: np.ndarray, once: list[int]) -> None:
        boundaries, rows, done = finder.problem.slots + 1, len(finder.rows), np.arange(1 << len(once))
        need = finder.problem.need_index[finder.rows]
        bit = np.zeros(len(charge), int)
        bit[once] = 1 << np.arange(len(once))
        self.own, self.cost = bit[need][:, np.newaxis], charge[need][:, np.newaxis]
        left = (done[:, np.newaxis] & bit[once]) == 0
        self.paid = charge.sum() - left @ charge[once]
        self.value = np.full((boundaries, finder.ages, rows + 1, len(done) + 1), NEVER)
        self.ended, self.rested = np.full((2, boundaries, len(done) + 1), NEVER)
        self.rested[0, 0] = 0.0
