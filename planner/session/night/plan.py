"""The plan of a night: which target through which filter when, so that the pictures gain most.

What is maximised is the sum over targets and filters of priority × weight × (√((done + gained) / wanted)
− √(done / wanted)), hours being *equivalent hours*, up to those wanted. Each line weighs 1; the broad bands of a
target, one picture, weigh 1 on average, in proportion to the hours wanted. An equivalent hour is an hour with a
perfect camera on a perfect mount, the target in the zenith of a dark moonless sky (`planner.session.night.slot_worth`);
signal-to-noise grows with its square root, so that first hours count most and sets come out balanced. That broad bands
go to the dark hours and narrow bands to the Moon's is no rule here: moonlight takes more from the one than from the
other, and the sum is largest that way round.

The night is cut into slots; each filter of a target is worked on in one go, in the sequence that is worth most, with a
proven bound (`session.optimum`); its runs of slots become blocks of whole subs (`blocks`).
"""

import datetime
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.checks import Rule, check, given
from planner.errors import InvalidInputError
from planner.exposure.speed import SUB_LADDER
from planner.rig import Filter, Rig, Site
from planner.rig.choices import Side
from planner.session.advice.answer import LOWEST_ALTITUDE
from planner.session.advice.guide_star import NearbyStars
from planner.session.night.blocks import State, SubBlock, lay_blocks
from planner.session.night.calibration import Calibration, calibration_events
from planner.session.night.events import Event, PlannedFlip, flips_of, timeline
from planner.session.night.limits import NightLimits, away_from_moon
from planner.session.night.motion import MountMotion, mount_motion
from planner.session.night.rests import rests, span_of
from planner.session.night.rows import flow_problem, state_sequence
from planner.session.night.slot_worth import (
    FilterWorth,
    SkyOverNight,
    area_growth,
    filter_worths,
    sky_over_night,
    zenith_speed,
)
from planner.session.night.times import FLIP_MARGIN, MINIMUM_BLOCK, MINIMUM_RUN, Times, times_of
from planner.session.night.windows import (
    SIDES,
    Reach,
    Slots,
    Stretch,
    allowed,
    depth,
    nights_for,
    reach,
    slots_of,
    within,
)
from planner.session.optimum.problem import Worth
from planner.session.optimum.season import TRUSTED
from planner.session.optimum.solve import FlowSolution, solve_flow
from planner.session.projects.default_request import narrow
from planner.session.projects.request import Need, Request
from planner.session.projects.weights import need_weights
from planner.visibility import MoonEvents, Night, Target, TargetWindow, moon_events, target_windows, utc_time
from planner.visibility.earth_rotation import mjd_tt
from planner.visibility.meridian import seen_side

SLOT = 5 * u.min
_SLOT = Rule(unit=u.min, at_least=1, at_most=60, remedy="Give 1 to 60 minutes, e.g. 5 min.")
_BLOCK = Rule(unit=u.min, at_least=0, at_most=600, remedy="Give the shortest stay on a target, e.g. 45 min.")
_RUN = Rule(unit=u.min, at_least=0, at_most=600, remedy="Give the shortest time through one filter, e.g. 30 min.")
_MARGIN = Rule(unit=u.min, at_least=0, at_most=120, remedy="Give the time kept before the mount must stop.")
BROAD, NARROW = "broad bands", "narrow bands"
MOONLIT = "Observable, but nearer to the Moon than you allow."
NOTHING = 1 / 60  # h: what is left of a need is not worth a block
LEAST_SHARE = 0.25  # of what the same time counts for in the moonless zenith: common practice, no source


@dataclass(frozen=True, kw_only=True)
class Block:
    """Whole subs of one target through one filter on one side of the pier."""

    target: Target
    band: Filter
    start: Time
    end: Time
    pier_side: Side  # where the telescope is: west or east of the pier, in the middle; "" for a mount without sides
    above_pole: Side  # where it is with the axes turned so and the target above the pole: changes with a flip alone
    sub_exposure: u.Quantity[u.s]
    sub_count: int
    guided: bool
    equivalent_hours: u.Quantity[u.h]
    refocus: tuple[Time, ...]  # pauses for the focus within the block
    altitude: u.Quantity[u.deg]  # apparent, in the middle
    moon_up: bool  # in the middle
    moon_separation: u.Quantity[u.deg]


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """What becomes of one request tonight."""

    request: Request
    weights: tuple[float, ...]  # of its needs
    reach: Reach  # at the least dark sky that one of its filters accepts
    planned: u.Quantity[u.h]  # equivalent
    clock_time: u.Quantity[u.h]  # of its blocks
    reason: str  # why there is no block; empty if there is one


