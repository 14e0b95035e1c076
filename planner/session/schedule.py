"""A night's plan as an astroplan Schedule, for those who work with its tables and plots."""

from astropy import units as u

from planner.session.night.model import Block, NightPlan
from planner.visibility.adapters import Schedule, schedule

BETWEEN = {"target": "slew", "filter": "filter", "flip": "flip"}  # events between blocks, and what they are called


def night_schedule(plan: NightPlan) -> Schedule:
    """Return the blocks of a plan as ObservingBlocks, and slews, filters and flips between them as TransitionBlocks.

    Pauses for the focus are part of their block. An empty plan gives an empty Schedule of the dark time.
    """
    dark = plan.dark or (plan.night.start, plan.night.end)
    events = [event for event in plan.events if event.kind in BETWEEN]
    return schedule(
        plan.site, min([dark[0], *(event.start for event in events)]),
        max([dark[1], *(block.end for block in plan.blocks)]),
        [(block.target, block.start, block.end, _configuration(block)) for block in plan.blocks],
        [(BETWEEN[event.kind], event.start, event.end) for event in events])


def _configuration(block: Block) -> dict[str, object]:
    side = {"pier side": block.pier_side} if block.pier_side else {}
    return {"filter": block.band.name, "subs": block.sub_count, "sub_exposure_s": block.sub_exposure.to_value(u.s),
            "guided": block.guided, **side}
