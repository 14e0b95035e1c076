"""What happens besides exposing: flats, slews, focus, filters, flips, darks; and the flip of each target.

Calibration frames are common practice, no source: flats of every filter used in the bright twilight of the evening,
darks of every length used once the last sub is taken, the telescope covered.
"""

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.rig import Rig
from planner.session.night.times import Times
from planner.visibility import Flip, Night, Target, utc_time
from planner.visibility.earth_rotation import mjd_tt

if TYPE_CHECKING:
    from planner.session.night.plan import Block, Outlook

FLATS, DARKS = 20, 20  # frames of a filter, of a length


@dataclass(frozen=True, kw_only=True)
class Event:
    """One thing to do; kind is flats, target, filter, flip, focus, rest or darks."""

    kind: str
    start: Time
    end: Time
    text: str


@dataclass(frozen=True, kw_only=True)
class PlannedFlip:
    """The change of sides of one target; planned is None where the plan does without it."""

    target: Target
    earliest: Time
    latest: Time
    planned: Time | None
    lost: u.Quantity[u.min]  # from the last sub before to the first after; 0 without a planned flip


def flips_of(outlooks: "tuple[Outlook, ...]", blocks: "tuple[Block, ...]") -> tuple[PlannedFlip, ...]:
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
            earliest = min(flip.earliest, flip.latest)
            found.append(PlannedFlip(
                target=target, earliest=earliest, latest=flip.latest,
                planned=None if made is None else max(made[0].end, earliest),  # until then the telescope waits
                lost=0 * u.min if made is None else (made[1].start - made[0].end).to(u.min)))
    return tuple(found)


def _row(pair: "tuple[Block, Block]", flips: tuple[Flip, ...]) -> Flip | None:
    """Return which of a target's flips leads from one block to the next: to that side, the nearest in time."""
    return min(flips, default=None, key=lambda flip: (flip.side != pair[1].above_pole,
                                                      abs((pair[0].end - flip.planned).sec)))


def timeline(blocks: "tuple[Block, ...]", night: Night, rig: Rig, times: Times | None,
             flips: tuple[PlannedFlip, ...]) -> tuple[Event, ...]:
    """Return everything but the blocks, in order of time; nothing for an empty plan."""
    if not blocks or times is None:
        return ()
    events = [*_flats(blocks, night), _first(blocks[0], times)]
    for before, after in itertools.pairwise(blocks):
        events += _between(before, after, times, flips)
    for block in blocks:
        events += [Event(kind="focus", start=at, end=at + times.focus, text="focus") for at in block.refocus]
    events += _darks(blocks, rig)
    return tuple(sorted(events, key=lambda event: float(mjd_tt(event.start))))


def _first(block: "Block", times: Times) -> Event:
    return Event(kind="target", start=block.start - times.change, end=block.start,
                 text=f"slew to {block.target.name}, centre, focus")


def _between(before: "Block", after: "Block", times: Times, flips: tuple[PlannedFlip, ...]) -> list[Event]:
    """Return what leads from one block to the next."""
    if before.target.name != after.target.name:
        return [Event(kind="target", start=max(before.end, after.start - times.change), end=after.start,
                      text=f"slew to {after.target.name}, centre, focus")]
    if before.above_pole != after.above_pole:
        change = "" if before.band.name == after.band.name else f", filter {after.band.name}"
        moments = [flip.planned for flip in flips if flip.target.name == after.target.name and flip.planned is not None
                   and before.end <= flip.planned <= after.start]
        return [Event(kind="flip", start=max([before.end, *moments]), end=after.start,
                      text=f"flip to the {after.pier_side} of the pier{change}; the picture turns by 180°")]
    if before.band.name == after.band.name:
        return []
    return [Event(kind="filter", start=max(before.end, after.start - times.band), end=after.start,
                  text=f"filter {after.band.name}")]


def _flats(blocks: "tuple[Block, ...]", night: Night) -> list[Event]:
    """Return flats between sunset and civil dusk, if the Sun sets and comes so far."""
    dusk = night.twilights[0].dusk
    if night.sunset is None or dusk is None:
        return []
    bands = list(dict.fromkeys(block.band.name for block in blocks))
    return [Event(kind="flats", start=night.sunset, end=dusk, text=f"{FLATS} flats each of {', '.join(bands)}")]


def _darks(blocks: "tuple[Block, ...]", rig: Rig) -> list[Event]:
    """Return darks of every length used, after the last block."""
    lengths = sorted({block.sub_exposure.to_value(u.s) for block in blocks})
    download = rig.camera.download.to_value(u.s)
    took = DARKS * float(np.sum(lengths) + download * len(lengths)) / 86400
    start = float(mjd_tt(blocks[-1].end))
    listed = ", ".join(f"{length:g} s" for length in lengths)
    return [Event(kind="darks", start=blocks[-1].end, end=utc_time(start + took),
                  text=f"{DARKS} darks each of {listed}, telescope covered, unless kept from before")]