@dataclass(frozen=True, kw_only=True)
class NightPlan:
    """The plan of one night, and what it rests on."""

    date: datetime.date
    rig: Rig
    site: Site
    night: Night  # at the deepest Sun that a wanted filter asks for; `dark` is its dark time
    # the least depth of the Sun [deg] that some other filter accepts, and the dark time then
    twilight_dark: tuple[float, tuple[Time, Time]] | None
    moon: MoonEvents
    outlooks: tuple[Outlook, ...]
    blocks: tuple[Block, ...]
    flips: tuple[PlannedFlip, ...]
    events: tuple[Event, ...]
    # what the blocks are worth in all, as above; in these slots, each filter of a target in one go, no plan is worth
    # more than `bound` (raised by what whole subs bring over slots)
    value: float
    bound: float
    # for "broad bands" and "narrow bands", those planned: equivalent hours of the blocks over those that the same
    # time is worth in the zenith of a dark, moonless sky of this site
    dark_shares: dict[str, float]
    times: Times | None
    slot: u.Quantity[u.min]
    lowest_altitude: u.Quantity[u.deg]
    reason: str  # why the plan is empty; empty if it is not
    notes: tuple[str, ...]

    @property
    def dark(self) -> tuple[Time, Time] | None:
        """From when to when it is dark."""
        return self.night.dark

    @property
    def worth_setting_up(self) -> bool:
        """Say whether the time planned counts for enough, against a dark night of the site."""
        return any(share >= LEAST_SHARE for share in self.dark_shares.values())

    @property
    def gap(self) -> float:
        """By how much the plan can be short of the optimum, at most, as a share."""
        return max(0.0, 1 - self.value / self.bound) if self.bound > 0 else 0.0


def plan_night(requests: Iterable[Request], rig: Rig, site: Site, date: datetime.date, *,
               lowest_altitude: u.Quantity[u.deg] = LOWEST_ALTITUDE, slot: u.Quantity[u.min] = SLOT,
               minimum_block: u.Quantity[u.min] = MINIMUM_BLOCK, minimum_run: u.Quantity[u.min] = MINIMUM_RUN,
               flip_margin: u.Quantity[u.min] = FLIP_MARGIN,
               limits: NightLimits | None = None, calibration: Calibration | None = None,
               to_come: Mapping[tuple[str, str], u.Quantity[u.h]] | None = None,
               finishing: Mapping[tuple[str, str], float] | None = None,
               constraints: Sequence[Any] = (),
               stars_around: Callable[[Target], NearbyStars | None] | None = None) -> NightPlan:
    """Return the plan of one night.

    Parameters
    ----------
    requests : iterable of Request
        Each target once.
    rig : Rig
    site : Site
    date : datetime.date
        Local date of the evening.
    lowest_altitude : Quantity [deg]
        Apparent, below which no sub is taken.
    slot : Quantity [min]
        Piece of the night in which the flow counts.
    minimum_block : Quantity [min]
        Shortest stay on a target.
    minimum_run : Quantity [min]
        Shortest time through one filter.
    flip_margin : Quantity [min]
        Kept free before the mount must stop.
    limits : NightLimits, optional
        The observer's own for this night: hours, distances from the Moon.
    calibration : Calibration, optional
        How many calibration frames are taken.
    to_come : mapping, optional
        By the names of target and filter: equivalent hours that other nights are expected to bring
        (`planner.session.campaign`). Most of them count as done, so that tonight goes to what it is best for.
    finishing : mapping, optional
        By the same names: what an equivalent hour is worth on top, where its project is to be finished.
    constraints : sequence of astroplan.Constraint
        The observer's own: no sub is taken while one of them does not hold.
    stars_around : callable, optional
        Gives the catalogue stars around a target, for the guide star.

    Returns
    -------
    NightPlan
        Without blocks, and with a reason, where nothing is up in the dark.

    Raises
    ------
    InvalidInputError
        If no target is asked for or one twice, or a signal-to-noise ratio is wanted of an unknown brightness.
    """
    requests = _checked(requests)
    slot, minimum_block = check("slot", slot, _SLOT), check("minimum_block", minimum_block, _BLOCK)
    minimum_run = check("minimum_run", minimum_run, _RUN)
    limits = (limits or NightLimits()).checked(rig, site)
    draft = _Draft(requests, rig, site, date, lowest_altitude, stars_around,
                   check("flip_margin", flip_margin, _MARGIN), limits, to_come or {}, finishing or {}, constraints,
                   calibration or Calibration())
    slots = slots_of(draft.nights, slot)
    if slots is None or not any(found.stretches for found in draft.reaches.values()):
        return draft.plan(slot, [], [], None, None)
    states = draft.states(slots)
    if not states:  # nothing is left to do
        return draft.plan(slot, [], [], None, None)
    times = times_of(rig, site, minimum_block=minimum_block, minimum_run=minimum_run)
    problem = flow_problem(states, draft.worth, slots, times)
    solution = solve_flow(problem)
    sequence = state_sequence(solution.runs, problem, states, slots)
    blocks = lay_blocks(sequence, states, slots, times, list(draft.worth.left))
    return draft.plan(slot, states, blocks, solution, times, slots)


