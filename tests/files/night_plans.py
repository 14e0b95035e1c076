"""Plans of the demo for the tests of what is written: a usual one, and stretched ones."""

import datetime
import functools
from dataclasses import replace

from astropy import units as u

from planner.files import find_targets, load_equipment
from planner.session.night.model import Event
from planner.session.night.plan import plan_night
from planner.session.projects.default_request import default_request

EVIL = 'M 1; "x", <b>&\\ ÄÖ星 ' + "long " * 12


@functools.cache
def demo_plan(site="hill", date=datetime.date(2026, 11, 12), names=("NGC 7331", "NGC 891", "M 33", "IC 434", "NGC 253"),
              rig="nebulae"):
    """Return the plan of a usual night."""
    gear = load_equipment(None)
    return plan_night([default_request(target, gear.rig(rig)) for target in find_targets(names)], gear.rig(rig),
                      gear.site(site), date)


def flipped():
    """Return a plan with a flip between two blocks of one target."""
    plan = demo_plan()
    first, second = plan.blocks[0], plan.blocks[0]
    first = replace(first, pier_side="west", above_pole="west", end=first.start + 1 * u.h)
    second = replace(second, pier_side="east", above_pole="east", start=first.end + 6 * u.min,
                                   end=first.end + 2 * u.h)
    flip = Event(kind="flip", start=first.end, end=second.start, text="flip to the east of the pier")
    return replace(plan, blocks=(first, second), events=(flip,))


def crowded(count=40):
    """Return a plan of many short blocks, with flips and long notes."""
    plan = demo_plan()
    block, events, blocks = plan.blocks[0], [], []
    for number in range(count):
        start = block.start + 15 * number * u.min
        blocks.append(replace(block, start=start, end=start + 12 * u.min, refocus=(start + 3 * u.min,)))
        if number % 5 == 0:
            events.append(Event(kind="flip", start=start + 12 * u.min, end=start + 15 * u.min, text="flip " * 10))
    return replace(plan, blocks=tuple(blocks), events=tuple(events), notes=("a long note " * 15,) * 3)


def evil():
    """Return a plan whose target has every character that a format could stumble over."""
    plan = demo_plan()
    block = replace(plan.blocks[0], target=replace(plan.blocks[0].target, name=EVIL.strip()))
    return replace(plan, blocks=(block,), site=replace(plan.site, name="a, b; c"))


def empty():
    """Return a plan without blocks: the southern targets from the hill."""
    return demo_plan(names=("NGC 3372", "NGC 1316"))
