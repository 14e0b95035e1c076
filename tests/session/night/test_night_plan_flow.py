"""The plan as a flow: against brute force, against simpler answers, and how near the proven bound it comes."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from session.night_problems import best_by_brute_force, large_problem, problem, small_problem

from planner.session.optimum import solve as plan_solve
from planner.session.optimum.path import PathFinder
from planner.session.optimum.problem import IDLE, plan_value, runs
from planner.session.optimum.solve import solve_flow


@pytest.mark.parametrize("seed", range(30))
def test_as_good_as_brute_force_and_never_over_the_bound(seed):
    found = small_problem(seed)
    best, solution = best_by_brute_force(found), solve_flow(found)
    # 1e-6: what HiGHS calls optimal by default.
    assert_allclose(solution.value, best, rtol=1e-6)
    assert plan_value(found, solution.state) == solution.value
    assert solution.bound >= best - 1e-9
    assert_allclose(solution.bound, best, rtol=1e-6)


@pytest.mark.parametrize("seed", range(30))
def test_prices_bound_the_optimum_too(seed, monkeypatch):
    # The way of a long night, forced on a small problem.
    monkeypatch.setattr(plan_solve, "WHOLE", 0)
    found = small_problem(seed)
    best, solution = best_by_brute_force(found), solve_flow(found)
    assert solution.value <= best + 1e-9
    assert solution.bound >= best - 1e-9


@pytest.mark.parametrize("seed", range(30))
def test_the_best_path_without_needs_is_that_of_brute_force(seed):
    found = small_problem(seed)
    endless = replace(found, need=np.full(len(found.need), 1e3))
    path = PathFinder(endless).best(np.zeros(len(found.need)))
    best = best_by_brute_force(endless)
    assert_allclose(path.bound, best, rtol=1e-12)
    assert_allclose(plan_value(endless, path.state), best, rtol=1e-12)


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("level", [0.0, 0.5, 1.0])
def test_no_plan_is_better_than_the_bound_of_any_prices(seed, level):
    found = small_problem(seed)
    price = level * np.random.default_rng(seed).random(len(found.need))
    path = PathFinder(found).best(price)
    assert path.bound >= best_by_brute_force(found) - 1e-9
    assert plan_value(found, path.state) > -np.inf


def test_a_run_longer_than_its_need_brings_no_more_than_the_need():
    # By hand: blocks of three slots for two needs of two and a half, a change between: 2.5 + 2.5 - 1. To work on for
    # six slots would bring 6 if what is beyond the need counted.
    found = problem(np.ones((2, 6)), target=[0, 1], need_index=[0, 1], need=[2.5, 2.5], change=1, block=3)
    assert PathFinder(found).best(np.zeros(2)).bound == 4
    assert best_by_brute_force(found) == 4


@pytest.mark.parametrize("seed", range(30))
def test_blocks_much_longer_than_runs_keep_their_length(seed):
    found = replace(small_problem(seed), minimum_block=5, minimum_run=1)
    endless = replace(found, need=np.full(len(found.need), 1e3))
    best, price = best_by_brute_force(endless), np.zeros(len(found.need))
    path = PathFinder(endless).best(price)
    assert_allclose([path.bound, plan_value(endless, path.state)], best, rtol=1e-12, atol=1e-12)
    assert PathFinder(found).best(price).bound >= best_by_brute_force(found) - 1e-9


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize(("targets", "filters"), [(10, 5), (20, 4), (20, 1)])
def test_a_long_night_is_within_one_percent_of_the_proven_bound(seed, targets, filters):
    found = large_problem(seed, targets=targets, filters=filters)
    solution = solve_flow(found)
    assert plan_value(found, solution.state) == solution.value
    assert 0 <= solution.gap <= 0.01


def test_the_same_problem_has_the_same_plan():
    first, second = solve_flow(large_problem(3)), solve_flow(large_problem(3))
    assert np.array_equal(first.state, second.state)
    assert (first.value, first.bound) == (second.value, second.bound)


def test_nothing_to_do_is_rest():
    solution = solve_flow(problem(np.zeros((2, 6)), target=[0, 1], need_index=[0, 1], need=[1, 1]))
    assert np.all(solution.state == IDLE)
    assert (solution.value, solution.bound, solution.gap) == (0, 0, 0)


def test_the_filter_that_suffers_most_from_the_moon_gets_the_dark_half():
    # Both filters are better without the Moon; one loses nine tenths to it, the other half.
    moon = np.repeat([True, False], 12)
    broad, narrow = np.where(moon, 0.1, 1.0), np.where(moon, 0.45, 0.9)
    solution = solve_flow(problem([broad, narrow], target=[0, 0], need_index=[0, 1], need=[12, 12], band=0.1, run=3))
    assert np.all(solution.state[~moon] == 0)
    assert np.all(solution.state[moon] == 1)


def test_a_need_that_is_met_is_left():
    worth = [np.ones(12), np.full(12, 0.6)]
    solution = solve_flow(problem(worth, target=[0, 1], need_index=[0, 1], need=[5, 12], change=0.5))
    assert np.count_nonzero(solution.state == 0) == 5
    assert_allclose(solution.value, 5 + 7 * 0.6 - 0.5 * solution_change_worth(solution.state))


def solution_change_worth(state):
    """Return what the slot in which the second target is entered is worth, of either."""
    after = [value for value, _, _ in runs(state)][-1]
    return {0: 1.0, 1: 0.6}[after]


def test_a_need_is_met_in_its_best_hours():
    height = np.sin(np.linspace(0.3, np.pi - 0.3, 20))
    found = problem([height], target=[0], need_index=[0], need=[height[8:12].sum() - 1e-6], work=0.005)
    assert np.flatnonzero(solve_flow(found).state == 0).tolist() == [8, 9, 10, 11]


def test_priority_decides_between_equals():
    worth = np.array([np.ones(8), np.full(8, 2.0)])
    assert np.all(solve_flow(problem(worth, target=[0, 1], need_index=[0, 1], need=[8, 16], change=0.5)).state == 1)


@pytest.mark.parametrize(("cost", "flips"), [(0.5, 1), (5.2, 0)])
def test_a_flip_is_made_when_it_pays(cost, flips):
    # Five slots are left for the other side: a flip that takes more is not worth it, in a rest either.
    west, east = np.where(np.arange(12) < 7, 1.0, 0), np.where(np.arange(12) > 6, 1.0, 0)
    solution = solve_flow(problem([west, east], target=[0, 0], need_index=[0, 0], side=[0, 1], need=[12], flip=cost,
                                  change=cost + 0.1, band=0.1, block=2))
    assert len([value for value, _, _ in runs(solution.state) if value != IDLE]) == 1 + flips


def test_a_rest_is_long_enough_to_enter_the_next_target():
    found = problem([[1, 1, 0, 0, 0, 0], [0, 0, 0, 1, 1, 1]], target=[0, 1], need_index=[0, 1], need=[6, 6], change=2.5)
    assert plan_value(found, np.array([0, 0, IDLE, 1, 1, 1])) == -np.inf
    assert solve_flow(found).value == plan_value(found, np.array([0, 0, IDLE, IDLE, IDLE, 1])) == 3
    assert solve_flow(replace(found, change_cost=1.0)).value == 5


def test_no_block_and_no_run_is_too_short():
    found = large_problem(5)
    state = solve_flow(found).state
    target = np.where(state == IDLE, IDLE, found.target[state])
    assert all(length >= found.minimum_block for value, _, length in runs(target) if value != IDLE)
    assert all(length >= found.minimum_run for value, _, length in runs(state) if value != IDLE)


def test_a_plan_that_breaks_a_rule_has_no_value():
    found = problem([np.ones(6), np.ones(6)], target=[0, 1], need_index=[0, 1], need=[6, 6], block=3)
    assert plan_value(found, np.array([0, 0, 0, 1, 1, 1])) == 6
    assert plan_value(found, np.array([0, 0, 1, 1, 1, 1])) == -np.inf
    assert plan_value(replace(found, worth=np.zeros((2, 6))), np.array([0, 0, 0, 1, 1, 1])) == -np.inf
