"""The table of odds against truth by hand, one observer from figures to what they bring, and classes against worlds."""

from dataclasses import replace

import numpy as np
import pytest
from worlds.calibration import CLASSES, Told, from_class, known_mount, perfect_rate, table, tell
from worlds.simulate import simulate
from worlds.suggestions import without_motion
from worlds.world import KINDS, draw_world


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


def test_a_mount_that_moves_no_star_is_held_against_itself():
    # The same nights: medians of four others alone differed by a fifth, and with them which verdict was right.
    world = without_motion(draw_world(9001031))
    size = {"nights": 4, "subs": 24}
    assert perfect_rate(world, **size) == pytest.approx(simulate(world, **size)["unguided"].rate.max(), rel=0.02)


@pytest.mark.parametrize("kind", CLASSES)
def test_a_class_lies_among_the_mounts_of_its_kind(kind):
    mount = known_mount(replace(draw_world(0), kind=kind), "class")
    worlds = [draw_world(5 * seed + KINDS.index(kind)) for seed in range(400)]
    gear = [term.amplitude.value for term in mount.periodic if term.period.value < 60]
    for figure, of_world in ((mount.jitter.value, lambda world: world.jitter),
                             (mount.wander.to_value("arcsec/min(1/2)"), lambda world: world.wander),
                             (mount.periodic[0].amplitude.value, lambda world: world.periodic[0][1]),
                             (max(gear), lambda world: world.periodic[-1][1])):
        low, high = np.percentile([of_world(world) for world in worlds], (5, 95))
        assert low <= figure <= high
