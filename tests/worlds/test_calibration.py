"""The table of odds against truth by hand, and one observer from figures to what they bring."""

import pytest
from worlds.calibration import Told, from_class, table, tell
from worlds.simulate import simulate
from worlds.world import draw_world


def told(share, truth):
    return Told(1, "class", True, {"guided": share, "either": 1 - share}, truth, 0.01, 0.01, 0.02, 0.03)


def test_the_table_counts_the_verdicts_that_came_true_by_the_odds_given():
    text = table([told(0.8, "guided"), told(0.8, "either"), told(0.95, "guided")])
    assert "given 70% to 90%:   2, mean  80%, right  50%" in text
    assert "given 90% to 100%:   1, mean  95%, right 100%" in text
    assert "the length best on average: mean 1.0 %" in text


def test_an_observer_of_a_worm_on_a_long_telescope_is_told_to_guide_and_should():
    world = from_class(draw_world(3000055))
    assert (world.kind, world.guider is not None, world.focal_mm > 1500) == ("worm", True, True)
    found = tell(world, "class", simulate(world, nights=2, subs=48), draws=8)
    assert found.truth == "guided"
    assert found.odds["guided"] > 0.8
    assert found.average == pytest.approx(0, abs=0.25)
