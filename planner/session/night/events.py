"""What happens between the subs: slews, focus, filters, flips; the flip of each target; why a while stays empty."""

import itertools
from collections.abc import Sequence

import numpy as np
from astropy import units as u

from planner.session.night.limits import NightLimits
from planner.session.night.model import Block, Event, Outlook, PlannedFlip
from planner.session.night.slots.blocks import State, SubBlock
from planner.session.night.slots.windows import Slots, Stretch
from planner.session.worth.times import Times
from planner.visibility import Flip, utc_time
from planner.visibility.earth_rotation import elapsed, later, mjd_tt

MET_WITHIN = 0.05  # h that a need may lack and is told as met: it reads so
LEAST_REST = 5 / 1440  # days: shorter ones need no word (common practice, no source)
FLIP = "nothing to expose: the other side of the pier cannot begin yet"
DOWN = "nothing to expose: no target can be worked on"
MET = "nothing to expose: what can be worked on has the hours that it wants, through the filters asked for"
SHORT = "nothing to expose: no target can be worked on for a stay of {stay:.0f} min"
TIGHT = "nothing to expose: the time is too short for a stay of {stay:.0f} min"
FAINT = "nothing to expose: too little would count, so near the Moon or so low"
LESS = "nothing to expose: no other stay brings more"


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


def rests(states: list[State], laid: list[SubBlock], left: np.ndarray, span: tuple[float, float], slots: Slots,
          times: Times, covered: float, others: Sequence[Stretch]) -> tuple[Event, ...]:
    """Return the rests of a plan with their reasons, in order of time.

    `laid`: in order of time. `left` (needs,): equivalent hours that the plan leaves to be done. `span`: the dark that
    is used, MJD in TT. `covered`: until when darks are taken after the last block, MJD in TT. `others`: stretches of
    what is wanted and was not planned with, so that the targets chosen get longer.
    """
    pause = times.change.to_value(u.day)
    edges = [(span[0], laid[0].start - pause, False)] if laid else []
    for before, after in itertools.pairwise(laid):
        same = states[before.state].target == states[after.state].target
        flip = same and states[before.state].side != states[after.state].side
        edges.append((before.end, after.start - (times.flip.to_value(u.day) if flip else pause), flip))
    edges += [(covered, span[1], False)] if laid else []
    return tuple(Event(kind="rest", start=utc_time(start), end=utc_time(end),
                       text=FLIP if flip else _why(states, left, start, end, slots, times, others))
                 for start, end, flip in edges if end - start >= LEAST_REST)


def _why(states: list[State], left: np.ndarray, start: float, end: float, slots: Slots, times: Times,
         others: Sequence[Stretch]) -> str:
    stay = times.minimum_block.to_value(u.day)
    open_to = [(min(part.end, end) - max(part.start, start), left[state.need]) for state in states
               for part in state.stretches]
    beside = [min(part.end, end) - max(part.start, start) for part in others]
    usable = [length for length in (*(length for length, hours in open_to if hours > MET_WITHIN), *beside)
              if length >= LEAST_REST]
    if not usable:
        return MET if any(length >= LEAST_REST for length, _ in open_to) else DOWN
    bright = any(state.worth.best[slots.at(start):slots.at(end) + 1].any() for state in states)
    if not bright and max(beside, default=0.0) < LEAST_REST:
        return FAINT
    least = stay + times.change.to_value(u.day)
    why = TIGHT if end - start < least else SHORT if max(usable) < least else LESS
    return why.format(stay=times.minimum_block.to_value(u.min))


def span_of(edges: np.ndarray, limits: NightLimits) -> tuple[float, float]:
    """Return from when to when (MJD in TT) the slots and an observer's hours let one work."""
    begin, until = (None if time is None else float(mjd_tt(time)) for time in (limits.begin, limits.until))
    return (max(edges[0], edges[0] if begin is None else begin), min(edges[-1], edges[-1] if until is None else until))
