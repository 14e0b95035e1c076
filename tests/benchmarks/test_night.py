"""Speed of a night's plan; ratios of one run beside, how good the plan is asserted."""

import datetime
import resource
from functools import partial

import numpy as np
import pytest
from astropy import units as u
from session.night_problems import large_problem

from planner.files import load_equipment
from planner.files.projects.wanted import requests_for
from planner.files.targets.stars import stars_around
from planner.session.night.plan import plan_night
from planner.session.optimum.solve import solve_flow
from planner.visibility import Target


# One filter and many needs of a few slots is the hardest kind: whole slots hardly ever fill a need.
@pytest.mark.parametrize(("targets", "filters"), [(10, 5), (20, 4), (40, 3), (20, 1)])
@pytest.mark.parametrize("seed", [1, 2, 3, 13])
def test_solver(benchmark, seed, targets, filters):
    found = large_problem(seed, targets=targets, filters=filters)
    solution = benchmark.pedantic(solve_flow, args=(found,), rounds=3)
    assert solution.gap <= 0.01
    benchmark.extra_info["gap"] = solution.gap


def test_plan_of_a_thousand_targets(benchmark):
    """From a list of a thousand places to a plan within a hundredth of its bound, in at most 500 MB."""
    gear, dice = load_equipment(None), np.random.default_rng(1)
    places = zip(dice.uniform(0, 360, 1000), np.degrees(np.arcsin(dice.uniform(-0.5, 1, 1000))), strict=True)
    listed = [Target(f"T{number}", ra * u.deg, dec * u.deg, size_major=20 * u.arcmin)
              for number, (ra, dec) in enumerate(places)]

    def ours():
        wanted = requests_for(((target, None) for target in listed), gear.rig(), None)
        return plan_night(wanted, gear.rig(), gear.site(), datetime.date(2026, 11, 10),
                          stars_around=partial(stars_around, rig=gear.rig()))

    plan = benchmark.pedantic(ours, rounds=3)
    assert plan.blocks
    assert plan.gap <= 0.01
    benchmark.extra_info["peak_mb"] = most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    assert most < 500
