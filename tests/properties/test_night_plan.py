"""Properties of every plan: the bound holds, rules are kept, more wishes never make it poorer."""

import itertools
from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from session.night_problems import large_problem, small_problem

from planner.session.night.slots.lengths import common_lengths
from planner.session.optimum.path import PathFinder
from planner.session.optimum.problem import plan_value
from planner.session.optimum.solve import solve_flow

seeds = st.integers(min_value=0, max_value=10**6)


@given(seeds)
@settings(max_examples=15)
def test_a_plan_keeps_the_rules_and_its_value_the_bound(seed):
    found = large_problem(seed, targets=4, filters=3, slots=60)
    solution = solve_flow(found)
    assert plan_value(found, solution.runs) == solution.value
    assert 0 <= solution.value <= solution.bound


@given(seeds, st.floats(min_value=0.1, max_value=10))
@settings(max_examples=20)
def test_the_unit_of_worth_does_not_matter(seed, factor):
    found = small_problem(seed)
    scaled = replace(found, worth=replace(found.worth, weight=found.worth.weight * factor))
    assert_allclose(solve_flow(scaled).value, factor * solve_flow(found).value, rtol=1e-3, atol=1e-9)


@given(seeds, st.lists(st.floats(min_value=0, max_value=1), min_size=3, max_size=3))
@settings(max_examples=30)
def test_any_charges_prove_a_bound(seed, charges):
    found = small_problem(seed)
    charge = np.resize(charges, len(found.worth.left))
    assert PathFinder(found).best(charge)[1] >= solve_flow(found).value - 1e-9


@given(st.integers(min_value=1, max_value=12), seeds)
def test_every_block_gets_a_length_that_is_good_for_it(blocks, seed):
    rng = np.random.default_rng(seed)
    share, durations = rng.uniform(0.93, 1, (blocks, 20)) * (rng.random((blocks, 20)) < 0.4), rng.uniform(9, 90, blocks)
    chosen = common_lengths(share, durations)
    for row, length in zip(share, chosen, strict=True):
        assert row[length] >= 0.95 if (row >= 0.95).any() else length == -1


def test_how_whole_subs_fill_a_block_moves_no_length_that_is_good():
    # The second length, as an advice recommends, is good too where whole subs are counted: the third fits a bit better.
    whole, endless = np.array([[0.90, 0.97, 1.00, 0.96]]), np.array([[0.97, 0.995, 1.00, 0.99]])
    assert common_lengths(whole, np.array([60.0])) == 2
    assert common_lengths(whole, np.array([60.0]), endless) == 1
    assert common_lengths(np.array([[0.90, 0.94, 1.00, 0.96]]), np.array([60.0]), endless) == 2  # no longer good


@given(st.integers(min_value=1, max_value=6), seeds)
def test_no_fewer_lengths_would_do_for_all_blocks(blocks, seed):
    rng = np.random.default_rng(seed)
    share, durations = rng.uniform(0.9, 1, (blocks, 7)), rng.uniform(9, 90, blocks)
    used = set(common_lengths(share, durations)) - {-1}
    able = share[(share >= 0.95).any(axis=1)] >= 0.95
    fewest = next(count for count in range(8)
                  if any(able[:, list(some)].any(axis=1).all() for some in itertools.combinations(range(7), count)))
    assert len(used) == fewest
