"""Solve the plan: find the prices of the needs, gather the states worth offering, and let HiGHS put them together.

Best paths at changing prices (`path`) prove the bound, show which states and slots matter, and are often good
plans themselves. Where they are not, the flow program over what they used (`program`) is small: its relaxation
gives better prices, and of what the last relaxation used HiGHS makes the plan; parts of it are planned anew where it
stays short of the bound. The bound is that of the best prices, which holds for all states; a small problem is solved
as a whole, and the bound is HiGHS's own.
"""

from dataclasses import dataclass, replace

import numpy as np

from planner.session.optimum.path import PathFinder
from planner.session.optimum.problem import IDLE, FlowProblem, plan_value
from planner.session.optimum.program import NO_COLUMN, Program, flow_program

ENOUGH = 2e-3  # between plan and bound, as a share: no better plan is looked for
GOOD_GAP = 9.5e-3  # between plan and bound: no need to go over it once more
WINDOW = 32  # slots of the parts in which a plan is gone over
SEARCH_NODES = 1  # of the search tree: a count, not seconds, so that the same night gives the same plan
STEPS, MORE_STEPS = 8, 24  # of prices: at first, and where relaxation or HiGHS stays short of the bound
FAR = 0.05  # of the bound: steps aim at least so far below it, or they would stop where a good plan is known early
ROUNDS = 12  # of relaxations at most
CLOSE = 3e-4  # of the value: relaxation and bound agree
WHOLE = 60  # states and slots up to which everything is offered and the plan is exact
USED = 1e-6  # less flow is none


@dataclass(frozen=True, kw_only=True)
class FlowSolution:
    """The state of each slot, IDLE for none, (slots,); its value, and the proven bound of every plan."""

    state: np.ndarray
    value: float
    bound: float

    @property
    def gap(self) -> float:
        """How far the plan can be from the optimum, as a share of the bound."""
        return 0.0 if self.bound <= 0 else max(0.0, 1 - self.value / self.bound)


def solve_flow(problem: FlowProblem) -> FlowSolution:
    """Return the best plan found, with its proven bound; nothing but rest where nothing is worth anything."""
    unit = float(problem.worth.max(initial=0.0))
    if not unit > 0:
        return _nothing(problem)
    # HiGHS has absolute tolerances: the best slot is worth 1 there, whatever the priorities.
    found = _solved(replace(problem, worth=problem.worth / unit, need=problem.need / unit,
                            work_cost=problem.work_cost / unit))
    value = plan_value(problem, found.state)
    return FlowSolution(state=found.state, value=value, bound=max(value, unit * found.bound))


def _nothing(problem: FlowProblem) -> FlowSolution:
    return FlowSolution(state=np.full(problem.worth.shape[1], IDLE), value=0.0, bound=0.0)


def _solved(problem: FlowProblem) -> FlowSolution:
    """Return the plan of a problem whose best slot is worth 1."""
    if np.count_nonzero(problem.worth > 0) <= WHOLE:
        return _put_together(problem, problem.worth > 0, _nothing(problem), np.inf)
    search = _Search(problem)
    search.by_steps()
    if search.gap > ENOUGH:
        search.by_relaxation()
    if search.gap > ENOUGH and search.loose > CLOSE:
        search.by_steps(MORE_STEPS)
    if search.gap > ENOUGH:
        search.take(_put_together(problem, search.support, search.found, search.bound, search.loose))
    if search.gap > GOOD_GAP:
        search.by_steps(MORE_STEPS)
    return search.found if search.gap <= GOOD_GAP else _gone_over(problem, search.offered, search.found)