def _checked(requests: Iterable[Request]) -> tuple[Request, ...]:
    found = tuple(requests)
    names = [request.target.name for request in found]
    if not found:
        raise InvalidInputError("targets", "none", "must be at least one", "Name a target.")
    for name in names:
        if names.count(name) > 1:
            raise InvalidInputError("targets", name, "is asked for twice", "Put its filters into one request.")
    for request in found:
        _refuse_unknown_brightness(request)
    return found


def _refuse_unknown_brightness(request: Request) -> None:
    ratio = next((need.signal_to_noise for need in request.needs if need.signal_to_noise is not None), None)
    if ratio is not None and request.target.surface_brightness is None:
        raise InvalidInputError(f"signal_to_noise of {request.target.name}", ratio,
                                "needs the target's surface brightness, which is not known",
                                "Give hours instead, or the surface brightness in your target list.")


class _Draft:
    """What is found on the way to a plan."""

    def __init__(self, requests: tuple[Request, ...], rig: Rig, site: Site, date: datetime.date,
                 lowest: u.Quantity[u.deg], stars_around: Callable[[Target], NearbyStars | None] | None,
                 margin: u.Quantity[u.min], limits: NightLimits,
                 to_come: Mapping[tuple[str, str], u.Quantity[u.h]], finishing: Mapping[tuple[str, str], float],
                 constraints: Sequence[Any], calibration: Calibration) -> None:
        self.requests, self.rig, self.site, self.date, self.lowest = requests, rig, site, date, lowest
        self.stars_around, self.to_come, self.finishing, self.limits = stars_around, to_come, finishing, limits
        self.calibration = calibration
        self.nights = nights_for(requests, site, date)
        self.needs = [(row, need) for row, request in enumerate(requests) for need in request.needs]
        nothing = np.zeros(len(self.needs))
        self.worth = Worth(weight=nothing, wanted=nothing + 1, done=nothing, left=nothing)
        self.weight = nothing + 1
        self.zenith = nothing  # what an hour counts for there without Moon, by need
        self.sky: SkyOverNight | None = None
        self.reaches = {(row, at): within(found, (limits.begin, limits.until)) for at in self.nights
                        for row, found in self._reaches(at, margin, constraints)}

    def _reaches(self, at: float, margin: u.Quantity[u.min], constraints: Sequence[Any]) -> list[tuple[int, Reach]]:
        """Return the rows of the targets that want a depth of the Sun, and their reaches then."""
        rows = [row for row, request in enumerate(self.requests) if at in {depth(need.band) for need in request.needs}]
        windows = target_windows([self.requests[row].target for row in rows], self.site, self.nights[at],
                                 minimum_altitude=self.lowest, mount=self.rig.mount)
        return [(row, self._reach(window, at, margin, constraints)) for row, window in zip(rows, windows, strict=True)]

    def _reach(self, window: TargetWindow, at: float, margin: u.Quantity[u.min], constraints: Sequence[Any]) -> Reach:
        found = reach(window, self.rig, margin)
        dark = self.nights[at].dark
        if not constraints or dark is None:
            return found
        from planner.visibility.own_constraints import allowed_times

        return allowed(found, allowed_times(constraints, window.target, self.site, *dark))

    def first_reach(self, row: int) -> Reach:
        """Return the reach of a request at the least dark sky that one of its filters accepts."""
        return self.reaches[row, min(depth(need.band) for need in self.requests[row].needs)]

    def states(self, slots: Slots) -> list[State]:
        """Return the states in which something is left to do, sides of a target next to each other."""
        worths, motions = self._worths(slots)
        self.worth = self._worth([self._wanted(need, worth)
                                  for (_, need), worth in zip(self.needs, worths, strict=True)])
        self.zenith = np.array([0.0 if motion is None else zenith_speed(self.rig, self.site, need.band, motion)
                                for (_, need), motion in ((one, motions[one[0]]) for one in self.needs)])
        states = []
        for number, ((row, need), worth) in enumerate(zip(self.needs, worths, strict=True)):
            motion = motions[row]
            if worth is None or motion is None or not self.worth.left[number] > NOTHING:
                continue
            stretches = self._stretches(row, need)
            states += [State(target=row, need=number, side=side, stretches=stretches, worth=worth,
                             overhead_s=motion.scene.rig.overhead(SUB_LADDER).to_value(u.s))
                       for side in range(len(SIDES)) if any(part.side == side for part in stretches)]
        return states

    def _stretches(self, row: int, need: Need) -> tuple[Stretch, ...]:
        """Return when a need can be worked on, as far from the Moon as the observer wants it."""
        parts, distance = self.reaches[row, depth(need.band)].stretches, self.limits.moon.get(need.band.name)
        return parts if distance is None else away_from_moon(parts, self.requests[row].target, self.site, distance)

    def _worths(self, slots: Slots) -> tuple[list[FilterWorth | None], list[MountMotion | None]]:
        """Return the worth of each need, and the motion of each target."""
        targets = [request.target for request in self.requests]
        self.sky = sky = sky_over_night(targets, self.site, utc_time(slots.middles))
        growth = area_growth(self.rig, self.site, sky)
        motions = [self._motion(row) for row in range(len(targets))]
        bands = {need.band.name: need.band for _, need in self.needs}
        tables = {name: filter_worths(targets, motions, self.rig, self.site, band, sky, growth)
                  for name, band in bands.items()}
        return [tables[need.band.name][row] for row, need in self.needs], motions

    def _motion(self, row: int) -> MountMotion | None:
        window, target = self.first_reach(row).window, self.requests[row].target
        if not window.windows:
            return None
        stars = None if self.stars_around is None else self.stars_around(target)
        return mount_motion(target, self.rig, self.site, window.span, stars)

    @staticmethod
    def _wanted(need: Need, worth: FilterWorth | None) -> float:
        """Return the equivalent hours wanted in all, those done included."""
        if need.hours is not None:
            return float(need.hours.to_value(u.h))
        return 0.0 if worth is None or need.signal_to_noise is None else need.signal_to_noise**2 * worth.hours_for

    def _worth(self, wanted: list[float]) -> Worth:
        """Return what hours are worth, from those wanted by need."""
        hours = np.array(wanted)
        coming = [self.to_come.get((self.requests[row].target.name, need.band.name), 0 * u.h)
                  for row, need in self.needs]
        done = np.minimum([(need.done + TRUSTED * later).to_value(u.h)
                           for (_, need), later in zip(self.needs, coming, strict=True)], hours)
        self.weight = need_weights(self.needs, hours)
        return Worth(weight=self.weight * [self.requests[row].priority for row, _ in self.needs],
                     wanted=np.where(hours > 0, hours, 1.0), done=done, left=hours - done, finishing=np.array(
                         [self.finishing.get((self.requests[row].target.name, need.band.name), 0.0)
                          for row, need in self.needs]))

    def _shown(self, states: list[State], laid: list[SubBlock]) -> tuple[float, dict[str, float]]:
        """Return what blocks are worth, and their hours over those of the same time in the moonless zenith."""
        gained, best = np.zeros((2, len(self.needs)))
        for one in laid:
            gained[states[one.state].need] += one.hours
            best[states[one.state].need] += (one.end - one.start) * 24
        lines = np.array([narrow(need.band) for _, need in self.needs], bool)
        shares = {name: float(gained[rows].sum() / (best * self.zenith)[rows].sum())
                  for name, rows in ((BROAD, ~lines), (NARROW, lines)) if (best * self.zenith)[rows].sum() > 0}
        return float(self.worth.of(gained).sum()), shares

    def plan(self, slot: u.Quantity, states: list[State], laid: list[SubBlock], solution: FlowSolution | None,
             times: Times | None, slots: Slots | None = None) -> NightPlan:
        """Put the answer together."""
        darkest = self.nights[max(self.nights)]
        blocks = tuple(self._block(states[one.state], one) for one in laid)
        shortest = MINIMUM_BLOCK if times is None else times.minimum_block
        outlooks = tuple(self._outlook(row, blocks, shortest) for row in range(len(self.requests)))
        flips = flips_of(outlooks, blocks)
        reason = "" if blocks else _empty(darkest, self.nights, outlooks)
        moon = moon_events(self.site, darkest.start, darkest.end)
        value, shares = self._shown(states, laid)
        return NightPlan(
            date=self.date, rig=self.rig, site=self.site, night=darkest, twilight_dark=_twilight_dark(self.nights),
            moon=moon, outlooks=outlooks, blocks=blocks, flips=flips,
            events=self._events(blocks, darkest, times, flips, states, laid, slots),
            value=value, bound=_bound(value, solution), dark_shares=shares,
            times=times, slot=slot, lowest_altitude=self.lowest, reason=reason,
            notes=(*darkest.notes, *self.limits.notes(self.site)))

    def _events(self, blocks: tuple[Block, ...], darkest: Night, times: Times | None, flips: tuple[PlannedFlip, ...],
                states: list[State], laid: list[SubBlock], slots: Slots | None) -> tuple[Event, ...]:
        """Return all that happens besides exposing, rests among it, in order of time."""
        found = timeline(blocks, times, flips)
        if not blocks or times is None or slots is None:
            return found
        found += calibration_events(blocks, darkest, self.rig, self.site, self.calibration)
        left = self.worth.left - np.bincount([states[one.state].need for one in laid], [one.hours for one in laid],
                                             minlength=len(self.needs))
        idle = rests(states, laid, np.where(left > NOTHING, left, 0.0), span_of(slots.edges, self.limits), times)
        return tuple(sorted((*found, *idle), key=lambda event: float(mjd_tt(event.start))))

    def _block(self, state: State, one: SubBlock) -> Block:
        sky = given(self.sky)
        request, (_, need) = self.requests[state.target], self.needs[state.need]
        middle = int(np.argmin(np.abs((sky.times - utc_time((one.start + one.end) / 2)).sec)))
        sided = self.rig.mount.design != "fork"
        return Block(
            target=request.target, band=need.band, start=utc_time(one.start), end=utc_time(one.end),
            pier_side=seen_side(SIDES[state.side], sky.hour_angle[state.target, middle]) if sided else "",
            above_pole=SIDES[state.side] if sided else "", sub_exposure=one.sub_exposure_s * u.s,
            sub_count=one.sub_count, guided=one.guided, equivalent_hours=one.hours * u.h,
            refocus=tuple(utc_time(at) for at in one.refocus), altitude=sky.altitude[state.target, middle],
            moon_up=bool(sky.moon.apparent_altitude[middle].value > 0),
            moon_separation=sky.moon_separation[state.target, middle])

    def _far_enough(self, row: int) -> bool:
        """Say whether the observer's distance from the Moon leaves time for a request, or takes none."""
        needs = self.requests[row].needs
        return any(self._stretches(row, need) for need in needs) or not self.first_reach(row).stretches

    def _outlook(self, row: int, blocks: tuple[Block, ...], shortest: u.Quantity[u.min]) -> Outlook:
        request, found = self.requests[row], self.first_reach(row)
        own = [block for block in blocks if block.target.name == request.target.name]
        left = [hours for (owner, _), hours in zip(self.needs, self.worth.left, strict=True) if owner == row]
        return Outlook(
            request=request, reach=found, weights=tuple(
                float(weight) for (owner, _), weight in zip(self.needs, self.weight, strict=True) if owner == row),
            reason="" if own else _unplanned(found, left, shortest) if self._far_enough(row) else MOONLIT,
            planned=sum((block.equivalent_hours for block in own), 0 * u.h),
            clock_time=sum(((block.end - block.start).to(u.h) for block in own), 0 * u.h))


