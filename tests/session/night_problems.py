"""Plan problems for the tests: random small ones, large ones like a real night, and brute force."""

import itertools

import numpy as np

from planner.session.optimum.problem import IDLE, FlowProblem, plan_value


def problem(worth, *, target, need_index, side=None, need, change=0.0, band=0.0, flip=0.0, block=1, run=1,
            work=0.0):
    worth = np.array(worth, float)
    return FlowProblem(
        worth=worth, target=np.array(target), need_index=np.array(need_index),
        side=np.zeros(len(worth), int) if side is None else np.array(side), need=np.array(need, float),
        change_cost=change, filter_cost=band, flip_cost=flip, minimum_block=block, minimum_run=run,
        work_cost=np.full(len(worth), float(work)))


def small_problem(seed, *, sides=True):
    """Return two or three targets, up to two filters each, five to seven slots: brute force can try all of it."""
    rng = np.random.default_rng(seed)
    slots = int(rng.integers(5, 8))
    filters = [1, int(rng.integers(1, 3))]
    rows, target, need_index, side, need = [], [], [], [], []
    for which, count in enumerate(filters):
        turn = rng.integers(1, slots)
        for _ in range(count):
            worth = rng.uniform(0.2, 1, slots) * (rng.random(slots) > 0.1)
            for now in range(2 if sides and which == 0 else 1):
                reach = np.arange(slots) <= turn if now == 0 else np.arange(slots) >= turn - 1
                rows.append(np.where(reach, worth, 0) if sides and which == 0 else worth)
                target.append(which)
                need_index.append(len(need))
                side.append(now)
            need.append(rng.uniform(0.5, slots))
    run = int(rng.integers(1, 3))
    band, flip = rng.uniform(0, 0.2), rng.uniform(0, 1.2)
    return problem(rows, target=target, need_index=need_index, side=side, need=need, band=band, flip=flip,
                   change=band + flip + rng.uniform(0, 0.5), block=int(rng.integers(run, 4)), run=run,
                   work=rng.choice([0.0, 0.02]))


def best_by_brute_force(found):
    """Return the value of the best of all sequences of states."""
    slots = found.worth.shape[1]
    choices = [[IDLE, *np.flatnonzero(found.worth[:, slot] > 0)] for slot in range(slots)]
    return max(plan_value(found, np.array(sequence)) for sequence in itertools.product(*choices))


def large_problem(seed, *, targets=20, filters=4, slots=120):
    """Return a night: targets that rise and set, the Moon that sets before half time and hurts some filters more."""
    rng = np.random.default_rng(seed)
    slot = np.arange(slots)
    moon = 1 / (1 + np.exp((slot - slots * 0.45) / 4))
    rows, target, need_index, side, need = [], [], [], [], []
    for which in range(targets):
        transit, half = rng.uniform(-20, slots + 20), rng.uniform(25, 60)
        priority = rng.choice([0.5, 1, 1, 1, 2])
        from_transit = slot - transit
        height = np.where(np.abs(from_transit) < half, 0.55 + 0.4 * np.cos(from_transit / half * np.pi / 2), 0)
        for band in range(filters):
            worth = priority * height * (1 - (0.9, 0.85, 0.8, 0.6)[band % 4] * moon)
            for now, reach in enumerate((from_transit < 8, from_transit > -2)):
                rows.append(np.where(reach, worth, 0))
                target.append(which)
                need_index.append(len(need))
                side.append(now)
            need.append(priority * rng.uniform(6, 36))
    return problem(rows, target=target, need_index=need_index, side=side, need=need, change=0.9, band=0.1, flip=0.8,
                   block=6, run=3)
