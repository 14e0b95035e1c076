"""From slots to sub boundaries: each run of slots becomes a block of whole subs, with its pauses for the focus.

A block begins as soon as the mount is ready and the target within its limits, and ends with the last sub that fits:
before the next block's slot, before the side of the pier, the window or what counts ends, or when the need is met.
A filter that has less than its least time by then takes one sub more of which half fits: what follows begins later.
"""

from dataclasses import dataclass, field

import numpy as np
from astropy import units as u

from planner.exposure.speed import SUB_LADDER
from planner.session.night.slots.lengths import common_lengths, length_shares
from planner.session.night.slots.slot_worth import FilterWorth, guiding_pays
from planner.session.night.slots.windows import Slots, Stretch
from planner.session.worth.times import Times

IDLE = -1
ROUNDING = 1e-9  # days
DONE = 1e-6  # equivalent hours: less is nothing left
WITH_FILTER = 15 / 1440  # days: a look at the focus due so soon is taken with the filter (common practice, no source)
QUIET = 20 / 1440  # days before a slew, a flip or the end without a look at the focus: each brings one, or none is due


@dataclass(frozen=True, kw_only=True)
class State:
    """One target through one filter on one side of the pier, with all that its blocks need."""

    target: int
    need: int
    side: int
    stretches: tuple[Stretch, ...]  # of both sides
    worth: FilterWorth
    overhead_s: np.ndarray  # of each step of SUB_LADDER


@dataclass(frozen=True, kw_only=True)
class SubBlock:
    """Whole subs in one state; times are MJD in TT."""

    state: int
    start: float
    end: float
    guided: bool
    sub_exposure_s: float
    sub_count: int
    refocus: tuple[float, ...]
    hours: float  # equivalent


@dataclass(kw_only=True)
class _Clock:
    """Where the night stands while blocks are laid one after another."""

    free: float  # the mount is done with what was before
    focused: float
    left: list[float] = field(default_factory=list)  # equivalent hours by need


def lay_blocks(sequence: np.ndarray, states: list[State], slots: Slots, times: Times, hours_left: list[float], *,
               few_lengths: bool = True) -> list[SubBlock]:
    """Return the blocks of a sequence of states (slots,), in order of time; `few_lengths` as each is a set of darks."""
    found = [run for run in runs(sequence) if run[0] != IDLE]
    if not found:
        return []
    methods = _methods(found, states, slots, few_lengths)
    clock = _Clock(free=-np.inf, focused=-np.inf, left=list(hours_left))
    blocks: list[SubBlock] = []
    for place, (now, first, count) in enumerate(found):
        following = found[place + 1] if place + 1 < len(found) else None
        before = blocks[-1].state if blocks else IDLE
        joined = place > 0 and found[place - 1][1] + found[place - 1][2] == first
        pause = _pause(states, before, now, times)
        stretch = _stretch(states[now], slots.edges[first] + slots.length / 2, slots.edges[first + count])
        ready = clock.free if joined else max(clock.free, slots.edges[first] - pause)
        start = max(ready, _turns(states, before, now, stretch, pause)) + pause
        limit = _limit(states, now, first + count, following, slots, times)
        least = start + _least(found, place, states, times) - sum(
            one.end - one.start for one in blocks if states[one.state].need == states[now].need)
        if before == IDLE or states[before].target != states[now].target or states[before].side != states[now].side:
            clock.focused = start
        stays = following is not None and _same_stay(states[now], states[following[0]]) and _joined_next(found, place)
        block = _block(now, states[now], methods[place], slots, (start, least, limit, stretch.end), clock, times,
                       0.0 if stays else QUIET)
        if block is not None:
            blocks.append(block)
            clock.free = block.end
    return blocks


def _least(found: list[tuple[int, int, int]], place: int, states: list[State], times: Times) -> float:
    """Return the days that the filter of a run is to have by its end: of a stay's only filter those of the stay."""
    now = states[found[place][0]]
    if place + 1 < len(found) and states[found[place + 1][0]].need == now.need:
        return 0.0  # it goes on after the flip
    others = any(states[found[near][0]].target == now.target and states[found[near][0]].need != now.need
                 and _joined_next(found, min(place, near)) for near in (place - 1, place + 1) if 0 <= near < len(found))
    return float((times.minimum_run if others else times.minimum_block).to_value(u.day))


def _joined_next(found: list[tuple[int, int, int]], place: int) -> bool:
    """Say whether the next run begins where one ends."""
    return found[place][1] + found[place][2] == found[place + 1][1]


def _same_stay(one: State, other: State) -> bool:
    return one.target == other.target and one.side == other.side


