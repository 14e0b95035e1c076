"""The first set-up of the ranking against all of them in simulated worlds; `set_ups.py` runs more."""

import pytest
from worlds.set_ups import judge
from worlds.world import draw_world


@pytest.mark.parametrize("seed", [1001, 1002])
def test_the_first_set_up_costs_little(seed):
    case = judge(draw_world(seed), nights=3, subs=90)
    assert len(case.rates) == 6
    assert max(case.rates.values()) > 1.1 * sorted(case.rates.values())[-2]  # a choice that matters
    assert case.regret(0.0) <= 0.05
