"""The targets worth beginning: over all sets, against brute force."""

import itertools

import numpy as np
import pytest
from numpy.testing import assert_allclose
from session.night_problems import best_by_brute_force, problem

from planner.session.night.choice import best_sets, best_stays
from planner.session.night.slots.shortlist import BestCases


def sets(*whole):
    return best_sets(best_stays(*whole))


def one_need_each(seed):
    """Return three targets of one need each, and what it costs to begin them."""
    rng = np.random.default_rng(seed)
    gain = rng.uniform(0.2, 1, (3, 7)) * (rng.random((3, 7)) > 0.15)
    band = rng.uniform(0, 0.3)
    found = problem(gain, group=[0, 1, 2], need_index=[0, 1, 2], wanted=rng.uniform(1, 7, 3),
                    weight=rng.uniform(0.5, 2, 3), change=band, band=band, block=int(rng.integers(1, 4)))
    return found, rng.uniform(0, 0.6, 3)


@pytest.mark.parametrize("seed", range(12))
def test_the_best_set_is_that_of_brute_force(seed):
    found, cost = one_need_each(seed)
    net = {some: best_by_brute_force(found.among(some)) - cost[list(some)].sum()
           for size in range(1, 4) for some in itertools.combinations(range(3), size)}
    brought, chosen = sets(found, [[0], [1], [2]], lambda target, gained: np.ones_like(gained), cost)[0]
    # 0.5 %: ties are charged by the slot, and there are few.
    assert_allclose(brought, max(net.values()), rtol=5e-3, atol=5e-3)
    assert_allclose(net[tuple(sorted(chosen))], max(net.values()), rtol=5e-3, atol=5e-3)


def test_a_picture_that_would_lack_a_band_is_not_begun():
    # Two bands of six slots each; the first target is up for one of them alone, the second for both and worth less.
    up = np.repeat([[1, 0], [0, 0], [1, 1], [1, 1]], 6, axis=1)
    found = problem(up, group=[0, 0, 1, 1], need_index=[0, 1, 2, 3], wanted=[6, 6, 6, 6], weight=[1.5, 1.5, 1, 1],
                    run=3, block=3)

    def counts(target, gained):
        return np.repeat(np.where(gained.min(axis=-1, keepdims=True) > 0, 1.0, 0.1), 2, axis=-1)

    needs, cost = [[0, 1], [2, 3]], np.full(2, 0.3)
    assert sets(found, needs, counts, cost)[0][1] == {1}
    assert sets(found, needs, lambda target, gained: np.ones_like(gained), cost)[0][1] == {0, 1}


@pytest.mark.parametrize("seed", range(20))
def test_no_stay_brings_more_than_the_best_hours_of_each_filter(seed):
    # Two targets of three filters, which have their hours at other times.
    rng = np.random.default_rng(seed)
    gain = rng.uniform(0.2, 1, (6, 9)) * (rng.random((6, 9)) > 0.3)
    found = problem(gain, group=[0, 0, 0, 1, 1, 1], need_index=range(6), wanted=rng.uniform(1, 5, 6),
                    weight=rng.uniform(0.5, 2, 6), change=0.2, band=0.1, block=2)
    stays = best_stays(found, [[0, 1, 2], [3, 4, 5]], lambda target, gained: np.ones_like(gained), np.zeros(2))
    most = BestCases(gain=gain, owner=np.repeat([0, 1], 3), worth=found.worth, least_run=found.least_run,
                     requests=2).most()
    for target, stay in stays.items():
        assert stay.max() <= most[target] + 1e-9
        # By hand for one filter that wants all: all hours that it has. Three filters share no more than each has alone.
        alone = [found.worth.of(gain[row].sum(), row) for row in np.flatnonzero(found.target == target)]
        assert max(alone) - 1e-9 <= most[target] <= sum(alone) + 1e-9
