"""The plan put together: blocks with their sky, what becomes of each request, and what the plan is worth."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import given
from planner.exposure.guide_need import NEITHER
from planner.exposure.reasons import percent
from planner.session.night.calibration import calibration_events
from planner.session.night.draft import NOTHING, NightDraft
from planner.session.night.events import flips_of, rests, span_of, timeline
from planner.session.night.model import (
    BROAD,
    FEWER,
    NARROW,
    Block,
    Event,
    NightPlan,
    Outlook,
    PlannedFlip,
    TwilightDark,
)
from planner.session.night.slots.blocks import State, SubBlock
from planner.session.night.slots.windows import SIDES, Reach, Slots
from planner.session.optimum.solve import FlowSolution
from planner.session.projects.project_requests import panel_notes
from planner.session.worth.times import MINIMUM_BLOCK, Times
from planner.visibility import Night, moon_events, utc_time
from planner.visibility.earth_rotation import elapsed, mjd_tt
from planner.visibility.meridian import seen_side
from planner.visibility.moving_targets import motion_notes

FLIPPED = 30 / 1440  # days between two stretches that are one stay with a flip in it (common practice, no source)
SAID = 0.9  # of a worth, where the Moon leaves less it is said
ELSEWHERE = "Observable, but the time is better spent elsewhere."
LATER = "Observable, but left to later nights, or behind what gains more tonight."
SHARED = "In the field of {}: one job, the hours of one count for the other."
FAINT = "Observable, but too little would count: the Moon is too bright, or it stands too low."
LACKS = "{}: tonight leaves no time for {}; the picture needs another night."
HELD_BACK = ("Of what a mount that moves no star would bring, this one leaves less than half: {}. The advice on each "
             "says what to do about it first.")
MOONLIT = "Observable, but nearer to the Moon than you allow."


@dataclass(frozen=True, kw_only=True)
class Laid:
    """What was solved: the slots, the states to plan with, the sequence found and its blocks of whole subs."""

    slots: Slots
    times: Times
    states: list[State]
    solution: FlowSolution
    blocks: list[SubBlock]


def night_plan(draft: NightDraft, slot: u.Quantity[u.min], laid: Laid | None) -> NightPlan:
    """Return the plan of a draft; without blocks where nothing was laid."""
    darkest = draft.nights[max(draft.nights)]
    blocks = () if laid is None else tuple(_block(draft, laid.states[one.state], one) for one in laid.blocks)
    times = None if laid is None else laid.times
    shortest = MINIMUM_BLOCK if times is None else times.minimum_block
    outlooks = tuple(_outlook(draft, row, numbers, blocks, shortest) for row, numbers in enumerate(draft.numbers))
    flips = flips_of(outlooks, blocks)
    value, bound, gap = _worth(draft, laid)
    return NightPlan(
        date=draft.date, rig=draft.rig, site=draft.site, night=darkest, twilight_dark=_twilight_dark(draft.nights),
        moon=moon_events(draft.site, darkest.start, darkest.end), outlooks=outlooks, blocks=blocks, flips=flips,
        events=_events(draft, laid, blocks, flips, darkest), value=value, bound=bound, gap=gap,
        dark_shares={} if laid is None else _dark_shares(draft, laid), times=times, slot=slot,
        lowest_altitude=draft.lowest, few_lengths=draft.calibration.darks > 0,
        moonlit=bool((draft.moonlit < SAID).any()),
        reason="" if blocks else _empty(darkest, draft.nights, outlooks),
        notes=(*draft.rig.load_notes, *darkest.notes, *draft.limits.notes(draft.site),
               *panel_notes(request.target for request in draft.requests),
               *(note for request in draft.requests for note in motion_notes(request.target, draft.date)),
               *_held_back(draft, laid), *_broken(draft, laid)))


def _gained(draft: NightDraft, laid: Laid) -> np.ndarray:
    return np.bincount([laid.states[one.state].need for one in laid.blocks], [one.hours for one in laid.blocks],
                       minlength=len(draft.needs))


def _worth(draft: NightDraft, laid: Laid | None) -> tuple[float, float, float]:
    """Return what the blocks are worth, the bound, and by what share the plan can be short of it."""
    if laid is None:
        return 0.0, 0.0, 0.0
    value = float(draft.worth.of(_gained(draft, laid)).sum())
    bound = max(value, laid.solution.bound)
    return value, bound, max(laid.solution.gap, 1 - value / bound) if bound > 0 else 0.0


def _held_back(draft: NightDraft, laid: Laid | None) -> list[str]:
    """Say where the mount leaves less than an advice calls good."""
    if laid is None:
        return []
    middles, poor = (laid.slots.edges[1:] + laid.slots.edges[:-1]) / 2, []
    for number in sorted({laid.states[one.state].need for one in laid.blocks}):
        own = [one for one in laid.blocks if laid.states[one.state].need == number]
        slots = np.flatnonzero(np.any([(one.start <= middles) & (middles < one.end) for one in own], axis=0))
        share = laid.states[own[0].state].worth.mount_share(slots)
        if share < NEITHER:
            row, need = draft.needs[number]
            poor.append(f"{draft.requests[row].target.name} in {need.band.name} {percent(share)}")
    return [HELD_BACK.format(", ".join(poor))] if poor else []


def _broken(draft: NightDraft, laid: Laid | None) -> list[str]:
    """Say which pictures lack a broad band after a night that is all there is."""
    if laid is None or draft.season is not None:
        return []
    gained, left = _gained(draft, laid), draft.worth.left > NOTHING
    lines = []
    for request, numbers in zip(draft.requests, draft.numbers, strict=True):
        broad = [number for number in numbers if not draft.needs[number][1].band.narrow]
        lacks = [draft.needs[number][1].band.name for number in broad
                 if left[number] and not draft.worth.done[number] + gained[number] > 0]
        if lacks and gained[broad].any():
            lines.append(LACKS.format(request.target.name, " and ".join(lacks)))
    return lines


def _dark_shares(draft: NightDraft, laid: Laid) -> dict[str, float]:
    """Return the hours of the blocks over those of the same time in the moonless zenith, by kind of band."""
    clock = np.bincount([laid.states[one.state].need for one in laid.blocks],
                        [(one.end - one.start) * 24 for one in laid.blocks], minlength=len(draft.needs))
    gained, best = _gained(draft, laid), clock * draft.zenith
    lines = np.array([need.band.narrow for _, need in draft.needs], bool)
    return {name: float(gained[rows].sum() / best[rows].sum())
            for name, rows in ((BROAD, ~lines), (NARROW, lines)) if best[rows].sum() > 0}


def _events(draft: NightDraft, laid: Laid | None, blocks: tuple[Block, ...], flips: tuple[PlannedFlip, ...],
            darkest: Night) -> tuple[Event, ...]:
    """Return all that happens besides exposing, rests among it, in order of time."""
    found = timeline(blocks, None if laid is None else laid.times, flips)
    if not blocks or laid is None:
        return found
    found += calibration_events(blocks, darkest, draft.rig, draft.site, draft.calibration)
    left = draft.worth.most - _gained(draft, laid)
    covered = max((float(mjd_tt(event.end)) for event in found if event.kind == "darks"), default=laid.blocks[-1].end)
    planned = {state.need for state in laid.states}
    others = [part for number, (row, need) in enumerate(draft.needs) if number not in planned and left[number] > NOTHING
              for part in draft.stretches(row, need)]
    idle = rests(laid.states, laid.blocks, np.where(left > NOTHING, left, 0.0),
                 span_of(laid.slots.edges, draft.limits), laid.slots, laid.times, covered, others)
    return tuple(sorted((*found, *idle), key=lambda event: float(mjd_tt(event.start))))


def _block(draft: NightDraft, state: State, one: SubBlock) -> Block:
    sky = given(draft.sky)
    request, (_, need) = draft.requests[state.target], draft.needs[state.need]
    middle = int(np.argmin(np.abs(mjd_tt(sky.times) - (one.start + one.end) / 2)))
    sided = draft.rig.mount.design != "fork"
    return Block(
        target=request.target, band=need.band, start=utc_time(one.start), end=utc_time(one.end),
        pier_side=seen_side(SIDES[state.side], sky.hour_angle[state.target, middle]) if sided else "",
        above_pole=SIDES[state.side] if sided else "", sub_exposure=one.sub_exposure_s * u.s,
        sub_count=one.sub_count, guided=one.guided, equivalent_hours=one.hours * u.h,
        refocus=tuple(utc_time(at) for at in one.refocus), altitude=sky.altitude[state.target, middle],
        moon_up=bool(sky.moon.apparent_altitude[middle].value > 0),
        moon_separation=sky.moon_separation[state.target, middle])


def _outlook(draft: NightDraft, row: int, numbers: list[int], blocks: tuple[Block, ...],
             shortest: u.Quantity[u.min]) -> Outlook:
    request, found = draft.requests[row], draft.first_reach(row)
    own = [block for block in blocks if block.target.name == request.target.name]
    far = not found.stretches or any(draft.stretches(row, need) for need in request.needs)  # from the Moon
    reason = _unplanned(found, draft.worth.most[numbers], shortest) if far else MOONLIT
    if reason == ELSEWHERE and draft.begun is not None and row not in draft.begun:
        reason = FEWER
    if reason == ELSEWHERE and draft.season is not None:
        reason = LATER
    if draft.faint.issuperset(numbers):
        reason = FAINT
    if request.target.name in draft.main:
        reason = SHARED.format(draft.main[request.target.name])
    return Outlook(
        request=request, reach=found, weights=tuple(float(draft.weight[number]) for number in numbers),
        too_wide_below=next((one.too_wide_below for one in draft.motions.get(row, {}).values()), None),
        reason="" if own else reason, planned=sum((block.equivalent_hours for block in own), 0 * u.h),
        clock_time=sum((elapsed(block.start, block.end).to(u.h) for block in own), 0 * u.h))


def _twilight_dark(nights: dict[float, Night]) -> TwilightDark | None:
    """Return the least depth of the Sun and its dark time, where filters ask for different ones."""
    least = min(nights)
    dark = nights[least].dark
    return None if dark is None or len(nights) == 1 else TwilightDark(*dark, least * u.deg)


def _unplanned(found: Reach, left: np.ndarray, shortest: u.Quantity[u.min]) -> str:
    """Say why a target has no block."""
    if not found.stretches:
        return found.window.reason or found.reason or "Observable, but neither side of the pier reaches it."
    if not (left > NOTHING).any():
        return "Nothing is left to do."
    longest = _in_one_go(found)
    if longest < shortest:
        return (f"Observable for {longest.to_value(u.min):.0f} min in one go only; need at least "
                f"{shortest.to_value(u.min):.0f} min.")
    return ELSEWHERE


def _in_one_go(found: Reach) -> u.Quantity[u.min]:
    """Return the longest time that a target can be worked on, flips in it."""
    spans: list[list[float]] = []
    for part in sorted(found.stretches, key=lambda part: part.start):
        if spans and part.start <= spans[-1][1] + FLIPPED:
            spans[-1][1] = max(spans[-1][1], part.end)
        else:
            spans.append([part.start, part.end])
    return max(end - start for start, end in spans) * u.day


def _empty(darkest: Night, nights: dict[float, Night], outlooks: tuple[Outlook, ...]) -> str:
    """Say why there is no block at all."""
    if all(found.dark is None for found in nights.values()):
        return darkest.reason
    if len({outlook.reason for outlook in outlooks}) == 1:
        return outlooks[0].reason
    return "None of the targets can be worked on tonight; the reasons stand beside them."
