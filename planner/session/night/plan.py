"""The plan of a night: which target through which filter when, so that the pictures gain most.

What is maximised is the sum over targets and filters of priority × weight × (√((done + gained) / wanted)
− √(done / wanted)), hours being *equivalent hours*, up to those wanted. Each line weighs 1; the broad bands of a
target, one picture, weigh 1 on average, in proportion to the hours wanted; in a night by itself each picture by what
the Moon leaves of it, beside what it leaves of the best (`slots.moonlit`). An equivalent hour is an hour with a
perfect camera on a perfect mount, the target in the zenith of a dark moonless sky (`slots.slot_worth`);
signal-to-noise grows with its square root, so that first hours count most and sets come out balanced. That broad bands
go to the dark hours and narrow bands to the Moon's is no rule here: moonlight takes more from the one than from the
other, and the sum is largest that way round.

Where no other nights are looked at (`season`), few targets are chosen first (`choice`): beginning one costs
`draft.STAY` of what all hours of its weightiest filter are worth, the less the more of it is done, and its broad bands,
one picture, count by the one that lags most (`draft.PART`). With first hours worth most, a night would be cut up among
all that is up; so each gets hours through all its filters. What lacks one all the same is said.

The night is cut into slots; each filter of a target is worked on in one go. The sequence of slots that
is worth most is found with a proven bound, of the targets chosen (`session.optimum`); what becomes of it in whole subs
(`slots.blocks`) is not in the proof.
"""

import datetime
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import Rule, check, given
from planner.errors import InvalidInputError
from planner.rig import Rig, Site
from planner.session.advice.answer import LOWEST_ALTITUDE
from planner.session.advice.guide_star import NearbyStars
from planner.session.night.answer import Laid, night_plan
from planner.session.night.calibration import Calibration
from planner.session.night.choice import MOST, best_sets, best_stays
from planner.session.night.draft import NightDraft
from planner.session.night.limits import NightLimits
from planner.session.night.model import NightPlan
from planner.session.night.slots.blocks import State, lay_blocks
from planner.session.night.slots.rows import flow_problem, state_sequence
from planner.session.night.slots.shortlist import FEW
from planner.session.night.slots.windows import Slots, slots_of
from planner.session.optimum.problem import FlowProblem, Run, plan_gain, plan_value
from planner.session.optimum.season import Expected
from planner.session.optimum.solve import FlowSolution, solve_flow
from planner.session.projects.neighbours import one_job
from planner.session.projects.request import Request
from planner.session.worth.times import FLIP_MARGIN, MINIMUM_BLOCK, MINIMUM_RUN, Times, times_of
from planner.visibility import Target
from planner.visibility.moving_targets import placed

SLOT = 5 * u.min
COARSE = 20 * u.min  # in which targets are chosen
ROUGH = 0.003  # of the bound: a plan that tells of which targets it should be may be so far from it
SETS = 4  # of targets that are planned in coarse slots
NEAR = 0.03  # of what a choice of targets brings: another that is so near is planned too
POOR = 0.05  # of the bound: a plan so far from it may be bettered with fewer targets
LOOKS = 6  # at what else a long list holds
_SLOT = Rule(unit=u.min, at_least=1, at_most=60, remedy="Give 1 to 60 minutes, e.g. 5 min.")
_BLOCK = Rule(unit=u.min, at_least=0, at_most=600, remedy="Give the shortest stay on a target, e.g. 45 min.")
_RUN = Rule(unit=u.min, at_least=0, at_most=600, remedy="Give the shortest time through one filter, e.g. 30 min.")
Solved = tuple[list[State], FlowProblem, FlowSolution]
_MARGIN = Rule(unit=u.min, at_least=0, at_most=120, remedy="Give the time kept before the mount must stop.")


