"""How fast everything an observer owns is judged on its mount, in one run.

Run with `pytest tests/benchmarks/test_combinations.py`.
"""

import datetime
from dataclasses import replace

import pytest

from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.files.targets.stars import stars_around
from planner.rig import Reducer
from planner.session.match.combinations import weigh_combinations
from planner.session.match.set_ups import set_ups


@pytest.mark.parametrize(("factors", "count"), [((), 15), ((0.85, 0.75, 0.65, 1.4), 45)])
def test_every_set_up_on_its_mount(benchmark, factors, count):
    demo = load_equipment(packaged_data("equipment.toml"))
    if factors:
        demo = replace(demo, reducers=tuple(Reducer(name=f"{factor} lens", factor=factor) for factor in factors))
    rig, target = demo.rig(), find_target("NGC 7331")
    asked = weigh_combinations(demo, rig, demo.site(), rig.filters[0], target=target,
                               date=datetime.date(2026, 11, 10), stars_around=stars_around)
    assert len(benchmark(lambda: set_ups(asked))) == count