class _Search:
    """Prices that tighten, and the states and slots that paths used on the way."""

    def __init__(self, problem: FlowProblem) -> None:
        self.problem = problem
        self.finder = PathFinder(problem)
        self.offered = np.zeros(problem.worth.shape, bool)
        self.best = _nothing(problem)
        self.bound = np.inf
        self.price = np.zeros(len(problem.need))
        self.relaxed = 0.0  # value of the last relaxation
        self.support = self.offered  # what it used of that

    @property
    def found(self) -> FlowSolution:
        """The best of the paths as a plan, with the bound as it stands."""
        return FlowSolution(state=self.best.state, value=self.best.value, bound=max(self.bound, self.best.value))

    @property
    def gap(self) -> float:
        """How far the best path is from the bound, as a share of it."""
        return self.found.gap

    @property
    def loose(self) -> float:
        """By how much more than the bound the last relaxation allows, as a share of it."""
        return max(0.0, self.relaxed / self.bound - 1)

    def try_prices(self, price: np.ndarray) -> np.ndarray:
        """Take in the best path at some prices; return how much of each need it leaves open, negative if too much."""
        problem = self.problem
        path = self.finder.best(price)
        if path.bound < self.bound:
            self.bound, self.price = path.bound, price
        value = plan_value(problem, path.state)
        if value > self.best.value:
            self.best = FlowSolution(state=path.state, value=value, bound=self.bound)
        used = np.flatnonzero(path.state != IDLE)
        self.offered[path.state[used], used] = True
        return problem.need - path.gained

    def take(self, plan: FlowSolution) -> None:
        """Take in a plan made elsewhere."""
        if plan.value > self.best.value:
            self.best = plan

    def by_steps(self, steps: int = STEPS) -> None:
        """Move the prices along the open needs, in steps that aim at the best value found."""
        price = self.price
        for step in range(steps):
            open_need = self.try_prices(price)
            length = float(open_need @ open_need)
            if length == 0 or self.gap <= ENOUGH:
                return
            reach = 1.0 if step < STEPS // 2 else 0.5
            price = np.clip(price - reach * self.bound * max(self.gap, FAR) / length * open_need, 0, 1)

    def by_relaxation(self) -> None:
        """Take the prices from the relaxed program over what is offered, until it agrees with the bound."""
        for _ in range(ROUNDS):
            self.relaxed, price, self.support = _relaxed(flow_program(self.problem, self.offered))
            before = self.offered.sum()
            self.try_prices(price)
            if self.bound - self.relaxed <= CLOSE * self.bound:
                return
            for share in (0.3, 0.6):
                self.try_prices(share * price + (1 - share) * self.price)
            if self.offered.sum() == before:
                return


def _relaxed(program: Program) -> tuple[float, np.ndarray, np.ndarray]:
    """Return the value of the program without whole numbers, the prices of the needs, and the states and slots used."""
    from scipy.optimize import linprog

    equal = program.lower == program.upper
    matrix = program.matrix
    found = linprog(program.cost, A_ub=matrix[~equal], b_ub=program.upper[~equal], A_eq=matrix[equal],
                    b_eq=program.upper[equal], bounds=np.stack([np.zeros_like(program.most), program.most], axis=1),
                    method="highs")
    rank = np.cumsum(~equal) - 1
    # A need's row: gain <= work. Its dual is what one more unit of work would bring; the price is what it would not.
    price = np.clip(1 + found.ineqlin.marginals[rank[program.need_rows]], 0, 1)
    used = (program.work != NO_COLUMN) & (found.x[program.work] > USED)
    return -found.fun, price, used


def _gone_over(problem: FlowProblem, offered: np.ndarray, plan: FlowSolution) -> FlowSolution:
    """Plan one part of the night after another anew, the rest held as it is."""
    slots = problem.worth.shape[1]
    for start in range(0, slots, WINDOW // 2):
        part = slice(start, start + WINDOW)
        used = np.flatnonzero(plan.state != IDLE)
        open_to = np.zeros_like(offered)
        open_to[plan.state[used], used] = True
        here = plan.state[part]
        open_to[:, part] |= offered[:, part]
        open_to[np.unique(here[here != IDLE]), part] = True
        plan = _put_together(problem, open_to & (problem.worth > 0), plan, plan.bound)
        if plan.gap <= GOOD_GAP:
            break
    return plan


def _put_together(problem: FlowProblem, offered: np.ndarray, best: FlowSolution, bound: float,
                  loose: float = 0.0) -> FlowSolution:
    """Let HiGHS make the plan from what is offered; keep the better of it and the best so far."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    program = flow_program(problem, offered)
    exact = np.isinf(bound)
    options = {"mip_rel_gap": 0.0} if exact else {"mip_rel_gap": ENOUGH + loose, "node_limit": SEARCH_NODES}
    found = milp(program.cost, constraints=LinearConstraint(program.matrix, program.lower, program.upper),
                 bounds=Bounds(0, program.most), integrality=program.whole, options=options)
    if exact:
        bound = -found.mip_dual_bound
    state, value = best.state, best.value
    if found.x is not None:
        made = program.states(found.x)
        if plan_value(problem, made) > value:
            state, value = made, plan_value(problem, made)
    return FlowSolution(state=state, value=value, bound=max(bound, value))
