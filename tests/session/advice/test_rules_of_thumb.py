"""The rules of thumb beside the answer: what they say by hand, and what following them loses."""

import datetime
from dataclasses import replace

import pytest
from astropy import units as u
from session.advice.test_advice import ask, demo  # noqa: F401

from planner.exposure.guide_need import guide_need
from planner.exposure.integration import integration_time
from planner.exposure.sub_exposure import speed_curve, still_share
from planner.files.targets import find_target
from planner.session.advice.answer import advise
from planner.session.advice.rules_of_thumb import rules_of_thumb


def test_the_sky_rule_is_its_arithmetic(demo):  # noqa: F811
    advice = ask(demo)
    sky, *_ = rules_of_thumb(advice)
    # Ten times the read noise squared, in sky electrons of one pixel.
    assert float(advice.scene.sky_rate.value * sky.sub_exposure.value) == pytest.approx(
        10 * advice.scene.read_noise.value**2)


def test_what_a_length_loses_is_the_rest_of_its_speed(demo):  # noqa: F811
    advice = ask(demo, rig="wide")
    _, by_eye, _ = rules_of_thumb(advice)
    assert by_eye.sub_exposure == 20 * u.s  # no guider
    # The mount of this rig hardly moves a star in 20 s: the loss is the clock's and the read noise's alone.
    speed = speed_curve(advice.scene, still_share(advice.scene), [20.0]).speed[0]
    assert by_eye.loses == pytest.approx(1 - speed / advice.better.speed, abs=0.03)


@pytest.mark.parametrize("camera", [{}, {"register_well": 3e5 * u.electron, "read_noise": 9 * u.electron}])
def test_binning_by_the_rule_followed_takes_the_time_that_it_says(demo, camera):  # noqa: F811
    rig = demo.rig("old pier")
    rig = replace(rig, camera=replace(rig.camera, **camera))
    target, site, night = find_target("NGC 7331"), demo.site(), datetime.date(2026, 11, 10)
    advice = advise(target, rig, site, night)
    *_, pixels = rules_of_thumb(advice)
    assert pixels.binning > 1
    followed = advise(target, replace(rig, binning=pixels.binning).as_read(), site, night)
    way = followed.need.guided if advice.better is advice.need.guided else followed.need.unguided
    time = integration_time(followed.scene, way, signal_to_noise=advice.goal.ratio, area=advice.goal.area).clock_time
    assert pixels.loses == pytest.approx(1 - float(advice.total.clock_time / time), abs=0.05)
    assert ("gains" in pixels.sentence) is bool(camera)  # charges added before the read are read once


def test_an_advice_without_verdict_has_no_rules(demo):  # noqa: F811
    assert rules_of_thumb(ask(demo, name="NGC 104")) == ()


def test_a_length_as_good_as_the_best_loses_nothing(demo):  # noqa: F811
    advice = ask(demo)
    assert guide_need(advice.scene, guide_star=advice.star).verdict == "guided"
    assert [rule.sentence.endswith("loses nothing.") for rule in rules_of_thumb(advice)][1]