def _bound(value: float, solution: FlowSolution | None) -> float:
    """Return the bound of the slots, raised by what whole subs brought over the slots, if they did."""
    if solution is None or not solution.value > 0:
        return value
    return solution.bound * max(1.0, value / solution.value)


def _twilight_dark(nights: dict[float, Night]) -> tuple[float, tuple[Time, Time]] | None:
    """Return the least depth of the Sun and its dark time, where filters ask for different ones."""
    least = min(nights)
    dark = nights[least].dark
    return None if dark is None or len(nights) == 1 else (least, dark)


def _unplanned(found: Reach, left: list[float], shortest: u.Quantity[u.min]) -> str:
    """Say why a target has no block."""
    if not found.stretches:
        return found.window.reason or found.reason or "Observable, but neither side of the pier reaches it."
    if left and not any(hours > NOTHING for hours in left):
        return "Nothing is left to do."
    if found.window.hours < shortest:
        return (f"Observable for {found.window.hours.to_value(u.min):.0f} min only; need at least "
                f"{shortest.to_value(u.min):.0f} min.")
    return "Observable, but the time is better spent elsewhere."


def _empty(darkest: Night, nights: dict[float, Night], outlooks: tuple[Outlook, ...]) -> str:
    """Say why there is no block at all."""
    if all(found.dark is None for found in nights.values()):
        return darkest.reason
    if len({outlook.reason for outlook in outlooks}) == 1:
        return outlooks[0].reason
    return "None of the targets can be worked on tonight; the reasons stand beside them."
