"""From what can be worked on when to the rows of the problem, and from its runs back to sides of the pier.

A target is followed from one side of the pier until that side must stop (*late*) or only until the other can begin
(*early*): a stay that ends before, or begins after, needs no flip in one of the two ways. A stay over both is given its
flip where a filter changes, or midway between the earliest moment and the latest.
"""

import itertools

import numpy as np
from astropy import units as u

from planner.session.night.slots.blocks import IDLE, State
from planner.session.night.slots.shortlist import BestCases
from planner.session.night.slots.windows import Slots, Stretch
from planner.session.optimum.problem import FlowProblem, Run, Worth
from planner.session.worth.times import Times

NO_SIDE = -1
SHORTEST_RUN = 15 * u.min  # to meet what is left of a need (common practice, no source)
LEAST_LEFT = 1e-3  # of a slot that a flip takes whole: a run may end there


def ways(slots: Slots, stretches: tuple[Stretch, ...]) -> np.ndarray:
    """Return the side that follows a target in each slot, changed late and changed early, (2, slots)."""
    open_to = [slots.share(stretches, side) > 0 for side in range(2)]
    return np.stack([_kept_on(open_to), _kept_on([side[::-1] for side in open_to])[::-1]])


def _kept_on(open_to: list[np.ndarray]) -> np.ndarray:
    """Return the side of each slot, kept as long as it can be."""
    found, now = np.full(len(open_to[0]), NO_SIDE), 0
    for slot in range(len(found)):
        if not open_to[now][slot] and open_to[1 - now][slot]:
            now = 1 - now
        if open_to[now][slot]:
            found[slot] = now
    return found


def flow_problem(states: list[State], worth: Worth, slots: Slots, times: Times) -> FlowProblem:
    """Return the plan as the solver wants it: gains in equivalent hours, costs in slots."""
    step = slots.length * u.day
    hours = slots.length * 24 * times.collecting
    rows = [(2 * state.target + way, state, side) for state in {state.need: state for state in states}.values()
            for way, side in enumerate(ways(slots, state.stretches))]
    rows.sort(key=lambda row: row[0])
    groups = np.unique([group for group, _, _ in rows], return_inverse=True)[1]
    clock = np.array([_clock(state, side, slots, float(times.flip / step)) for _, state, side in rows]).reshape(
        len(rows), len(slots))
    gain = hours * clock * np.array([state.worth.best for _, state, _ in rows]).reshape(clock.shape)
    return FlowProblem(
        gain=gain, clock=clock, group=groups, worth=worth,
        target=np.array([state.target for _, state, _ in rows], int),
        need_index=np.array([state.need for _, state, _ in rows], int),
        change_cost=float(times.change / step), filter_cost=float(times.band / step),
        minimum_block=_whole(times.minimum_block, step),
        least_run=least_runs(gain, worth.most[[state.need for _, state, _ in rows]],
                             slots, times))


def best_cases(rate: np.ndarray, owner: np.ndarray, worth: Worth, slots: Slots, times: Times, requests: int
               ) -> BestCases:
    """Return the best cases of needs from what an hour of each slot counts for at most, (needs, slots)."""
    gain = slots.length * 24 * times.collecting * rate
    return BestCases(gain=gain, owner=owner, worth=worth, least_run=least_runs(gain, worth.most, slots, times),
                     requests=requests)


def least_runs(gain: np.ndarray, left: np.ndarray, slots: Slots, times: Times) -> np.ndarray:
    """Return the least slots of runs, (rows,): the usual ones, fewer where the need is met in fewer."""
    step = slots.length * u.day
    usual, shortest = _whole(times.minimum_run, step), _whole(SHORTEST_RUN, step)
    best = np.maximum(gain.max(axis=1, initial=0.0), 1e-9)
    return np.clip(np.ceil(left / best), min(shortest, usual), usual).astype(int)


def _whole(length: u.Quantity, step: u.Quantity) -> int:
    return max(1, int(np.ceil((length / step).to_value(u.one) - 1e-6)))


def _clock(state: State, side: np.ndarray, slots: Slots, flip: float) -> np.ndarray:
    """Return the share of each slot that can be exposed, less what flips take of it."""
    share = np.stack([slots.share(state.stretches, which) for which in range(2)])
    clock = np.where(side == NO_SIDE, 0.0, share[np.maximum(side, 0), np.arange(len(slots))])
    worked = np.flatnonzero(side != NO_SIDE)
    for before, after in itertools.pairwise(worked):
        if side[before] != side[after]:
            opens = max(part.opens for part in state.stretches if part.side == side[after]
                        and part.start < slots.edges[after + 1] and part.end > slots.edges[after])
            idle = max(0.0, after - max(before + 1, (opens - slots.edges[0]) / slots.length))
            lost = np.clip(flip - idle - np.arange(len(slots) - after), 0, 1)
            clock[after:] *= 1 - lost * (1 - LEAST_LEFT)
    return clock


def state_sequence(runs: list[Run], problem: FlowProblem, states: list[State], slots: Slots) -> np.ndarray:
    """Return the number of the state, with the side of the pier, in each slot; IDLE for none, (slots,)."""
    sequence = np.full(len(slots), IDLE)
    numbers = {(state.need, state.side): number for number, state in enumerate(states)}
    for block in _blocks(runs, problem):
        edges = sorted({edge for run in block for edge in (run.start, run.end)})
        for run in block:
            need = int(problem.need_index[run.row])
            own = next(state for state in states if state.need == need)
            late, early = ways(slots, own.stretches)
            side = _flipped(late, early, edges)
            for slot in range(run.start, run.end):
                if side[slot] != NO_SIDE:
                    sequence[slot] = numbers[need, int(side[slot])]
    return sequence


def _blocks(runs: list[Run], problem: FlowProblem) -> list[list[Run]]:
    """Return the runs of each stay on a target."""
    found: list[list[Run]] = []
    for run in runs:
        joined = found and found[-1][-1].end == run.start and (
            problem.group[found[-1][-1].row] == problem.group[run.row])
        if joined:
            found[-1].append(run)
        else:
            found.append([run])
    return found


def _flipped(late: np.ndarray, early: np.ndarray, edges: list[int]) -> np.ndarray:
    """Return the side in each slot for a stay whose runs begin and end at some boundaries, as few flips as will do."""
    side, first, last = late.copy(), edges[0], edges[-1]
    either = np.flatnonzero(late != early)
    for part in np.split(either, np.flatnonzero(np.diff(either) > 1) + 1) if len(either) else []:
        start, end = int(part[0]), int(part[-1]) + 1
        if start <= first:
            side[start:end] = early[start:end]
        elif end < last:
            middle = (start + end) / 2
            at = min((edge for edge in edges if start <= edge <= end), key=lambda edge: abs(edge - middle),
                     default=int(middle))
            side[at:end] = early[at:end]
    return side
