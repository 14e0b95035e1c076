"""The advice before and after a measurement: both verdicts in a sentence, and the target it is shown for."""

import datetime
from dataclasses import replace

import pytest
from astropy import units as u

from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target, find_targets
from planner.session.advice.answer import advise
from planner.session.advice.change import advice_change, typical_target

NOVEMBER = datetime.date(2026, 11, 10)  # one day after the new Moon of 2026 November 9, 07:02 UTC
TARGETS = ("NGC 7331", "NGC 891", "NGC 253", "NGC 3372")


@pytest.fixture(scope="module")
def demo():
    return load_equipment(packaged_data("equipment.toml"))


def test_a_mount_measured_as_it_was_changes_nothing(demo):
    rig = demo.rig("nebulae")
    change = advice_change(rig, rig, demo.site("hill"), find_target("NGC 891"), NOVEMBER)
    assert not change.changed
    assert change.sentence.startswith('The advice stays (rig "nebulae", night of 2026-11-10): Guide: ')
    assert "NGC 891" in change.sentence


def test_a_better_mount_changes_the_verdict(demo):
    before, target = demo.rig("nebulae"), find_target("NGC 891")
    after = replace(before, mount=demo.rig("galaxies").mount)
    change = advice_change(before, after, demo.site("hill"), target, NOVEMBER)
    assert change.changed
    for advice, rig in ((change.before, before), (change.after, after)):
        alone = advise(target, rig, demo.site("hill"), NOVEMBER)
        assert (advice.need.verdict, advice.better.recommended) == (alone.need.verdict, alone.better.recommended)
        assert f"{alone.better.recommended.to_value(u.s):g} s subs for NGC 891" in change.sentence
    assert change.sentence.index("before, Guide: ") < change.sentence.index("now, Guide or not")
    assert "Without guiding, " in change.sentence


def test_a_target_that_never_rises_is_an_answer(demo):
    rig = demo.rig("nebulae")
    change = advice_change(rig, rig, demo.site("hill"), find_target("NGC 3372"), NOVEMBER)
    assert change.sentence.endswith("NGC 3372 (Carina Nebula): never high enough from here.")


@pytest.mark.parametrize(("site", "name"), [("hill", "NGC 891"), ("paddock", "NGC 253")])
def test_the_typical_target_is_the_highest_that_is_up(demo, site, name):
    # Declinations +42.3 and -25.3: 5 and 6.5 deg from the zenith of the sites when they transit, in the evening.
    found = typical_target(demo.site(site), NOVEMBER, find_targets(TARGETS), rig=demo.rig(None))
    assert found.name == name


def test_with_nothing_up_the_highest_of_other_nights_is_taken(demo):
    # In May none of them stands 30 deg high over the hill while it is dark.
    found = typical_target(demo.site("hill"), datetime.date(2026, 5, 10), find_targets(("NGC 253", "NGC 891")),
                           rig=demo.rig(None))
    assert found.name == "NGC 891"
