"""The plan put together from runs: a linear program in which one unit flows from run to run, for HiGHS.

A node is a boundary at which nothing is under way (at rest, or a block just ended), or a run that ended in a block of
some age. A column leads from one to another: a run, an end, a rest. Each need has one run at most; what that costs, its
dual value, is the charge at which the best path (`path`) brings in new runs.
"""

import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np

from planner.session.optimum.problem import NEVER, FlowProblem, Run

NO_NEED = -1
HALF = 0.5  # a whole number above it is 1
USED = 1e-6  # less flow is none
NODES = 50  # of the search tree: a count, not seconds, so that the same night gives the same plan
MANY = 1500  # columns from which on only its root is looked at


@dataclass(frozen=True)
class _Column:
    """A way from node to node."""

    start: int
    end: int
    worth: float
    need: int = NO_NEED
    run: Run | None = None


class RunProgram:
    """The program over the runs known so far."""

    def __init__(self, problem: FlowProblem) -> None:
        self.problem = problem
        self.runs: set[Run] = set()
        self.used: set[Run] = set()  # by the last relaxation
        self._nodes: dict[Any, int] = {}

    def add(self, runs: list[Run]) -> bool:
        """Take in runs; say whether one is new."""
        before = len(self.runs)
        self.runs.update(runs)
        return len(self.runs) > before

    def spread(self) -> None:
        """Take in the neighbours of the runs that the last relaxation used: each end a slot earlier or later."""
        kept, least = self.problem.entered[1], self.problem.minimum_run
        for run in list(self.used):
            for start in range(max(run.start - 1, 0), run.start + 2):
                for end in range(run.end - 1, min(run.end + 1, self.problem.slots) + 1):
                    if end - start >= least and kept[start][end - start - least, run.row] > NEVER / 2:
                        self.runs.add(Run(run.row, start, end))

    def relaxed(self) -> tuple[float, np.ndarray]:
        """Return the worth without whole numbers, and the charges of the needs."""
        columns, _, found = self._relaxed()
        self.used = {columns[at].run for at in np.flatnonzero(found.x > USED)} - {None}  # type: ignore[assignment]
        return float(-found.fun), np.maximum(-found.ineqlin.marginals, 0.0)

    def _relaxed(self) -> tuple[list[_Column], tuple[np.ndarray, Any, Any, np.ndarray], Any]:
        from scipy.optimize import linprog

        columns = self._columns()
        worth, once, balance, flow = rows = self._matrices(columns)
        return columns, rows, linprog(-worth, A_ub=once, b_ub=np.ones(once.shape[0]), A_eq=balance, b_eq=flow,
                                      method="highs")

    def whole(self, gap: float, value: float) -> list[Run]:
        """Return the best plan found from the runs, in order of time; none if there is none worth more than `value`."""
        from scipy.optimize import Bounds, LinearConstraint, milp

        columns, (worth, once, balance, flow), found = self._relaxed()
        # What a column loses against the relaxation tells which no better plan can use.
        loss = -worth - once.T @ found.ineqlin.marginals - balance.T @ found.eqlin.marginals
        kept = np.flatnonzero(loss <= -found.fun - value + USED)
        if not kept.size:
            return []
        rows = [LinearConstraint(once[:, kept], -np.inf, 1), LinearConstraint(balance[:, kept], flow, flow)]
        made = milp(-worth[kept], constraints=rows, integrality=np.ones(len(kept)), bounds=Bounds(0, 1),
                    options={"mip_rel_gap": gap, "node_limit": NODES if len(kept) < MANY else 1})
        chosen = [] if made.x is None else [columns[at].run for at in kept[np.flatnonzero(made.x > HALF)]]
        return sorted((run for run in chosen if run is not None), key=lambda run: run.start)

    def _node(self, *key: Any) -> int:
        return self._nodes.setdefault(key, len(self._nodes))

    def _columns(self) -> list[_Column]:
        """Return all ways between the nodes of the runs known."""
        problem, self._nodes = self.problem, {}
        slots, rest = problem.slots, problem.least_rest
        ends = {run.end for run in self.runs}
        times = sorted({0, slots} | {run.start for run in self.runs} | {min(end + rest, slots) for end in ends})
        columns = [_Column(self._node("rest", before), self._node("rest", after), 0.0)
                   for before, after in itertools.pairwise(times)]
        columns += [_Column(self._node("end", end), self._node("rest", min(end + rest, slots)), 0.0) for end in ends]
        ended: dict[tuple[int, int], set[tuple[int, int]]] = {}
        for run in sorted(self.runs, key=lambda run: (run.start, run.row, run.end)):
            columns += self._of_run(run, ended)
        return columns

    def _of_run(self, run: Run, ended: dict[tuple[int, int], set[tuple[int, int]]]) -> list[_Column]:
        """Return the ways through a run: from rest, from another block's end, from each run before it in its block."""
        problem = self.problem
        length, need = run.end - run.start, int(problem.need_index[run.row])
        changed, kept = (float(table[run.start][length - problem.minimum_run, run.row]) for table in problem.entered)
        group, columns = int(problem.group[run.row]), []
        froms: list[tuple[tuple[Any, ...], float, int]] = [
            (("end", run.start), changed, 0), (("rest", run.start), kept, 0)]
        froms += [((group, run.start, age, row), kept, age) for age, row in sorted(ended.get((group, run.start), ()))
                  if row != run.row]
        for node, worth, age in (one for one in froms if one[1] > NEVER / 2):
            now = min(age + length, problem.minimum_block)
            key = (group, run.end, now, run.row)
            if now == problem.minimum_block and key not in self._nodes:
                columns.append(_Column(self._node(*key), self._node("end", run.end), 0.0))
            columns.append(_Column(self._node(*node), self._node(*key), worth, need, run))
            ended.setdefault((group, run.end), set()).add((now, run.row))
        return columns

    def _matrices(self, columns: list[_Column]) -> tuple[np.ndarray, Any, Any, np.ndarray]:
        """Return the worth of the columns, the rows that take each need once, and the balance of the nodes."""
        from scipy import sparse

        count, which = len(columns), np.arange(len(columns))
        start, end, need = (np.array([getattr(one, name) for one in columns]) for name in ("start", "end", "need"))
        balance = sparse.csr_array((np.repeat([1.0, -1.0], count), (np.append(start, end), np.append(which, which))),
                                   shape=(len(self._nodes), count))
        flow = np.zeros(len(self._nodes))
        flow[self._nodes["rest", 0]] += 1
        flow[self._nodes["rest", self.problem.slots]] -= 1
        taken = np.flatnonzero(need != NO_NEED)
        once = sparse.csr_array((np.ones(len(taken)), (need[taken], taken)),
                                shape=(len(self.problem.worth.left), count))
        return np.array([one.worth for one in columns]), once, balance, flow
