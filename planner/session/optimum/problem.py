"""The plan as a problem on plain floats: what each row brings in each slot, and what a sequence of runs is worth.

A need is a target through one filter. A row is a need with one way to change the side of the pier: late or early. A run
is a stretch of slots on one row; a need is worked on once a night, in one run. Entering a target right after another
and changing the filter cost their time, in which nothing is gained; after a rest only the filter counts, for the mount
slewed in it. The worth of a need grows as its signal-to-noise does, with the square root of its hours over those
wanted, so that first hours count most.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

NEVER = -1e30
SHORT = 0.25  # of a slot that a run may be shorter: a change of filter takes less
TIE = 5e-4  # of a need's worth, for the slots it takes: among equals it is met in its best hours


@dataclass(frozen=True, kw_only=True)
class Worth:
    """What hours are worth, by need: weight x (sqrt((done + gained) / wanted) - sqrt(done / wanted)), (needs,) each.

    `left` is what can be gained so; beyond it nothing is worth anything. `done` may hold hours that other nights are
    expected to bring: `spare` of them may be gained as well, at `price` each, for what those nights can do instead.
    `hourly` is what each hour of `left` is worth on top.
    """

    weight: np.ndarray
    wanted: np.ndarray
    done: np.ndarray
    left: np.ndarray
    hourly: np.ndarray | None = None
    spare: np.ndarray | None = None
    price: np.ndarray | None = None

    @property
    def most(self) -> np.ndarray:
        """Hours that can be gained in all, (needs,)."""
        return self.left if self.spare is None else self.left + self.spare

    def of(self, gained: np.ndarray, need: np.ndarray | slice = slice(None)) -> np.ndarray:
        """Return the worth of gained hours of some needs, of the shape that they broadcast to."""
        done, wanted = self.done[need], self.wanted[need]
        more = np.clip(gained, 0.0, self.left[need])
        worth = self.weight[need] * (np.sqrt((done + more) / wanted) - np.sqrt(done / wanted))
        if self.spare is not None and self.price is not None:
            worth = worth + self.price[need] * np.clip(gained - self.left[need], 0.0, self.spare[need])
        return worth if self.hourly is None else worth + self.hourly[need] * more

    def times(self, factor: float) -> "Worth":
        """Return the worth in another unit."""
        other = {name: given * factor for name in ("hourly", "price") if (given := getattr(self, name)) is not None}
        return replace(self, weight=self.weight * factor, **other)


@dataclass(frozen=True)
class Run:
    """Slots of one row, `end` excluded."""

    row: int
    start: int
    end: int


@dataclass(frozen=True, kw_only=True)
class FlowProblem:
    """What can be gained when."""

    # (rows, slots), equivalent hours of each slot; 0 where nothing can be gained. A run begins and ends where
    # something is.
    gain: np.ndarray
    # (rows,), target and way to change sides: within a group filters follow one another. Rows of a group are
    # together.
    group: np.ndarray
    target: np.ndarray  # (rows,)
    need_index: np.ndarray
    worth: Worth
    change_cost: float  # slots that it takes to enter a target right after another; to begin a run in another way
    filter_cost: float
    minimum_block: int  # slots that a target keeps at least; no shorter than any run
    least_run: np.ndarray  # (rows,), slots that a run keeps at least
    clock: np.ndarray | None = None  # (rows, slots), share of each that can be exposed: of it runs keep so much; all

    @cached_property
    def minimum_run(self) -> int:
        """Slots of the shortest run of any row."""
        return int(self.least_run.min(initial=self.minimum_block))

    @property
    def slots(self) -> int:
        """How many pieces the night has."""
        return self.gain.shape[1]

    @property
    def least_rest(self) -> int:
        """Slots between two blocks that are not joined: long enough to enter the next target meanwhile."""
        return max(1, int(np.ceil(self.change_cost - 1e-9)))

    @cached_property
    def sums(self) -> np.ndarray:
        """Hours up to each boundary, (rows, slots + 1)."""
        return np.concatenate([np.zeros((len(self.gain), 1)), np.cumsum(self.gain, axis=1)], axis=1)

    @cached_property
    def open_sums(self) -> np.ndarray | None:
        """Slots that can be exposed up to each boundary, (rows, slots + 1)."""
        return None if self.clock is None else np.pad(np.cumsum(self.clock, axis=1), ((0, 0), (1, 0)))

    @cached_property
    def tie(self) -> np.ndarray:
        """Worth that each slot of a row is charged, (rows,): too little to matter but among equals."""
        best = self.gain.max(axis=1, initial=0.0)
        worth, left = (part[self.need_index] for part in (self.worth.of(self.worth.most), self.worth.most))
        shortest = np.maximum(np.divide(left, best, out=np.full_like(left, np.inf), where=best > 0), self.minimum_run)
        return TIE * worth / shortest

    def lost(self, cost: float) -> np.ndarray:
        """Return the hours lost where a run begins with so many slots of something else, (rows, slots)."""
        end = np.minimum(np.arange(self.slots) + cost, self.slots)
        whole = np.minimum(end.astype(int), self.slots - 1)
        return self.sums[:, whole] + (end - whole) * self.gain[:, whole] - self.sums[:, :-1]

    @cached_property
    def entered(self) -> tuple[list[np.ndarray], list[np.ndarray]]:
        """What runs are worth from each boundary on that change the target, and that do not.

        (lengths from the shortest on, rows) each, NEVER where there is no such run.
        """
        cost = np.array([self.change_cost, self.filter_cost])[:, np.newaxis, np.newaxis]
        lost = np.stack([self.lost(self.change_cost), self.lost(self.filter_cost)])
        up, found = self.gain.T > 0, []
        for start in range(self.slots - self.minimum_run + 1):
            ends = np.arange(start + self.minimum_run, self.slots + 1)
            hours = (self.sums[:, ends] - self.sums[:, [start]]).T - lost[:, np.newaxis, :, start]
            worth = self.worth.of(hours, self.need_index) - np.outer(ends - start, self.tie)
            there = up[start] & up[ends - 1] & self.long_enough(slice(None), start, ends, cost)
            found.append(np.where(there, worth, NEVER))
        return [both[0] for both in found], [both[1] for both in found]

    def long_enough(self, rows: list[int] | slice, start: int, ends: np.ndarray, cost: float | np.ndarray
                    ) -> np.ndarray:
        """Say whether runs of some rows that lose so many slots first are long enough, (ends, rows)."""
        least = self.least_run[rows]
        whole = (ends - start)[:, np.newaxis] >= least
        if self.open_sums is None:
            return whole
        kept = self.open_sums[rows]
        return whole & ((kept[:, ends] - kept[:, [start]]).T - cost >= least - SHORT)

    def among(self, targets: Collection[int]) -> "FlowProblem":
        """Return the problem of some targets alone."""
        rows = np.isin(self.target, list(targets))
        return replace(self, clock=None if self.clock is None else self.clock[rows], **{
            name: getattr(self, name)[rows] for name in ("gain", "group", "target", "need_index", "least_run")})


def plan_gain(problem: FlowProblem, runs: list[Run]) -> np.ndarray:
    """Return the equivalent hours of runs in order of time by need, (needs,)."""
    gained = np.zeros(len(problem.worth.left))
    change, band = problem.lost(problem.change_cost), problem.lost(problem.filter_cost)
    before: Run | None = None
    for run in runs:
        joined = before is not None and before.end == run.start
        other = joined and before is not None and problem.group[before.row] != problem.group[run.row]
        lost = (change if other else band)[run.row, run.start]
        brought = problem.sums[run.row, run.end] - problem.sums[run.row, run.start] - lost
        gained[problem.need_index[run.row]] += max(brought, 0.0)
        before = run
    return gained


def plan_value(problem: FlowProblem, runs: list[Run]) -> float:
    """Return the worth of runs in order of time; minus infinity if they break a rule of the problem."""
    return float(problem.worth.of(plan_gain(problem, runs)).sum()) if allowed(problem, runs) else -np.inf


def allowed(problem: FlowProblem, runs: list[Run]) -> bool:
    """Say whether runs in order of time keep all rules: least lengths, rests, each need once."""
    needs = [int(problem.need_index[run.row]) for run in runs]
    if len(set(needs)) < len(needs):
        return False
    block: list[Run] = []
    for run in runs:
        joined = block and block[-1].end == run.start
        kept = not joined or problem.group[block[-1].row] == problem.group[run.row]
        cost = problem.filter_cost if kept else problem.change_cost
        if not problem.long_enough([run.row], run.start, np.array([run.end]), cost).all() or not (
                problem.gain[run.row, run.start] > 0 and problem.gain[run.row, run.end - 1] > 0):
            return False
        if block and not (joined and kept):
            if not _closed(problem, block) or 0 != run.start - block[-1].end < problem.least_rest:
                return False
            block = []
        block.append(run)
    return not block or _closed(problem, block)


def _closed(problem: FlowProblem, block: list[Run]) -> bool:
    return block[-1].end - block[0].start >= problem.minimum_block
