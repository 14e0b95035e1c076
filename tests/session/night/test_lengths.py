"""The length of subs that a plan takes: as an advice's, whatever minute a block ends in."""

import numpy as np

from planner.exposure.speed import SUB_LADDER
from planner.session.night.slots.lengths import common_lengths, length_shares
from planner.session.night.slots.slot_worth import FilterWorth

LENGTHS, OVERHEAD_S = SUB_LADDER.value, np.full(SUB_LADDER.size, 5.0)


def steady_worth():
    """What a need counts for by the CCD equation, read noise worth half a minute of sky, at every moment alike."""
    rate = LENGTHS / (LENGTHS + OVERHEAD_S) * LENGTHS / (LENGTHS + 30)
    rate = np.where(LENGTHS > 900, 0.0, rate)  # longer ones trail
    every = np.repeat(rate[np.newaxis, :, np.newaxis], 4, axis=2)
    return FilterWorth(rate=every, open_share=every, open_rate=every, hours_for=np.nan,
                        still_rate=np.ones(0))


def chosen(minutes):
    share = length_shares(steady_worth(), slice(None), 60 * minutes, OVERHEAD_S, guided=False)
    return LENGTHS[common_lengths(share[np.newaxis], np.array([60.0 * minutes]))[0]]


def test_the_minute_in_which_a_long_block_ends_changes_no_length():
    lengths = [chosen(minutes) for minutes in range(150, 600)]
    assert lengths == sorted(lengths)  # half of a long sub is lost at the end: less, the longer the block
    assert len(set(lengths)) <= 3


def test_a_short_block_takes_what_fits():
    for minutes in range(5, 60):
        length = chosen(minutes)
        count = (60 * minutes + 5) // (length + 5)
        assert count >= 3 or length == LENGTHS[0]


def test_without_darks_each_filter_has_its_own_best_length():
    # Two filters, best at the ends; the step between them is within 95 % of both bests.
    share, durations = np.array([[1.0, 0.96, 0.9], [0.9, 0.96, 1.0]]), np.array([3600.0, 3600.0])
    assert list(common_lengths(share, durations)) == [1, 1]
    assert list(common_lengths(share, durations, few=False)) == [0, 2]
