"""The best path through the night where each run of a need costs a charge.

One pass through the boundaries of the slots (dynamic programming) over whole runs, exact with runs and blocks of least
length. Only that a need is worked on once is left out; the charges stand for it. Whatever they are, the best path's
worth plus the sum of the charges is a proven upper bound of every plan (Lagrange): a plan pays each charge once at
most.
"""

import numpy as np

from planner.session.optimum.problem import NEVER, FlowProblem, Run

CLOSE = 1e-9  # values of the table that are one


class PathFinder:
    """Finds best paths of one problem at any charges; what does not depend on them is prepared once."""

    def __init__(self, problem: FlowProblem) -> None:
        self.problem = problem
        self.run, self.block, self.rest = problem.minimum_run, problem.minimum_block, problem.least_rest
        self.ages = self.block - self.run + 1  # of a block at the end of a run: run .. block slots or more
        self.changed, self.kept = problem.entered
        members = np.bincount(problem.group)
        self.grid = np.full((len(members), members.max()), -1)  # rows of each group, -1 where it has fewer
        for group, count in enumerate(members):
            self.grid[group, :count] = np.flatnonzero(problem.group == group)
        self.slack = float(problem.tie.max(initial=0.0)) * problem.slots  # what ties may cost a plan at most
        self.levels = np.zeros((2, problem.slots + 1))  # of the last best path: to be at, and to get to, a boundary

    def best(self, charge: np.ndarray) -> tuple[list[Run], float]:
        """Return the runs of the best path at charges (needs,), in order of time, and the bound that it proves."""
        table = _Table(self, charge[self.problem.need_index])
        for slot in range(self.problem.slots + 1):
            self._stand(table, slot)
            if slot + self.run <= self.problem.slots:
                self._go_on(table, slot)
        self.levels = np.stack([np.maximum(table.ended, table.rested),
                                np.where(table.ended > NEVER / 2, table.ended, table.rested)])
        return self._back(table), float(table.rested[-1] + charge.sum()) + self.slack

    def _stand(self, table: "_Table", slot: int) -> None:
        """Say what it is worth to have ended a block at a boundary, and to be at rest there."""
        table.ended[slot] = table.value[-1, :, slot].max()
        before = 0.0 if slot == 0 else table.rested[slot - 1]
        last = slot == self.problem.slots
        ready = table.ended[max(0, slot - self.rest):slot + 1].max() if last else (
            table.ended[slot - self.rest] if slot >= self.rest else NEVER)
        table.rested[slot] = max(before, ready)
        worked = np.where(self.grid >= 0, table.value[:, :, slot][:, self.grid], NEVER)  # (ages, groups, members)
        others = np.full_like(worked, NEVER)
        np.maximum(others[..., 1:], np.maximum.accumulate(worked, axis=2)[..., :-1], out=others[..., 1:])
        np.maximum(others[..., :-1], np.maximum.accumulate(worked[..., ::-1], axis=2)[..., -2::-1],
                   out=others[..., :-1])
        # Of blocks that are at least so old: what an age can do, a greater one can.
        table.after[slot][:, self.grid[self.grid >= 0]] = np.maximum.accumulate(
            others[::-1], axis=0)[::-1][:, self.grid >= 0]

    def _go_on(self, table: "_Table", slot: int) -> None:
        """Enter runs of all lengths from a boundary."""
        kept = self.kept[slot] - table.charge
        fresh = np.maximum(table.ended[slot] + self.changed[slot] - table.charge, table.rested[slot] + kept)
        self._reach(table, slot, fresh, 0)
        for age in range(max(1, self.ages - self.run)):
            self._reach(table, slot, table.after[slot][age][:, np.newaxis] + kept, age + self.run)
        if self.ages > self.run:
            self._reach(table, slot, table.after[slot][self.ages - self.run][:, np.newaxis] + kept, self.block)

    def _reach(self, table: "_Table", slot: int, worth: np.ndarray, old: int) -> None:
        """Take in what runs of all lengths are worth at their end, in a block that was so old before."""
        for length in range(self.run, min(self.block - old, self.problem.slots - slot + 1)):
            row = table.value[old + length - self.run, :, slot + length]
            np.maximum(row, worth[:, length - self.run], out=row)
        first = max(self.block - old, self.run)
        row = table.value[-1, :, slot + first:]
        np.maximum(row, worth[:, first - self.run:], out=row)

    def _back(self, table: "_Table") -> list[Run]:
        """Read the best path off the table, from its end."""
        found: list[Run] = []
        slot, rested = self.problem.slots, True
        while slot > 0:
            if rested:
                value = table.rested[slot]
                if table.rested[slot - 1] >= value - CLOSE:
                    slot -= 1
                    continue
                slot -= next(back for back in range(self.rest + 1) if table.ended[slot - back] >= value - CLOSE)
                if slot == 0:
                    break
            row, age = int(table.value[-1, :, slot].argmax()), self.ages - 1
            while True:
                start, age, rested = self._before(table, slot, row, age)
                found.append(Run(row, start, slot))
                slot = start
                if age < 0:
                    break
                row, age = self._row_before(table, slot, row, age)
        return found[::-1]

    def _before(self, table: "_Table", end: int, row: int, age: int) -> tuple[int, int, bool]:
        """Return where the run began that ends so, its block's least age before (-1: it began it), and if from rest."""
        value = table.value[age, row, end] - CLOSE
        for length in range(self.run, end + 1):
            start = end - length
            kept = self.kept[start][row, length - self.run] - table.charge[row, 0]
            if min(length, self.block) - self.run == age:
                if table.rested[start] + kept >= value:
                    return start, -1, True
                if table.ended[start] + self.changed[start][row, length - self.run] - table.charge[row, 0] >= value:
                    return start, -1, False
            for before in range(self.ages):
                if min(before + self.run + length, self.block) - self.run == age and (
                        table.after[start, before, row] + kept >= value):
                    return start, before, False
        raise RuntimeError("a value of the table must come from somewhere")

    def _row_before(self, table: "_Table", slot: int, row: int, least: int) -> tuple[int, int]:
        """Return row and age, `least` or more, of the run of the same group that ended at a boundary."""
        value = table.after[slot, least, row] - CLOSE
        others = [other for other in self.grid[self.problem.group[row]] if other not in (-1, row)]
        return next((int(other), age) for other in others for age in range(least, self.ages)
                    if table.value[age, other, slot] >= value)


class _Table:
    """Best values at every boundary: a run of a row just ended, by block age; after one of another row; ended; rested.

    `charge` (rows, 1) is what a run costs.
    """

    def __init__(self, finder: PathFinder, charge: np.ndarray) -> None:
        shape = finder.ages, len(charge), finder.problem.slots + 1
        self.charge = charge[:, np.newaxis]
        self.value = np.full(shape, NEVER)
        self.after = np.full((shape[2], shape[0], shape[1]), NEVER)
        self.ended, self.rested = np.full((2, shape[2]), NEVER)
