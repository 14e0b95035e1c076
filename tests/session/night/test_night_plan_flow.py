"""The plan as a flow: against brute force, against simpler answers, and how near the proven bound it comes."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from session.night_problems import best_by_brute_force, large_problem, problem, small_problem, worth_by_hand

from planner.session.optimum.path import PathFinder
from planner.session.optimum.problem import Run, plan_value
from planner.session.optimum.solve import solve_flow

TIES = 1e-3  # what ties between equals may cost


@pytest.mark.parametrize("seed", range(30))
def test_as_good_as_brute_force_and_never_over_the_bound(seed):
    found = small_problem(seed)
    best, solution = best_by_brute_force(found), solve_flow(found)
    assert_allclose(solution.value, worth_by_hand(found, solution.runs), rtol=1e-9)
    assert solution.bound >= best * (1 - 1e-9)
    # What ends the search, in so few slots: a bound within 0.2 % of the plan, or all that HiGHS found.
    assert 0.99 * best <= solution.value <= best * (1 + 1e-9)


def test_most_small_problems_are_solved_exactly():
    short = [1 - solve_flow(found).value / best_by_brute_force(found) for found in map(small_problem, range(30))]
    assert np.mean(np.array(short) < TIES) > 0.8


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("level", [0.0, 0.3, 1.0])
def test_no_plan_is_better_than_the_bound_of_any_charges(seed, level):
    found = small_problem(seed)
    charge = level * np.random.default_rng(seed).random(len(found.worth.left))
    assert PathFinder(found).best(charge)[1] >= best_by_brute_force(found) - 1e-9


@pytest.mark.parametrize("seed", range(20))
def test_the_best_path_of_one_need_each_is_that_of_brute_force(seed):
    # Without charges nothing keeps a path from taking a need twice; where it does not, it is the best plan.
    found = small_problem(seed)
    runs, bound = PathFinder(found).best(np.zeros(len(found.worth.left)))
    once = len({found.need_index[run.row] for run in runs}) == len(runs)
    if once:
        assert_allclose(plan_value(found, runs), best_by_brute_force(found), rtol=TIES)
        # 1 %: ties are charged by the slot, and there are few.
        assert_allclose(bound, best_by_brute_force(found), rtol=0.01)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(("targets", "filters"), [(10, 5), (20, 4), (20, 1)])
def test_a_long_night_is_within_one_percent_of_the_proven_bound(seed, targets, filters):
    found = large_problem(seed, targets=targets, filters=filters)
    solution = solve_flow(found)
    assert_allclose(solution.value, worth_by_hand(found, solution.runs), rtol=1e-9)
    assert 0 <= solution.gap <= 0.009


def test_the_same_problem_has_the_same_plan():
    first, second = solve_flow(large_problem(3)), solve_flow(large_problem(3))
    assert first == second


def test_nothing_to_do_is_rest():
    solution = solve_flow(problem(np.zeros((2, 6)), group=[0, 1], need_index=[0, 1], wanted=[1, 1]))
    assert (solution.runs, solution.value, solution.bound, solution.gap) == ([], 0, 0, 0)


def test_the_filter_that_suffers_most_from_the_moon_gets_the_dark_half():
    # Both filters are better without the Moon; one loses nine tenths to it, the other half.
    moon = np.repeat([True, False], 12)
    broad, narrow = np.where(moon, 0.1, 1.0), np.where(moon, 0.45, 0.9)
    solution = solve_flow(problem([broad, narrow], group=[0, 0], need_index=[0, 1], wanted=[24, 24], band=0.1, run=3))
    assert [run.row for run in solution.runs] == [1, 0]
    assert solution.runs[0].start == 0
    assert 12 <= solution.runs[1].start <= 16  # the line goes on in the dark until both gain alike


def test_equal_needs_share_the_night_and_the_smaller_comes_first():
    # By hand, from the slope of the square root: equal hours of equal needs; hours as 1 / wanted else.
    equal = solve_flow(problem(np.ones((2, 20)), group=[0, 0], need_index=[0, 1], wanted=[40, 40]))
    assert sorted(run.end - run.start for run in equal.runs) == [10, 10]
    unequal = solve_flow(problem(np.ones((2, 20)), group=[0, 0], need_index=[0, 1], wanted=[40, 120]))
    assert {run.row: run.end - run.start for run in unequal.runs} == {0: 15, 1: 5}


def test_what_is_done_waits_for_what_is_not():
    found = problem(np.ones((2, 10)), group=[0, 1], need_index=[0, 1], wanted=[40, 40], done=[20, 0], change=0.5)
    assert {run.row for run in solve_flow(found).runs} == {1}


def test_a_need_is_met_in_its_best_hours():
    height = np.sin(np.linspace(0.3, np.pi - 0.3, 20))
    found = problem([height], group=[0], need_index=[0], wanted=[height[8:12].sum() - 1e-6])
    assert solve_flow(found).runs == [Run(0, 8, 12)]


def test_priority_decides_between_equals():
    found = problem(np.ones((2, 8)), group=[0, 1], need_index=[0, 1], wanted=[8, 8], weight=[1, 2], change=0.5, block=5)
    assert solve_flow(found).runs == [Run(1, 0, 8)]


def test_a_change_costs_its_time():
    # Two slots and a half of six are lost to a change of target: half of the worth by hand, or one target alone.
    found = problem(np.ones((2, 6)), group=[0, 1], need_index=[0, 1], wanted=[6, 6], change=2.5, block=3)
    alone, both = 1.0, np.sqrt(3 / 6) + np.sqrt(0.5 / 6)
    assert_allclose(solve_flow(found).value, max(alone, both), rtol=1e-9)
    assert_allclose(solve_flow(replace(found, change_cost=0.5)).value, np.sqrt(3 / 6) + np.sqrt(2.5 / 6), rtol=1e-9)


def test_a_run_waits_for_what_is_hidden_for_a_while():
    hidden = [1, 1, 1, 0, 1, 1, 1]
    assert solve_flow(problem([hidden], group=[0], need_index=[0], wanted=[9])).runs == [Run(0, 0, 7)]


def test_no_block_and_no_run_is_too_short():
    found = large_problem(5, run=6, block=12)
    runs = solve_flow(found).runs
    assert all(run.end - run.start >= 6 for run in runs)
    assert plan_value(found, runs) > 0
    assert plan_value(found, [Run(0, 0, 5)]) == -np.inf


def test_a_plan_that_breaks_a_rule_has_no_value():
    found = problem(np.ones((2, 8)), group=[0, 1], need_index=[0, 1], wanted=[8, 8], block=3, change=1.5)
    assert plan_value(found, [Run(0, 0, 4), Run(1, 4, 8)]) > 0
    assert plan_value(found, [Run(0, 0, 2), Run(1, 2, 8)]) == -np.inf  # too short
    assert plan_value(found, [Run(0, 0, 4), Run(1, 5, 8)]) == -np.inf  # a rest too short to slew in
    assert plan_value(found, [Run(0, 0, 3), Run(0, 5, 8)]) == -np.inf  # twice
    assert plan_value(replace(found, gain=np.zeros((2, 8))), [Run(0, 0, 4)]) == -np.inf


@pytest.mark.parametrize("seed", range(20))
def test_a_path_that_works_on_each_need_once_is_the_best_plan_at_any_charges(seed):
    found = small_problem(seed)
    best, finder = best_by_brute_force(found), PathFinder(found)
    charge = 0.3 * np.random.default_rng(seed).random(len(found.worth.left))
    every = list(range(len(charge)))
    for runs, bound in (finder.best(charge, every), finder.among(charge, 0.999 * best).best(charge, every)):
        # 1 %: ties are charged by the slot, and there are few.
        assert_allclose([plan_value(found, runs), bound], best, rtol=0.01)
        assert bound >= best * (1 - 1e-9)
    assert finder.among(charge, 1.02 * best).best(charge, every)[1] < 1.02 * best  # none is worth so much


@pytest.mark.parametrize("seed", range(10))
def test_what_a_like_problem_tells_changes_no_plan(seed):
    found = small_problem(seed)
    like = solve_flow(small_problem(seed))
    assert_allclose(solve_flow(found, like=like, hope=like.value, least=0.9 * like.value).value, like.value, rtol=TIES)
