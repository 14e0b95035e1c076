"""A night's plan at one moment: what runs and until when, what comes next, and what the night brings.

Everything is text or a time, for a page that is looked at in the dark.
"""

from dataclasses import dataclass

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.exposure.depth import Depth, depth_in_equivalent
from planner.session.night.model import Block, NightPlan
from planner.session.night.report.sheet import Clock
from planner.session.projects.request import Need
from planner.visibility.earth_rotation import mjd_tt, utc_time

MINUTE = 1 / 1440  # days
AHEAD = {"flats": "Take ", "target": "", "filter": "Change to ", "flip": "", "focus": "Focus", "darks": "Take "}


@dataclass(frozen=True, kw_only=True)
class Coming:
    """One thing to come: what, when on the site's clock, and how long until then."""

    what: str
    at: str
    wait: str  # in 1 h 20 min
    kind: str  # of an event, block, or sky


@dataclass(frozen=True, kw_only=True)
class Now:
    """The plan at one moment."""

    phase: str  # before, during or after the night
    running: str  # what goes on, and until when
    following: Coming | None  # what there is to do next
    sky: tuple[Coming, ...]  # what comes by itself: dusk, flips, Moon, dawn


@dataclass(frozen=True, kw_only=True)
class Brought:
    """What a night brings for one target through one filter, in equivalent hours."""

    target: str
    band: str
    gained: u.Quantity[u.h]
    before: u.Quantity[u.h]
    wanted: u.Quantity[u.h] | None  # None: as a signal-to-noise ratio, or nobody said
    deeper: u.Quantity[u.mag] | None  # than before tonight; None for the first hours
    depth: Depth  # that all its hours reach


def now_in(plan: NightPlan, moment: Time) -> Now:
    """Return the plan at a moment."""
    at, clock = float(mjd_tt(moment)), Clock(plan)
    start, end = float(mjd_tt(plan.night.start)), float(mjd_tt(plan.night.end))
    phase = "before" if at < start else "after" if at > end else "during"
    todo = sorted((when, what, kind) for when, what, kind in _todo(plan) if when > at)
    sky = sorted((when, what) for when, what in _sky(plan) if when > at)
    return Now(phase=phase, running=_running(plan, at, clock, phase),
               following=_coming(*todo[0], at, clock) if todo else None,
               sky=tuple(_coming(when, what, "sky", at, clock) for when, what in sky))


def wait_text(days: float) -> str:
    """Return how long it is until something: ``now``, ``in 12 min``, ``in 1 h 20 min``, ``in 3 days``."""
    minutes = round(days / MINUTE)
    if minutes < 1:
        return "now"
    if minutes < 60:
        return f"in {minutes} min"
    if minutes < 36 * 60:
        return f"in {minutes // 60} h {minutes % 60:02d} min"
    return f"in {round(minutes / 1440)} days"


def brought(plan: NightPlan) -> tuple[Brought, ...]:
    """Return what the blocks bring by target and filter, in the order of the plan.

    A surface is seen fainter with the square root of the hours: 1.25 log10(after / before) magnitudes.
    """
    gained: dict[tuple[str, str], float] = {}
    for block in plan.blocks:
        pair = block.target.name, block.band.name
        gained[pair] = gained.get(pair, 0.0) + float(block.equivalent_hours.to_value(u.h))
    needs = {(outlook.request.target.name, need.band.name): (need, outlook.request.usual)
             for outlook in plan.outlooks for need in outlook.request.needs}
    return tuple(_brought(plan, name, hours, *needs[name, band]) for (name, band), hours in gained.items())


def _brought(plan: NightPlan, target: str, hours: float, need: Need, usual: bool) -> Brought:
    done = float(need.done.to_value(u.h))
    deeper = 1.25 * np.log10((done + hours) / done) * u.mag if done > 0 else None
    return Brought(target=target, band=need.band.name, gained=hours * u.h, before=need.done,
                   wanted=None if usual else need.hours, deeper=deeper,
                   depth=depth_in_equivalent((done + hours) * u.h, plan.rig, plan.site, need.band))


def _todo(plan: NightPlan) -> list[tuple[float, str, str]]:
    """Return what there is to do, as (MJD in TT, words, kind)."""
    found = [(float(mjd_tt(event.start)), _capital(f"{AHEAD[event.kind]}{event.text}" if event.kind != "focus"
                                                   else "focus"), event.kind) for event in plan.events
             if event.kind != "rest"]
    found += [(float(mjd_tt(block.start)), f"{block.target.name} in {block.band.name}, {_subs(block)}", "block")
              for block in plan.blocks]
    if plan.blocks and plan.night.sunrise is not None:
        found.append((float(mjd_tt(plan.night.sunrise)), "Sunrise: the telescope must be covered", "cover"))
    return found


def _sky(plan: NightPlan) -> list[tuple[float, str]]:
    """Return what comes by itself, as (MJD in TT, words)."""
    night, moon = plan.night, plan.moon
    times = [(night.sunset, "Sunset"), (night.sunrise, "Sunrise")]
    if night.dark is not None:
        times += [(night.dark[0], "Dark begins"), (night.dark[1], "Dark ends")]
    times += [(time, "Moon rises") for time in moon.rises] + [(time, "Moon sets") for time in moon.sets]
    planned = {block.target.name for block in plan.blocks}
    times += [(flip.planned, f"Flip, {flip.target.name}") for flip in plan.flips if flip.target.name in planned]
    return [(float(mjd_tt(time)), words) for time, words in times if time is not None]


def _running(plan: NightPlan, at: float, clock: Clock, phase: str) -> str:
    """Return what goes on at a moment, and until when."""
    for block in plan.blocks:
        if float(mjd_tt(block.start)) <= at < float(mjd_tt(block.end)):
            return f"{block.target.name} in {block.band.name}, {_subs(block)}, until {clock(block.end)}"
    for event in plan.events:
        if float(mjd_tt(event.start)) <= at < float(mjd_tt(event.end)):
            return f"{_capital(event.text)}, until {clock(event.end)}"
    if phase != "during":
        return "The night has not come yet" if phase == "before" else "The night is over"
    if plan.dark is None:
        return "Nothing planned"
    dark_from, dark_to = (float(mjd_tt(time)) for time in plan.dark)
    return "Not dark yet" if at < dark_from else "Not dark any more" if at > dark_to else "Dark, nothing planned"


def _coming(when: float, what: str, kind: str, at: float, clock: Clock) -> Coming:
    return Coming(what=what, at=clock(utc_time(when)), wait=wait_text(when - at), kind=kind)


def _subs(block: Block) -> str:
    return f"{block.sub_count} × {block.sub_exposure.to_value(u.s):g} s"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
