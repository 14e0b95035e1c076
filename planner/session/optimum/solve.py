"""Solve the plan: find the charges that make each need be worked on once, gather runs, and let HiGHS put them together.

Best paths at changing charges (`path`) prove the bound and bring in runs; the relaxed program over the runs known
(`program`) gives better charges, until both agree. Of those runs and their neighbours HiGHS makes the plan.
Measured on nights of 20 targets through 4 filters in 120 slots (tests/benchmarks): paths alone stay 10 % short of the
bound, with the program 1 %.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from planner.session.optimum.path import PathFinder
from planner.session.optimum.problem import FlowProblem, Run, plan_value
from planner.session.optimum.program import RunProgram

STEPS = 12  # of charges before the first program
ROUNDS, ROUGH = 12, 2  # of programs at most
AIM = 0.02  # of the bound: steps aim at least so far below it
ENOUGH = 2e-3  # between bound and relaxation, or plan: no better is looked for
GOOD = 8e-3  # between bound and plan: it is made anew with more runs only where it stays shorter
TRIES, PATHS = 3, 7  # of the plan, with so many more paths each, at charges that differ by SPREAD
SPREAD = np.array([0.7, 1.3, 1.0, 0.85, 1.15, 0.6, 1.0])
SMALL = 60  # rows times slots up to which every run is offered
MOST_RUNS = 300  # up to which neighbours are taken in
SAME = 1e-6  # of the worth: of equals the first stays, which met its needs in their best hours
SCALE = 100.0  # worth of the most valuable need in the programs: HiGHS has absolute tolerances


@dataclass(frozen=True, kw_only=True)
class FlowSolution:
    """The runs in order of time; their value, and the proven bound of every plan.

    `proofs` are bounds, without charges and the least, with the levels of the best paths that prove them: their worth
    at each boundary of the slots, (2, slots + 1), of being there, and of getting there with a run that ends.
    """

    runs: list[Run]
    value: float
    bound: float
    proofs: tuple[tuple[float, np.ndarray], ...] = field(default=(), compare=False)

    @property
    def gap(self) -> float:
        """How far the plan can be from the optimum, as a share of the bound."""
        return 0.0 if self.bound <= 0 else max(0.0, 1 - self.value / self.bound)


def solve_flow(problem: FlowProblem, *, rough: bool = False) -> FlowSolution:
    """Return the best plan found, with its proven bound; nothing but rest where nothing is worth anything.

    `rough`: to tell which targets it is of, a plan within a few per cent will do.
    """
    problem, worth = _with_room(problem), problem.worth
    unit = float(np.max(worth.of(worth.most), initial=0.0)) if problem.gain.max(initial=0.0) > 0 else 0.0
    if not unit > 0 or problem.slots < problem.minimum_run:
        return FlowSolution(runs=[], value=0.0, bound=0.0)
    search = _Search(replace(problem, worth=worth.times(SCALE / unit)))
    search.by_steps()
    search.by_programs(ROUGH if rough else ROUNDS)
    runs = _at_best_hours(problem, search.runs)
    value = plan_value(problem, runs)
    return FlowSolution(runs=runs, value=value, bound=max(value, search.bound * unit / SCALE),
                        proofs=tuple((bound * unit / SCALE, levels * unit / SCALE) for bound, levels in search.proofs))


def _with_room(problem: FlowProblem) -> FlowProblem:
    """Return a problem without the hours of groups that have none over as long as a block must be."""
    gain = problem.gain.copy()
    for group in np.unique(problem.group):
        rows = problem.group == group
        there = np.flatnonzero((gain[rows] > 0).any(axis=0))
        if there.size and there[-1] + 1 - there[0] < problem.minimum_block:
            gain[rows] = 0
    return replace(problem, gain=gain)


class _Search:
    """Charges that tighten, and the best plan so far."""

    def __init__(self, problem: FlowProblem) -> None:
        self.problem = problem
        self.finder, self.program = PathFinder(problem), RunProgram(problem)
        self.bound, self.charge = np.inf, np.zeros(len(problem.worth.left))
        self.proofs: list[tuple[float, np.ndarray]] = []
        self.runs: list[Run] = []
        self.value = 0.0

    @property
    def done(self) -> bool:
        """Say whether no better plan needs to be looked for."""
        return self.bound - self.value <= ENOUGH * self.bound

    def take(self, runs: list[Run]) -> None:
        """Take in a plan; of a path that works on a need twice, without the lesser run."""
        plan = runs if plan_value(self.problem, runs) > 0 else _once(self.problem, runs)
        value = plan_value(self.problem, plan)
        if value > self.value * (1 + SAME):
            self.runs, self.value = plan, value

    def at(self, charge: np.ndarray) -> tuple[list[Run], bool]:
        """Return the best path at some charges, taken in, and whether it has a new run."""
        runs, bound = self.finder.best(charge)
        if bound < self.bound:
            self.bound, self.charge = bound, charge
            self.proofs = [*self.proofs[:1], (bound, self.finder.levels)]
        self.take(runs)
        return runs, self.program.add(runs)

    def by_steps(self) -> None:
        """Raise the charges of needs worked on twice, lower those of others."""
        charge = self.charge
        for _ in range(STEPS):
            runs, _ = self.at(charge)
            count = np.bincount([self.problem.need_index[run.row] for run in runs], minlength=len(charge))
            over = np.where((charge > 0) | (count > 1), count - 1.0, 0.0)
            if self.done or not over.any():
                return
            reach = max(self.bound - self.value, AIM * self.bound) / (over @ over)
            charge = np.maximum(charge + reach * over, 0.0)

    def by_programs(self, rounds: int) -> None:
        """Take the charges from the program over the runs known, until it agrees with the bound; then make the plan."""
        if self.done:
            return
        if self.problem.gain.size <= SMALL:
            self.program.add_all()
        for _ in range(rounds):
            relaxed, charge = self.program.relaxed()
            if self.bound - relaxed <= ENOUGH * self.bound:
                break
            if not (self.at((charge + self.charge) / 2)[1] or self.at(charge)[1]):
                break
        for more in range(TRIES if rounds == ROUNDS else 1):
            if self.bound - self.value <= (ENOUGH if more == 0 else GOOD) * self.bound:
                return
            for shift in range(more * PATHS):
                self.at(self.charge * np.roll(SPREAD, shift)[np.arange(len(self.charge)) % len(SPREAD)])
            self.program.relaxed()
            if len(self.program.runs) < MOST_RUNS:
                self.program.spread()
            self.take(self.program.whole(ENOUGH, self.value))


def _once(problem: FlowProblem, runs: list[Run]) -> list[Run]:
    """Return runs with the longest of each need alone."""
    best: dict[int, Run] = {}
    for run in runs:
        need = int(problem.need_index[run.row])
        if need not in best or run.end - run.start > best[need].end - best[need].start:
            best[need] = run
    return sorted(best.values(), key=lambda run: run.start)


def _at_best_hours(problem: FlowProblem, runs: list[Run]) -> list[Run]:
    """Return runs with each that stands alone between two rests moved to where it meets its need in least time."""
    rest, found = problem.least_rest, list(runs)
    for place, run in enumerate(found):
        first = found[place - 1].end + rest if place else 0
        last = found[place + 1].start - rest if place + 1 < len(found) else problem.slots
        if first > run.start or last < run.end:
            continue
        choices = [Run(run.row, start, end) for start in range(first, last)
                   for end in range(start + max(int(problem.least_run[run.row]), problem.minimum_block), last + 1)]
        found[place] = max(choices, key=lambda one: _kept(problem, one), default=run)
    return found if plan_value(problem, found) >= plan_value(problem, runs) * (1 - ENOUGH) else runs


def _kept(problem: FlowProblem, run: Run) -> tuple[float, float]:
    """Return what a run after a rest is worth, less ties; of equals, what its slots bring."""
    worth = float(problem.entered[1][run.start][run.row, run.end - run.start - problem.minimum_run])
    return round(worth, 9), float(problem.sums[run.row, run.end] - problem.sums[run.row, run.start])
