"""How fast everything an observer owns is weighed, beside asking the room of exposures for each one, in one run.

Run with `pytest tests/benchmarks/test_combinations.py`.
"""

import time

from exposure.parts import recommend_sub_exposure

from planner.exposure.integration import integration_time
from planner.exposure.scene import observing_scene
from planner.files.equipment import load_equipment
from planner.files.packaged import packaged_data
from planner.files.targets import find_target
from planner.session.match.combinations import weigh_combinations
from planner.session.match.guiding_choice import rig_of
from planner.session.match.set_ups import set_ups


def asked_of_the_demo():
    demo = load_equipment(packaged_data("equipment.toml"))
    rig, target = demo.rig(), find_target("NGC 7331")
    return demo, rig, target


def test_every_combination_of_the_demo(benchmark):
    demo, rig, target = asked_of_the_demo()
    asked = benchmark(lambda: weigh_combinations(demo, rig, demo.site(), rig.filters[0], target=target))
    assert len(asked.weighed) == 45
    start = time.perf_counter()
    for choice in asked.weighed[::9]:
        scene = observing_scene(rig_of(asked, choice), asked.site, asked.band, declination=asked.declination,
                                hour_angle=asked.hour_angle, brightness=asked.goal.brightness)
        integration_time(scene, recommend_sub_exposure(scene), signal_to_noise=10, area=asked.goal.area)
    one_by_one = (time.perf_counter() - start) * 9
    benchmark.extra_info["one by one over ours"] = one_by_one / benchmark.stats["median"]


def test_every_set_up_on_its_mount(benchmark):
    demo, rig, target = asked_of_the_demo()
    asked = weigh_combinations(demo, rig, demo.site(), rig.filters[0], target=target)
    assert len(benchmark(lambda: set_ups(asked))) == 15
