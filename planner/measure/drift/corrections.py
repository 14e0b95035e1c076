"""Corrections at regular times: a loop with a long cycle moves the star back once a cycle, by a share of where it was.

Between two rows an unguided star jumps whither it likes, wherever it was before; one that is guided jumps back at one
phase of the cycle and at no other. So the jumps are regressed on the place before them, phase by phase; gears that turn
as fast are taken out first.
"""

import numpy as np

from planner.measure.drift.fit.periodic_terms import basis
from planner.measure.drift.model import AxisReport

LONGEST_CYCLE_S, SHORTEST_ROWS = 70.0, 4
FEWEST_CYCLES = 12  # in the log
MOST_ROWS = 1200  # more are averaged
FINE = 1.0  # phases by which a cycle may be missed over the whole log


def jumps_back(axis: AxisReport) -> float:
    """Return how much more the star jumps back at one phase of a cycle than at the others, in standard errors.

    The most of all cycles and phases; 0 where the log is too short for any. Chance alone reaches 4 to 5.
    """
    step = float(np.median(np.diff(axis.time_s)))
    row = np.round(axis.time_s / step).astype(int)
    gears = [1 / term.period.to_value("s") for term in axis.periodic if term.period.to_value("s") < 2 * LONGEST_CYCLE_S]
    usual = np.column_stack([np.ones(row.size), axis.time_s, basis(axis.time_s, np.array(gears))])
    places = [one - usual @ np.linalg.lstsq(usual, one, rcond=None)[0] for one in axis.places]
    block = -(-row.size // MOST_ROWS)
    whole = row.size // block * block
    row, places = row[:whole:block] // block, [one[:whole].reshape(-1, block).mean(axis=1) for one in places]
    step *= block
    largest, cycle = 0.0, float(SHORTEST_ROWS)
    while cycle <= min(LONGEST_CYCLE_S / step, row[-1] / FEWEST_CYCLES):
        largest = max(largest, *(_of_cycle(row, one, cycle, moved) for one, moved in zip(
            places, (False, True), strict=False)))
        cycle += FINE * cycle**2 / row[-1]
    return largest


def _of_cycle(row: np.ndarray, place: np.ndarray, cycle: float, moved: bool) -> float:
    """Return the same for one cycle, in rows; where the star was `moved` too, each phase has its own scatter."""
    before = round(cycle) - 1  # rows whose mean is the place, the last before the jump not among them
    sums = np.concatenate([[0.0], np.cumsum(place)])
    at = np.arange(before + 1, place.size - 1)
    whole = row[at + 1] - row[at - before] == before + 1
    at = at[whole]
    where = (sums[at] - sums[at - before]) / before
    jump = place[at + 1] - place[at] - (place[at - 1] - place[at - before]) / max(before - 1, 1)
    phases = int(cycle)
    phase = (row[at] % cycle * phases / cycle).astype(int)
    count = np.maximum(np.bincount(phase, minlength=phases), 1)
    where, jump = (values - (np.bincount(phase, values, phases) / count)[phase] for values in (where, jump))
    square = np.maximum(np.bincount(phase, where**2, phases), 1e-12)
    back = -np.bincount(phase, where * jump, phases) / square
    usual = -np.sum(where * jump) / max(np.sum(where**2), 1e-12)
    noise = np.full(phases, np.mean((jump + usual * where) ** 2))
    if moved:
        noise = np.maximum(noise, np.bincount(phase, (jump + back[phase] * where) ** 2, phases) / count)
    noise = np.sqrt(np.maximum(noise, 1e-18))
    return float(np.max(np.where(count > FEWEST_CYCLES / 2, back - usual, 0) * np.sqrt(square) / noise))