def plan_night(requests: Iterable[Request], rig: Rig, site: Site, date: datetime.date, *,
               lowest_altitude: u.Quantity[u.deg] = LOWEST_ALTITUDE, slot: u.Quantity[u.min] = SLOT,
               minimum_block: u.Quantity[u.min] = MINIMUM_BLOCK, minimum_run: u.Quantity[u.min] = MINIMUM_RUN,
               flip_margin: u.Quantity[u.min] = FLIP_MARGIN,
               limits: NightLimits | None = None, calibration: Calibration | None = None,
               season: Mapping[tuple[str, str], Expected] | None = None,
               constraints: Sequence[Any] = (),
               stars_around: Callable[[Target], NearbyStars | None] | None = None) -> NightPlan:
    """Return the plan of one night.

    Parameters
    ----------
    requests : iterable of Request
        Each target once; neighbours in one field are one job.
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
    season : mapping, optional
        By the names of target and filter: what other nights are expected to bring (`planner.session.campaign`). It
        counts as done, so that tonight goes to what it is best for.
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
    requests = tuple(replace(request, target=placed(request.target, site, date)) for request in _checked(requests))
    requests, main = one_job(requests, rig)
    slot, minimum_block = check("slot", slot, _SLOT), check("minimum_block", minimum_block, _BLOCK)
    minimum_run = check("minimum_run", minimum_run, _RUN)
    limits = (limits or NightLimits()).checked(rig, site)
    draft = NightDraft(requests, rig, site, date, lowest_altitude, stars_around,
                  check("flip_margin", flip_margin, _MARGIN), limits, season, constraints,
                  calibration or Calibration(), main)
    slots = slots_of(draft.nights, slot)
    if slots is None or not any(found.stretches for found in draft.reaches.values()):
        return night_plan(draft, slot, None)
    times = times_of(rig, site, minimum_block=minimum_block, minimum_run=minimum_run)
    if draft.stay:
        found = _begun(draft, slots, times)
    else:
        draft.look(slots)
        found = _solved(draft, slots, times)
    if found is not None and found[2].gap > POOR and draft.begun is None:
        found = _with_few(draft, slots, times, found)
    if found is not None and draft.begun is not None:
        found = _filled(draft, slots, times, _unbroken(draft, slots, times, found))
    if found is None:  # nothing is left to do
        return night_plan(draft, slot, None)
    states, problem, solution = found
    blocks = lay_blocks(state_sequence(solution.runs, problem, states, slots), states, slots, times,
                        list(draft.worth.most), few_lengths=draft.calibration.darks > 0)
    return night_plan(draft, slot, Laid(slots=slots, times=times, states=states, solution=solution, blocks=blocks))


def _solved(draft: NightDraft, slots: Slots, times: Times, only: set[int] | None = None, *,
            like: FlowSolution | None = None, least: float = 0.0) -> Solved | None:
    """Return the states, the problem and its solution, of a long list with the targets that can matter alone.

    `only` are the targets to plan; None: all. `like` and `least` as of `solve_flow`.
    """
    rows = set(range(len(draft.requests))) if only is None else set(only)
    best = None if len(rows) <= FEW else draft.best_cases(times)
    if best is not None:
        rows = best.first_choice() | {row for row, need in draft.needs if need.hours is None}
    for _ in range(LOOKS):
        states = draft.states(rows)
        if not states:
            return None
        problem = flow_problem(states, draft.worth, slots, times)
        solution = solve_flow(problem, like=like, least=least, proven=best is not None)
        if best is None:
            break
        more, bound = best.overlooked(solution, rows)
        like = solution
        solution = replace(solution, bound=bound)  # of the whole list
        if not more:
            break
        rows |= more
    return states, problem, solution


def _with_few(draft: NightDraft, slots: Slots, times: Times, found: Solved) -> Solved:
    """Return a plan of few targets if it is better than one of all that is far from its bound, which stays."""
    choices = _worth_beginning(draft, slots.length * u.day, times)
    draft.look(slots)
    other = _solved(draft, slots, times, choices[0][0], like=choices[0][1]) if choices else None
    if other is None or other[2].value <= found[2].value:
        return found
    return other[0], other[1], replace(other[2], bound=found[2].bound)


def _filled(draft: NightDraft, slots: Slots, times: Times, found: Solved) -> Solved:
    """Return a plan of the targets chosen with others in the hours that it leaves empty, one in each such stretch."""
    _, problem, solution = found
    idle, rest = np.ones(len(slots), bool), problem.least_rest
    for run in solution.runs:
        idle[max(run.start - rest, 0):run.end + rest] = False
    gaps = np.flatnonzero(np.diff(np.concatenate([[0], idle, [0]]))).reshape(-1, 2)
    if np.diff(gaps).max(initial=0) < problem.minimum_block:
        return found
    every = range(len(draft.requests)) if len(draft.requests) <= FEW else draft.best_cases(times).first_choice()
    spans = [(slots.edges[first], slots.edges[last]) for first, last in gaps if last - first >= problem.minimum_block]
    up = {row for row in every if any(part.start < end and part.end > start for number in draft.numbers[row]
                                      for part in draft.stretches(*draft.needs[number]) for start, end in spans)}
    states = draft.states(up | given(draft.begun))
    whole = flow_problem(states, draft.worth, slots, times)
    open_to = np.outer(~np.isin(whole.target, list(given(draft.begun))), idle)
    more = solve_flow(replace(whole, gain=whole.gain * open_to))
    owner = [row for row, _ in draft.needs]
    for first, last in gaps:
        gained = plan_gain(whole, [run for run in more.runs if first <= run.start < last])
        worth = np.bincount(owner, whole.worth.of(gained) * draft.whole(gained))
        open_to[whole.target != np.argmax(worth), first:last] = False
    if any(not open_to[run.row, run.start] for run in more.runs):
        more = solve_flow(replace(whole, gain=whole.gain * open_to))
    rows = [np.flatnonzero(whole.need_index == need) for need in problem.need_index]  # in both, late before early
    early = [int(np.count_nonzero(problem.need_index[:row] == need)) for row, need in enumerate(problem.need_index)]
    runs = sorted([*(Run(int(rows[run.row][early[run.row]]), run.start, run.end) for run in solution.runs), *more.runs],
                  key=lambda run: run.start)
    value = plan_value(whole, runs)
    if value <= solution.value:
        return found
    return states, whole, replace(solution, runs=runs, value=value, bound=solution.bound + more.bound)


def _begun(draft: NightDraft, slots: Slots, times: Times) -> Solved | None:
    """Return the plan of the targets that are worth beginning; of choices that come near each other the best."""
    choices = _worth_beginning(draft, slots.length * u.day, times)
    draft.look(slots)
    best, plan = -np.inf, None if choices else _solved(draft, slots, times)
    for rows, like in choices:
        found = _solved(draft, slots, times, rows, like=like, least=max(best + _cost(draft, rows), 0.0))
        if found is not None and (plan is None or _beyond(draft, found)[1] > best):
            best, plan, draft.begun = _beyond(draft, found)[1], found, rows
    return plan


def _worth_beginning(draft: NightDraft, slot: u.Quantity[u.min], times: Times) -> list[tuple[set[int], FlowSolution]]:
    """Return the targets that are worth beginning in a night that is all there is, with a plan in coarse slots.

    Of the sets that bring most with one stay on each target, those of which a plan comes NEAR the best.
    """
    coarse = given(slots_of(draft.nights, max(slot, COARSE)))
    draft.look(coarse)
    states, stays = _candidates(draft, coarse, times)
    problem = flow_problem(states, draft.worth, coarse, times)
    choices: list[tuple[float, set[int], FlowSolution]] = []
    for brought, rows in best_sets(stays)[:SETS]:
        least = max((beyond - NEAR * abs(beyond) for beyond, _, _ in choices), default=-np.inf) + _cost(draft, rows)
        some = problem.among(rows)
        plan = solve_flow(some, rough=ROUGH, hope=brought + _cost(draft, rows), least=max(least, 0.0))
        if plan.runs and plan.value >= least:
            choices.append((_beyond(draft, (states, some, plan))[1], rows, plan))
    choices.sort(key=lambda choice: -choice[0])
    return [(rows, plan) for beyond, rows, plan in choices[:2] if beyond >= choices[0][0] - NEAR * abs(choices[0][0])]


def _candidates(draft: NightDraft, slots: Slots, times: Times) -> tuple[list[State], dict[int, np.ndarray]]:
    """Return the states of the targets to choose from, and what their best stays bring.

    Of a long list those that can bring most come first, until no other brings noticeably more than those looked at.
    """
    states, stays = list[State](), dict[int, np.ndarray]()
    rows, left = list(range(len(draft.requests))), list[int]()
    most = np.zeros(len(rows))
    if len(rows) > FEW:
        best = draft.best_cases(times)
        most = best.most() - draft.stay_cost
        rows = [row for row, need in draft.needs if need.hours is None]
        left = sorted(best.first_choice() - set(rows), key=lambda row: -most[row])
    while True:
        states += (some := draft.states(set(rows)))
        stays |= best_stays(flow_problem(some, draft.worth, slots, times), draft.numbers, draft.counts, draft.stay_cost)
        brought = sorted((float(stay.max()) for stay in stays.values()), reverse=True)
        if not left or (len(brought) >= MOST and brought[MOST - 1] >= most[left[0]] - ROUGH * abs(most[left[0]])):
            return sorted(states, key=lambda state: state.need), stays
        rows, left = left[:MOST], left[MOST:]


def _cost(draft: NightDraft, rows: set[int]) -> float:
    """Return what it costs to begin some targets."""
    return float(draft.stay_cost[list(rows)].sum())


def _beyond(draft: NightDraft, found: Solved) -> tuple[list[int], float]:
    """Return the targets of a plan, those that bring least first, and what they bring beyond what beginning costs."""
    _, problem, solution = found
    gained = plan_gain(problem, solution.runs)
    brought = problem.worth.of(gained) * draft.whole(gained)
    worth = np.bincount([row for row, _ in draft.needs], brought) - draft.stay_cost
    begun = {int(problem.target[run.row]) for run in solution.runs}
    return sorted(begun, key=lambda row: worth[row]), float(worth[list(begun)].sum())


def _unbroken(draft: NightDraft, slots: Slots, times: Times, found: Solved) -> Solved:
    """Return a plan of the targets chosen without those that the others are better without, as where pictures break."""
    while (draft.whole(plan_gain(found[1], found[2].runs)) < 1).any():
        rows, value = _beyond(draft, found)
        other = _solved(draft, slots, times, set(rows[1:]), like=found[2]) if len(rows) > 1 else None
        if other is None or not _beyond(draft, other)[1] > value:
            break
        found, draft.begun = other, set(rows[1:])
    return found


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
