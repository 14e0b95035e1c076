"""The look at the first ten subs: followed by observers drawn at random, it brings what is said."""

import numpy as np
import pytest
from astropy import units as u

from planner.exposure.speed import SUB_LADDER
from planner.exposure.uncertainty.first_subs import first_subs

FIRST = 8


def mounts(count, seed):
    """Return speeds (count, lengths) and the kept share at the first length of mounts of an unknown smoothness."""
    limit = 10 ** np.random.default_rng(seed).normal(2.1, 0.4, (count, 1))  # s: where half of the subs trail
    length = SUB_LADDER.value
    kept = 1 / (1 + (length / limit) ** 4)
    return kept * length / (length + 15), kept[:, FIRST]


def test_a_look_followed_brings_what_was_said():
    found = first_subs(*mounts(400, 1), FIRST)
    assert found.shorter < found.first < found.longer
    speeds, kept = mounts(4000, 2)
    round_ = np.random.default_rng(3).binomial(10, kept)
    length = np.where(round_ == 10, found.longer.value, np.where(round_ <= found.few, found.shorter.value,
                                                                 found.first.value))
    brought = speeds[np.arange(4000), np.searchsorted(SUB_LADDER.value, length)].mean()
    # 0.02: 4000 mounts whose speed scatters by a third, beside 400.
    assert brought / speeds[:, FIRST].mean() - 1 == pytest.approx(found.gain, abs=0.02)
    assert found.gain > 0.05


def test_where_all_mounts_are_alike_nothing_is_to_be_looked_for():
    speeds, kept = mounts(1, 1)
    best = int(np.argmax(speeds[0]))
    assert first_subs(np.repeat(speeds, 8, axis=0), np.repeat(kept, 8), best) is None


def test_the_sentence_names_only_what_changes():
    speeds = np.zeros((2, SUB_LADDER.size))
    speeds[:, FIRST], speeds[0, FIRST + 1] = 1.0, 2.0
    found = first_subs(speeds, np.array([1.0, 0.0]), FIRST)
    assert (found.longer, found.gain) == (SUB_LADDER[FIRST + 1], pytest.approx(0.5))
    assert found.sentence == (f"Look at the first 10 subs of {found.first.value:g} s: if all are round, go on with "
                              f"{found.longer.value:g} s. On average that brings 50 % more.")
    assert found.shorter == found.first == SUB_LADDER[FIRST] > 0 * u.s
