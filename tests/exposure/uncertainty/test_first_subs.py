"""The look at the first subs: followed by observers drawn at random, it brings what is said."""

import numpy as np
import pytest
from scipy.stats import betabinom

from planner.exposure.speed import SUB_LADDER
from planner.exposure.uncertainty.first_subs import EVENING, _odds_of_counts, first_subs

FIRST = 8


def mounts(count, seed):
    """Return speeds (count, lengths) and the kept share at the first length of mounts of an unknown smoothness."""
    limit = 10 ** np.random.default_rng(seed).normal(2.1, 0.4, (count, 1))  # s: where half of the subs trail
    length = SUB_LADDER.value
    kept = 1 / (1 + (length / limit) ** 4)
    return kept * length / (length + 15), kept[:, FIRST]


def test_a_look_followed_brings_what_was_said():
    found = first_subs(*mounts(400, 1), FIRST)
    assert found.then[0] < found.first < found.then[-1]
    assert np.all(np.diff(found.then) >= 0)
    speeds, kept = mounts(4000, 2)
    draw = np.random.default_rng(3)  # an evening's own share scatters as that of ten independent subs
    round_ = draw.binomial(10, draw.beta(10 * kept + 1e-9, 10 * (1 - kept) + 1e-9))
    length = found.then.value[round_]
    brought = speeds[np.arange(4000), np.searchsorted(SUB_LADDER.value, length)].mean()
    # 0.02: 4000 mounts whose speed scatters by a third, beside 400.
    assert brought / speeds[:, FIRST].mean() - 1 == pytest.approx(found.gain, abs=0.02)
    assert found.gain > 0.05


def test_subs_of_an_evening_are_alike():
    """Beta-binomial law: scipy's."""
    share = np.array([0.0, 0.3, 0.95, 1.0])
    odds = _odds_of_counts(share[:, np.newaxis], 24)
    np.testing.assert_allclose(odds[1:3], [betabinom.pmf(range(25), 24, EVENING * one, EVENING * (1 - one))
                                           for one in share[1:3]], rtol=1e-9)
    assert (odds[0, 0], odds[3, 24]) == (1, 1)


def test_where_all_mounts_are_alike_nothing_is_to_be_looked_for():
    speeds, kept = mounts(1, 1)
    best = int(np.argmax(speeds[0]))
    assert first_subs(np.repeat(speeds, 8, axis=0), np.repeat(kept, 8), best) is None


def test_the_sentence_names_each_length_once():
    speeds = np.zeros((2, SUB_LADDER.size))
    speeds[:, FIRST], speeds[0, FIRST + 1] = 1.0, 2.0
    found = first_subs(speeds, np.array([1.0, 0.5]), FIRST)
    first, longer = SUB_LADDER[FIRST:FIRST + 2].value
    # All ten are round with the second mount in one evening of a hundred.
    np.testing.assert_array_equal(found.then.value, [*[first] * 10, longer])
    assert found.sentence == (f"Look at the first 10 subs of {first:g} s and go on by how many are round. "
                              f"All: {longer:g} s, 9 or fewer: {first:g} s. On average that brings 49 % more.")
