"""How fast everything an observer owns is judged on its mount, in one run.

Run with `pytest tests/benchmarks/test_combinations.py`.
"""

import datetime

from planner.files.equipment import load_equipment
from planner.files.packaged import packaged_data
from planner.files.targets import find_target
from planner.files.targets.around import stars_around
from planner.session.match.combinations import weigh_combinations
from planner.session.match.set_ups import set_ups


def test_every_set_up_on_its_mount(benchmark):
    demo = load_equipment(packaged_data("equipment.toml"))
    rig, target = demo.rig(), find_target("NGC 7331")
    asked = weigh_combinations(demo, rig, demo.site(), rig.filters[0], target=target,
                               date=datetime.date(2026, 11, 10), stars_around=stars_around)
    assert len(benchmark(lambda: set_ups(asked))) == 15
