"""Solve the plan: find the charges that make each need be worked on once, and the best path of the runs that matter.

Best paths at changing charges (`path`) prove the bound. With it most runs are ruled out; of the others the best path
that works on more and more needs once at most ends as the best plan. The charges begin with one price for every slot of
the night, at which the needs ask for as many as there are. Where too many needs would have to be told apart, the
relaxed program over the runs known (`program`) gives better charges, and HiGHS puts a plan together of them.

What each brings, of the 16 problems of `tests/benchmarks/test_night.py::test_solver`, as the plan's gap to the bound in
the mean (at worst) and CPU in the mean: charges alone 13 % (28) in 0.26 s; the best path of the runs left too 0.28 %
(3.7) in 0.47 s; the program too 0.06 % (0.20) in 0.50 s. Charges and program without that path come to 0.08 % (0.19) in
0.35 s, but HiGHS takes 0.4 s to import, which nights of few needs do without.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from planner.session.optimum.path import PathFinder
from planner.session.optimum.problem import NEVER, FlowProblem, Run, plan_value
from planner.session.optimum.program import RunProgram

STEPS, AGAIN = 12, 4  # of charges; of those that a like problem had
FIRST, LEAST = 0.1, 2e-3  # of the bound: steps aim so far below it, at half of that after LAST that brought too little
LAST, KEPT = 2, 0.3  # KEPT: share of the last step's direction that the next one keeps
NEAR = 0.99  # of what a like problem's plan is worth: this one's is hoped to be no less
ENOUGH = 2e-3  # between bound and plan: no better is looked for
# Of the bound that a plan may be short of it, tried in turn: runs that are in no better one are left out.
SHARES = (0.02, 0.06, 0.2, 1.0)
FEW, ALL = 5, 11  # needs of which no charges are looked for; all of which are worked on once from the start
AT_ONCE = 2  # needs more that are worked on once
MOST = 12_000_000  # values of a table
HALVINGS = 16  # of the price of a slot
ROUNDS, FEWER = 12, 2  # of programs at most; where a rough plan will do
GOOD = 8e-3  # between bound and plan: it is made anew with more runs only where it stays shorter
TRIES, PATHS = 3, 7  # of the plan, with so many more paths each, at charges that differ by SPREAD
SPREAD = np.array([0.7, 1.3, 1.0, 0.85, 1.15, 0.6, 1.0])
MOST_RUNS = 300  # up to which neighbours are taken in
SCALE = 100.0  # worth of the most valuable need in the programs: HiGHS has absolute tolerances
SAME = 1e-6  # of the worth: of equals the first stays, which met its needs in their best hours


@dataclass(frozen=True, kw_only=True)
class FlowSolution:
    """The runs in order of time; their value, and the proven bound of every plan.

    `proofs` are bounds that charges alone prove, with the levels of the best paths that prove them: their worth at each
    boundary of the slots, (2, slots + 1), of being there, and of getting there with a run that ends. `charge` (needs,)
    proves the last of them.
    """

    runs: list[Run]
    value: float
    bound: float
    proofs: tuple[tuple[float, np.ndarray], ...] = field(default=(), compare=False)
    charge: np.ndarray | None = field(default=None, compare=False)

    @property
    def gap(self) -> float:
        """How far the plan can be from the optimum, as a share of the bound."""
        return 0.0 if self.bound <= 0 else max(0.0, 1 - self.value / self.bound)


def solve_flow(problem: FlowProblem, *, rough: float = 0.0, like: FlowSolution | None = None, hope: float = 0.0,
               least: float = 0.0, proven: bool = False) -> FlowSolution:
    """Return the best plan found, with its proven bound; nothing but rest where nothing is worth anything.

    `rough`: share of the bound by which the plan may be short of it where it tells of which targets it should be.
    `like`: the solution of another problem of these needs, whose charges come near. `hope`: what the plan may well be
    worth, of the like problem's plan if absent. `least`: a plan worth less is of no use, and not looked for. `proven`:
    with `proofs` as near as charges alone can prove.
    """
    problem, worth = _with_room(problem), problem.worth
    unit = float(np.max(worth.of(worth.most), initial=0.0)) if problem.gain.max(initial=0.0) > 0 else 0.0
    if not unit > 0 or problem.slots < problem.minimum_run:
        return FlowSolution(runs=[], value=0.0, bound=0.0)
    unit /= SCALE
    search = _Search(replace(problem, worth=worth.times(1 / unit)), rough or ENOUGH, least / unit)
    if len(search.needs) > FEW:
        search.by_steps(STEPS if like is None or rough else AGAIN,
                        None if like is None or like.charge is None else like.charge / unit)
    if not search.by_runs(NEAR * (hope if like is None else like.value) / unit):
        search.by_programs(FEWER if rough else ROUNDS)
    elif proven:
        search.tighten(ROUNDS)
    runs = search.runs if rough else _at_best_hours(problem, search.runs)
    value = plan_value(problem, runs)
    return FlowSolution(runs=runs, value=value, bound=max(value, search.bound * unit), charge=search.charge * unit,
                        proofs=tuple((bound * unit, levels * unit) for bound, levels in search.proofs))


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

    def __init__(self, problem: FlowProblem, enough: float, least: float) -> None:
        self.problem, self.enough, self.least = problem, enough, least
        self.finder, self.program = PathFinder(problem), RunProgram(problem)
        self.needs = np.unique(problem.need_index[(problem.gain > 0).any(axis=1)])
        self.bound, self.charge = np.inf, np.zeros(len(problem.worth.left))
        self.count = self.charge  # how often the path that proves the bound works on each need
        self.once = self.needs.tolist() if len(self.needs) <= ALL else []  # needs that a path works on once at most
        self.proofs: list[tuple[float, np.ndarray]] = []
        self.runs: list[Run] = []
        self.value = 0.0

    @property
    def done(self) -> bool:
        """Say whether no better plan needs to be looked for."""
        return np.isfinite(self.bound) and self.bound <= max(self.value + self.enough * self.bound, self.least)

    def at(self, finder: PathFinder, charge: np.ndarray, once: list[int]) -> tuple[np.ndarray, float]:
        """Return how often the best path works on each need, its plan taken in, and the bound that it proves."""
        runs, bound = finder.best(charge, once)
        self.program.add(runs)
        self.take(runs)
        return np.bincount([self.problem.need_index[run.row] for run in runs], minlength=len(charge)), bound

    def take(self, runs: list[Run]) -> None:
        """Take in a plan; of a path that works on a need twice, without the lesser run."""
        plan = runs if plan_value(self.problem, runs) > 0 else _once(self.problem, runs)
        value = plan_value(self.problem, plan)
        if value > self.value * (1 + SAME):
            self.runs, self.value = plan, value

    def by_steps(self, steps: int, charge: np.ndarray | None) -> None:
        """Raise the charges of needs worked on twice, lower those of others."""
        own = _charges(self.problem)
        charge = own if charge is None else np.where((own > 0) & (charge > 0), charge, own)
        aim, failed, way = FIRST, 0, np.zeros_like(charge)
        for _ in range(steps):
            count, bound = self.at(self.finder, charge, [])
            failed = 0 if bound < self.bound * (1 - aim / 4) else failed + 1
            if bound < self.bound:
                self.bound, self.charge, self.count = bound, charge, count
                self.proofs = [(bound, self.finder.levels)]
            over = np.where((charge > 0) | (count > 1), count - 1.0, 0.0)
            if self.done or not over.any():
                return
            if failed >= LAST:
                aim, failed, charge = max(aim / 2, LEAST), 0, self.charge
            way = over + KEPT * way
            charge = np.maximum(charge + (bound - self.bound * (1 - aim)) / (way @ way) * way, 0.0)

    def by_runs(self, hope: float) -> bool:
        """Find the best plan of the runs that may be in one, with more and more needs worked on once at most.

        `hope` is what the plan may well be worth: runs that no such plan uses are left out at first. False where too
        many needs would have to be told apart.
        """
        if len(self.needs) <= FEW:
            self.bound = self.at(self.finder, self.charge, self.needs.tolist())[1]
            return True
        for share in (*((1 - hope / self.bound,) if hope > 0 else ()), *SHARES):
            least = max(self.value, self.least, self.bound * (1 - share))
            if self.done or least >= self.bound:
                continue
            finder = self.finder.among(self.charge, least)
            more = [] if self.once else _more(self.count, self.charge, self.once)
            while True:
                if finder.size(len(self.once) + len(more)) > MOST:
                    return False
                self.once += more
                count, bound = self.at(finder, self.charge, self.once)
                self.bound = min(self.bound, max(bound, least))
                more = _more(count, self.charge, self.once)
                if self.done or bound <= least or not more:
                    break
            if bound > least:
                break
        return True

    def tighten(self, rounds: int) -> None:
        """Take the charges from the program over the runs known, until it agrees with what they prove."""
        for _ in range(rounds):
            relaxed, charge = self.program.relaxed()
            known = len(self.program.runs)
            for other in ((charge + self.charge) / 2, charge):
                bound = self.at(self.finder, other, [])[1]
                if not self.proofs or bound < self.proofs[-1][0]:
                    self.charge, self.proofs = other, [(bound, self.finder.levels)]
                self.bound = min(self.bound, bound)
                if len(self.program.runs) > known:
                    break
            if self.proofs[-1][0] - relaxed <= ENOUGH * self.proofs[-1][0] or len(self.program.runs) == known:
                break

    def by_programs(self, rounds: int) -> None:
        """Make a plan of the runs known, at charges of their program."""
        self.tighten(rounds)
        for more in range(TRIES if rounds == ROUNDS else 1):
            if self.bound - self.value <= (self.enough if more == 0 else GOOD) * self.bound:
                return
            for shift in range(more * PATHS):
                spread = np.roll(SPREAD, shift)[np.arange(len(self.charge)) % len(SPREAD)]
                self.at(self.finder, self.charge * spread, [])
            self.program.relaxed()
            if len(self.program.runs) < MOST_RUNS:
                self.program.spread()
            self.take(self.program.whole(ENOUGH, self.value))


def _more(count: np.ndarray, charge: np.ndarray, once: list[int]) -> list[int]:
    """Return needs that a path should work on once: those that it works on twice, or leaves out for their charge."""
    for some in (count > 1, (count == 0) & (charge > 0)):
        found = [int(need) for need in np.argsort(-charge, kind="stable") if some[need] and need not in once]
        if found:
            return found[:AT_ONCE]
    return []


def _charges(problem: FlowProblem) -> np.ndarray:
    """Return charges (needs,): what the best run of each brings beyond the price of a slot at which all are taken."""
    best = np.full((len(problem.worth.left), problem.slots + 1), NEVER)
    for worth in problem.entered[1]:
        lengths = slice(problem.minimum_run, problem.minimum_run + len(worth))
        np.maximum.at(best[:, lengths], problem.need_index, worth.T)
    length, which = np.arange(problem.slots + 1), np.arange(len(best))
    low, high = 0.0, float(best.max() / problem.minimum_run)
    for _ in range(HALVINGS):
        price = (low + high) / 2
        beyond = best - price * length
        taken = beyond.argmax(axis=1)
        asked = taken[beyond[which, taken] > 0].sum()
        low, high = (price, high) if asked > problem.slots else (low, price)
    return np.maximum((best - high * length).max(axis=1), 0.0)


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
    worth = float(problem.entered[1][run.start][run.end - run.start - problem.minimum_run, run.row])
    return round(worth, 9), float(problem.sums[run.row, run.end] - problem.sums[run.row, run.start])
