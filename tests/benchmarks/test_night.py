"""Speed of a night's plan; ratios of one run beside, how good the plan is asserted."""

import os
import subprocess
import sys
import time

import pytest
from session.night_problems import large_problem

from planner.session.optimum.solve import solve_flow

LIBRARIES = "import astropy.coordinates, scipy.optimize"
COMMAND = "from planner.cli import main; import sys; sys.argv = ['planner', 'night', '--night', '{}', '--json']; main()"


# One filter and many needs of a few slots is the hardest kind: whole slots hardly ever fill a need.
@pytest.mark.parametrize(("targets", "filters"), [(10, 5), (20, 4), (40, 3), (20, 1)])
@pytest.mark.parametrize("seed", [1, 2, 3, 13])
def test_solver(benchmark, seed, targets, filters):
    found = large_problem(seed, targets=targets, filters=filters)
    solution = benchmark.pedantic(solve_flow, args=(found,), rounds=3)
    assert solution.gap <= 0.01
    benchmark.extra_info["gap"] = solution.gap


@pytest.mark.parametrize("night", ["2026-11-10", "2026-11-25"])
def test_cold_start(benchmark, night):
    """The whole command in a fresh process, against the import of its two largest libraries."""
    compiled = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}  # as installed

    def cold(code):
        begin = time.perf_counter()
        subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, env=compiled)
        return time.perf_counter() - begin

    base = min(cold(LIBRARIES) for _ in range(5))
    benchmark.pedantic(cold, args=(COMMAND.format(night),), rounds=5)
    benchmark.extra_info["over_importing_libraries"] = benchmark.stats.stats.min / base
