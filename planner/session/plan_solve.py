"""Solve the plan: find the prices of the needs, gather the states worth offering, and let HiGHS put them together.

Paths at changing prices (`plan_path`) show which states and slots matter; the flow program over these alone
(`plan_program`) is small, its relaxation gives better prices, and of what the last relaxation used HiGHS makes the
plan; parts of it are planned anew where it stays short of the bound. The bound is that of the best prices, which
holds for all states; a small problem is solved as a whole, and the bound is HiGHS's own.
"""

from dataclasses import dataclass

import numpy as np

from planner.session.plan_path import PathFinder
from planner.session.plan_problem import IDLE, FlowProblem, plan_value
from planner.session.plan_program import NO_COLUMN, Program, flow_program

GAP = 1e-3  # of the value: near enough for HiGHS to stop
GOOD_GAP = 9.5e-3  # between plan and bound: no need to go over it once more
WINDOW = 48  # slots of such a part
SEARCH_NODES = 1  # of the search tree: a count, not seconds, so that the same night gives the same plan
STEPS = 24  # subgradient steps before the relaxation takes over
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
    slots = problem.worth.shape[1]
    nothing = FlowSolution(state=np.full(slots, IDLE), value=0.0, bound=0.0)
    if not np.any(problem.worth > 0):
        return nothing
    if np.count_nonzero(problem.worth > 0) <= WHOLE:
        return _put_together(problem, problem.worth > 0, nothing, np.inf)
    search = _Search(problem)
    search.by_steps()
    search.by_relaxation()
    found = _put_together(problem, search.support, search.best, search.bound)
    return found if found.gap <= GOOD_GAP else _gone_over(problem, search.offered, found)


class _Search:
    """Prices that tighten, and the states and slots that paths used on the way."""

    def __init__(self, problem: FlowProblem) -> None:
        self.problem = problem
        self.finder = PathFinder(problem)
        self.offered = np.zeros(problem.worth.shape, bool)
        self.best = FlowSolution(state=np.full(problem.worth.shape[1], IDLE), value=0.0, bound=0.0)
        self.bound = np.inf
        self.price = np.zeros(len(problem.need))
        self.support = self.offered  # what the last relaxation used of it

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
        gained = np.bincount(problem.need_index[path.state[used]], weights=problem.worth[path.state[used], used],
                             minlength=len(problem.need))
        return problem.need - gained

    def by_steps(self) -> None:
        """Move the prices along the open needs, in steps that aim at the best value found."""
        price = self.price
        for step in range(STEPS):
            open_need = self.try_prices(price)
            length = float(open_need @ open_need)
            if length == 0 or self.bound - self.best.value <= CLOSE * self.bound:
                return
            reach = 1.0 if step < STEPS // 2 else 0.5
            price = np.clip(price - reach * (self.bound - self.best.value) / length * open_need, 0, 1)

    def by_relaxation(self) -> None:
        """Take the prices from the relaxed program over what is offered, until it agrees with the bound."""
        for _ in range(ROUNDS):
            value, price, self.support = _relaxed(flow_program(self.problem, self.offered))
            before = self.offered.sum()
            self.try_prices(price)
            if self.bound - value <= CLOSE * self.bound:
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


def _put_together(problem: FlowProblem, offered: np.ndarray, best: FlowSolution, bound: float) -> FlowSolution:
    """Let HiGHS make the plan from what is offered; keep the better of it and the best so far."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    program = flow_program(problem, offered)
    options = {"mip_rel_gap": GAP, "node_limit": SEARCH_NODES} if np.isfinite(bound) else {"mip_rel_gap": 0.0}
    found = milp(program.cost, constraints=LinearConstraint(program.matrix, program.lower, program.upper),
                 bounds=Bounds(0, program.most), integrality=program.whole, options=options)
    if np.isinf(bound):
        bound = -found.mip_dual_bound
    state, value = best.state, best.value
    if found.x is not None:
        made = program.states(found.x)
        if plan_value(problem, made) > value:
            state, value = made, plan_value(problem, made)
    return FlowSolution(state=state, value=value, bound=max(bound, value))
