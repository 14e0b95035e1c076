"""The plan as an astroplan Schedule, and an observer's own constraints in the plan, checked with astroplan itself."""

import itertools

import numpy as np
import pytest
from astroplan import AltitudeConstraint, AtNightConstraint, MoonSeparationConstraint, ObservingBlock, TransitionBlock
from astropy import units as u

from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.session.night.plan import plan_night
from planner.session.projects.request import Need, Request
from planner.session.schedule import night_schedule
from planner.visibility import Target, night
from planner.visibility.adapters import allowed_times, fixed_target, observer

DEMO = load_equipment(packaged_data("equipment.toml"))
RIG, SITE, DATE = DEMO.rig("nebulae"), DEMO.site("hill"), "2026-11-10"
LUMINANCE = next(band for band in RIG.filters if band.name == "L")


def requests(*names):
    return [Request(target=find_target(name), needs=(Need(band=LUMINANCE, hours=6 * u.h),)) for name in names]


def plan(*constraints):
    return plan_night(requests("NGC 7331", "NGC 891"), RIG, SITE, night(SITE, DATE).date, constraints=constraints)


@pytest.fixture(scope="module")
def usual():
    return plan()


def test_blocks_are_observing_blocks_at_their_times(usual):
    found = night_schedule(usual).observing_blocks
    assert [block.target.name for block in found] == [block.target.name for block in usual.blocks]
    for block, ours in zip(found, usual.blocks, strict=True):
        assert abs((block.start_time - ours.start).sec) < 1
        assert abs((block.end_time - ours.end).sec) < 1
        assert block.configuration["filter"] == ours.band.name
        # astroplan's own altitude of its own target from its own observer, in the middle, without refraction.
        middle = block.start_time + block.duration / 2
        altitude = block.observer.altaz(middle, block.target).alt
        # 0.7 deg: ours is that of the nearest slot of 5 min, at most 15 deg an hour away.
        assert abs((altitude - ours.altitude).to_value(u.deg)) < 0.7


def test_what_lies_between_is_a_transition_and_nothing_overlaps(usual):
    found = night_schedule(usual)
    moves = [block for block in found.scheduled_blocks if isinstance(block, TransitionBlock)]
    kinds = {name for block in moves for name in block.components}
    assert kinds == {"slew" if event.kind == "target" else event.kind for event in usual.events
                     if event.kind in ("target", "filter", "flip")}
    slots = [slot for slot in found.slots if slot.block]
    assert all((later.start - earlier.end).sec > -1 for earlier, later in itertools.pairwise(slots))
    table = found.to_table()
    assert len(table) == len(slots)
    assert sum(isinstance(slot.block, ObservingBlock) for slot in slots) == len(usual.blocks)


def test_a_plan_keeps_to_an_observers_own_constraints(usual):
    limit = 62 * u.deg
    bound = plan(AltitudeConstraint(min=limit))
    assert bound.blocks
    place = observer(SITE)

    def lowest(found):
        return min(place.altaz(block.start + (block.end - block.start) * np.linspace(0, 1, 7),
                               fixed_target(block.target)).alt.min() for block in found.blocks)

    # 0.3 deg: the minute to which an edge is known, at 15 deg an hour.
    assert lowest(bound) > limit - 0.3 * u.deg
    assert lowest(usual) < limit - 1 * u.deg  # so that the constraint had something to do


def test_a_constraint_that_never_holds_says_so():
    none = plan(MoonSeparationConstraint(min=179.9 * u.deg))
    assert none.blocks == ()
    assert none.reason == "Observable, but your own constraints leave no time."


def test_two_targets_of_one_right_ascension_have_their_own_times():
    dark = night(SITE, DATE).dark
    high, low = (Target("t", 340 * u.deg, dec * u.deg) for dec in (40, -20))
    spans = [allowed_times([AltitudeConstraint(min=30 * u.deg), AtNightConstraint()], one, SITE, *dark)
             for one in (high, low)]
    assert spans[0]
    assert spans[1] == ()