def _methods(found: list[tuple[int, int, int]], states: list[State], slots: Slots, few: bool = True
             ) -> list[tuple[bool, int]]:
    """Return guided or not, and the place in SUB_LADDER, by run.

    A target is guided throughout or not, and each of its filters has one length.
    """
    durations = np.array([count * slots.length * 86400 for _, _, count in found])
    starts = {first for _, first, _ in found}
    brought: dict[int, np.ndarray] = {}
    for now, first, count in found:
        more = count * states[now].worth.by_method(slice(first, first + count))
        brought[states[now].target] = more + brought.get(states[now].target, 0.0)
    guided = [guiding_pays(brought[states[now].target]) for now, _, _ in found]
    whole, endless = ([length_shares(states[now].worth, slice(first, first + count), duration, states[now].overhead_s,
                                     guided=held, followed=always or first + count in starts)
                       for (now, first, count), duration, held in zip(found, durations, guided, strict=True)]
                      for always in (False, True))
    of_filter = [(states[now].target, states[now].need) for now, _, _ in found]
    filters = list(dict.fromkeys(of_filter))
    spent = np.array([np.where([own == one for own in of_filter], durations, 0.0) for one in filters])
    lengths = common_lengths(_of_best(spent @ np.array(whole)), spent.sum(axis=1), _of_best(spent @ np.array(endless)),
                             few=few)
    return [(held, int(lengths[filters.index(own)])) for held, own in zip(guided, of_filter, strict=True)]


def _of_best(brought: np.ndarray) -> np.ndarray:
    """Return each row over its largest value; 0 where nothing is brought."""
    best = brought.max(axis=1, keepdims=True)
    return np.divide(brought, best, out=np.zeros_like(brought), where=best > 0)


def _pause(states: list[State], before: int, now: int, times: Times) -> float:
    """Return the days between two blocks: change of target, flip, filter."""
    if before == IDLE or states[before].target != states[now].target:
        return times.change.to_value(u.day)
    flip = times.flip.to_value(u.day) if states[before].side != states[now].side else 0.0
    return flip + (times.band.to_value(u.day) if states[before].need != states[now].need else 0.0)


def _turns(states: list[State], before: int, now: int, stretch: Stretch, pause: float) -> float:
    """Return the moment from which the change to a stretch can begin: a flip where the mount may turn over."""
    flip = before != IDLE and states[before].target == states[now].target and states[before].side != states[now].side
    return max(stretch.start - pause, stretch.opens if flip else -np.inf)


def _stretch(state: State, start: float, end: float) -> Stretch:
    """Return the stretch that a run of slots lies in."""
    own = [stretch for stretch in state.stretches if stretch.side == state.side]
    return max(own, key=lambda stretch: min(stretch.end, end) - max(stretch.start, start))


def _limit(states: list[State], now: int, last: int, following: tuple[int, int, int] | None, slots: Slots,
           times: Times) -> float:
    """Return the moment by which a block has to end for what comes after; no such moment for the last one."""
    if following is None:
        return np.inf
    after, first, count = following
    end, pause = float(slots.edges[last]), _pause(states, now, after, times)
    if first > last:
        end = float(slots.edges[first]) - pause
    stretch = _stretch(states[after], slots.edges[first] + slots.length / 2, slots.edges[first + count])
    return max(end, _turns(states, now, after, stretch, pause))


def _block(number: int, state: State, method: tuple[bool, int], slots: Slots,
           span: tuple[float, float, float, float], clock: _Clock, times: Times, quiet: float) -> SubBlock | None:
    """Fill a block with subs; None if not one fits.

    `span`: its start, when it has its least time, by when it is to end, and by when it must.
    """
    start, least, limit, last = span
    guided, length = method
    sub_s = float(SUB_LADDER[length].to_value(u.s))
    sub, cycle = sub_s / 86400, (sub_s + float(state.overhead_s[length])) / 86400
    rate = state.worth.rate[int(guided), length]
    last = min(last, slots.edges[np.max(np.flatnonzero(rate), initial=0) + 1])  # later ones count for nothing
    limit = min(limit, last)
    focus, every = times.focus.to_value(u.day), times.refocus.to_value(u.day)
    at, end, count, gained = start, start, 0, 0.0
    looks: list[float] = []
    while clock.left[state.need] > gained + DONE:
        early = min(WITH_FILTER, every / 2) if at == start else cycle / 2
        look = at - clock.focused > every - early and at + focus + max(sub, quiet) <= limit
        begins = at + focus if look else at
        if begins + sub > (min(limit + sub / 2, last) if at < least else limit) + ROUNDING:
            break
        if look:
            looks.append(at)
            clock.focused = begins
        gained += rate[slots.at(begins + sub / 2)] * cycle * 24
        end, at, count = begins + sub, begins + cycle, count + 1
    if count == 0:
        return None
    clock.left[state.need] -= gained
    return SubBlock(state=number, start=start, end=end, guided=guided, sub_exposure_s=sub_s, sub_count=count,
                    refocus=tuple(looks), hours=gained)


def runs(values: np.ndarray) -> list[tuple[int, int, int]]:
    """Return (value, start, length) of each stretch of equal values."""
    starts = np.flatnonzero(np.append(True, values[1:] != values[:-1]))
    lengths = np.diff(np.append(starts, len(values)))
    return [(int(values[start]), int(start), int(length)) for start, length in zip(starts, lengths, strict=True)]
