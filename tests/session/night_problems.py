"""Plan problems for the tests: random small ones, large ones like a real night, and brute force."""

from dataclasses import replace

import numpy as np

from planner.session.optimum.problem import SHORT, FlowProblem, Run, Worth


def problem(gain, *, group, need_index, wanted, done=0.0, weight=1.0, target=None, change=0.0, band=0.0, block=1,
            run=1):
    gain, wanted = np.array(gain, float), np.array(wanted, float)
    done, weight = (np.broadcast_to(np.array(part, float), wanted.shape) for part in (done, weight))
    return FlowProblem(
        gain=gain, group=np.array(group), target=np.array(group if target is None else target),
        need_index=np.array(need_index), change_cost=change, filter_cost=band, minimum_block=block,
        worth=Worth(weight=weight, wanted=wanted, done=done, left=wanted - done),
        least_run=np.broadcast_to(run, len(gain)))


def small_problem(seed):
    """Return two or three targets, up to two filters each, five to seven slots: brute force can try all of it.

    Every other one tells apart how much of a slot can be exposed.
    """
    rng = np.random.default_rng(seed)
    slots, rows, group, need_index, wanted = int(rng.integers(5, 8)), [], [], [], []
    for which, count in enumerate((1, int(rng.integers(1, 3)), int(rng.integers(1, 3)))):
        for _ in range(count):
            rows.append(rng.uniform(0.2, 1, slots) * (rng.random(slots) > 0.15))
            group.append(which)
            need_index.append(len(wanted))
            wanted.append(rng.uniform(0.5, slots))
    run, band = int(rng.integers(1, 3)), rng.uniform(0, 0.2)
    found = problem(rows, group=group, need_index=need_index, wanted=wanted, weight=rng.uniform(0.5, 2, len(wanted)),
                    done=np.array(wanted) * rng.choice([0, 0.5], len(wanted)), band=band,
                    change=band + rng.uniform(0, 0.7), block=int(rng.integers(run, 4)), run=run)
    clock = rng.choice([1.0, 1.0, 0.3], found.gain.shape)
    return found if seed % 2 else replace(found, clock=clock)


def worth_by_hand(found, runs):
    """Return the worth of runs by the definition: hours less those lost at the start, and the square root."""
    hours, before = np.zeros(len(found.worth.wanted)), None
    for run in runs:
        gains = found.gain[run.row, run.start:run.end]
        joined = before is not None and before.end == run.start and found.group[before.row] != found.group[run.row]
        lost = found.change_cost if joined else found.filter_cost
        hours[found.need_index[run.row]] += sum(
            gain * min(max(slot + 1 - lost, 0), 1) for slot, gain in enumerate(gains))
        before = run
    worth = found.worth
    reached = np.minimum(worth.done + hours, worth.done + worth.left)
    return float((worth.weight * (np.sqrt(reached / worth.wanted) - np.sqrt(worth.done / worth.wanted))).sum())


def best_by_brute_force(found):
    """Return the worth of the best of all sequences of runs, each need once."""
    best = 0.0

    def go_on(slot, runs, block_start):
        nonlocal best
        whole = not runs or runs[-1].end - block_start >= found.minimum_block
        if whole:
            best = max(best, worth_by_hand(found, runs))
        used = {found.need_index[run.row] for run in runs}
        for start in range(slot, found.slots):
            rest = start - slot
            for row in range(len(found.gain)):
                joined = bool(runs) and rest == 0 and found.group[runs[-1].row] == found.group[row]
                if found.need_index[row] in used or found.gain[row, start] <= 0 or not (whole or joined):
                    continue
                if runs and 0 < rest < found.least_rest:
                    continue
                other = bool(runs) and rest == 0 and found.group[runs[-1].row] != found.group[row]
                lost = found.change_cost if other else found.filter_cost
                for end in range(start + int(found.least_run[row]), found.slots + 1):
                    short = found.clock is not None and (
                        found.clock[row, start:end].sum() - lost < found.least_run[row] - SHORT)
                    if found.gain[row, end - 1] > 0 and not short:
                        go_on(end, [*runs, Run(row, start, end)], block_start if joined else start)

    go_on(0, [], 0)
    return best


def large_problem(seed, *, targets=20, filters=4, slots=120, run=12, block=12):
    """Return a night: targets that rise and set, the Moon that sets before half time and hurts some filters more."""
    rng = np.random.default_rng(seed)
    slot = np.arange(slots)
    moon = 1 / (1 + np.exp((slot - slots * 0.45) / 4))
    rows, group, need_index, wanted, weight = [], [], [], [], []
    for which in range(targets):
        transit, half = rng.uniform(-20, slots + 20), rng.uniform(25, 60)
        priority = rng.choice([0.5, 1, 1, 1, 2])
        from_transit = slot - transit
        height = np.where(np.abs(from_transit) < half, 0.55 + 0.4 * np.cos(from_transit / half * np.pi / 2), 0)
        for way, flip in enumerate((int(transit) + 7, int(transit) - 2)):
            for band in range(filters):
                gain = height * (1 - (0.9, 0.85, 0.8, 0.6)[band % 4] * moon) / 12
                if 0 <= flip < slots:
                    gain[flip] *= 0.2
                rows.append(gain)
                group.append(2 * which + way)
                need_index.append(which * filters + band)
        wanted += list(rng.uniform(0.5, 9, filters))
        weight += [priority] * filters
    done = np.array(wanted) * rng.choice([0, 0, 0.3, 0.7], len(wanted))
    return problem(rows, group=group, need_index=need_index, target=np.array(group) // 2, wanted=wanted, done=done,
                   weight=weight, change=0.9, band=0.1, block=block, run=run)
