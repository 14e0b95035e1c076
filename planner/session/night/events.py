"""What happens between the subs: slews, focus, filters, flips; and the flip of each target."""

import itertools

from astropy import units as u

from planner.session.night.model import Block, Event, Outlook, PlannedFlip
from planner.session.worth.times import Times
from planner.visibility import Flip
from planner.visibility.earth_rotation import elapsed, later, mjd_tt


def flips_of(outlooks: tuple[Outlook, ...], blocks: tuple[Block, ...]) -> tuple[PlannedFlip, ...]:
    """Return every flip that a target would need to use all of its time, and when the plan makes it."""
    found = []
    for outlook in outlooks:
        target = outlook.request.target
        own = [(before, after) for before, after in itertools.pairwise(blocks)
               if before.target.name == after.target.name == target.name and before.above_pole != after.above_pole]
        planned = outlook.reach.meridian.flips
        rows = [_row(pair, planned) for pair in own]
        for flip in planned:
            made = next((pair for pair, row in zip(own, rows, strict=True) if row is flip), None)
            found.append(PlannedFlip(
                target=target, earliest_tt=flip.earliest_tt, latest_tt=max(flip.earliest_tt, flip.latest_tt),
                # Until the far side begins the telescope waits.
                planned=None if made is None else max(made[0].end, flip.earliest, key=mjd_tt),
                lost=0 * u.min if made is None else elapsed(made[0].end, made[1].start).to(u.min)))
    return tuple(found)


def _row(pair: tuple[Block, Block], flips: tuple[Flip, ...]) -> Flip | None:
    """Return which of a target's flips leads from one block to the next: to that side, the nearest in time."""
    return min(flips, default=None, key=lambda flip: (flip.side != pair[1].above_pole,
                                                      abs(elapsed(pair[0].end, flip.planned))))


def timeline(blocks: tuple[Block, ...], times: Times | None, flips: tuple[PlannedFlip, ...]) -> tuple[Event, ...]:
    """Return what leads from block to block and interrupts them, in order of time; nothing for an empty plan."""
    if not blocks or times is None:
        return ()
    events = [_first(blocks[0], times)]
    for before, after in itertools.pairwise(blocks):
        events += _between(before, after, times, flips)
    for block in blocks:
        events += [Event(kind="focus", start=at, end=later(at, times.focus), text="focus") for at in block.refocus]
    return tuple(sorted(events, key=lambda event: float(mjd_tt(event.start))))


def _first(block: Block, times: Times) -> Event:
    return Event(kind="target", start=later(block.start, -times.change), end=block.start,
                 text=f"slew to {block.target.name}, centre, focus")


def _between(before: Block, after: Block, times: Times, flips: tuple[PlannedFlip, ...]) -> list[Event]:
    """Return what leads from one block to the next."""
    if before.target.name != after.target.name:
        leaving = max(before.end, later(after.start, -times.change), key=mjd_tt)
        return [Event(kind="target", start=leaving, end=after.start,
                      text=f"slew to {after.target.name}, centre, focus")]
    if before.above_pole != after.above_pole:
        change = "" if before.band.name == after.band.name else f", filter {after.band.name}"
        moments = [flip.planned for flip in flips if flip.target.name == after.target.name and flip.planned is not None
                   and mjd_tt(before.end) <= mjd_tt(flip.planned) <= mjd_tt(after.start)]
        return [Event(kind="flip", start=max([before.end, *moments], key=mjd_tt), end=after.start,
                      text=f"flip to the {after.pier_side} of the pier{change}; the picture turns by 180°")]
    if before.band.name == after.band.name:
        return []
    return [Event(kind="filter", start=max(before.end, later(after.start, -times.band), key=mjd_tt), end=after.start,
                  text=f"filter {after.band.name}")]
