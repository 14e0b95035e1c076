"""The first set-up of the ranking against all of them in simulated worlds; `set_ups.py` runs more."""

from worlds.set_ups import judge
from worlds.world import draw_world


def test_the_first_set_up_costs_little():
    case = judge(draw_world(1001), nights=3, subs=90)
    assert len(case.rates) == 6
    assert max(case.rates.values()) > 1.1 * sorted(case.rates.values())[-2]  # a choice that matters
    assert max(case.regret(0.0), case.regret(0.1)) <= 0.05
