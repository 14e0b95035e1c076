"""Errors that repeat with the turn of an axis, added to a pointing model only if they predict what was held out.

Plain floats. An eccentric gear or encoder adds A sin(k x) + B cos(k x) to the reading x of its axis. A pair (axis, k)
joins if leaving each sighting out in turn shows that it lowers the squared miss by more than two standard errors of
that gain: fits of noise are then refused.
"""

import numpy as np
from astropy import units as u

from planner.measure.pointing.design import Sightings, held_out, slopes
from planner.measure.pointing.results import HarmonicTerm
from planner.tracking.pointing_model import TERM_NAMES

CANDIDATES = (("polar", 1), ("polar", 2), ("declination", 1), ("declination", 2))
MOST = 2
GAIN_ERRORS = 2.0
# Sightings per fitted number below which nothing is added.
FEWEST_PER_NUMBER = 3


def index_slopes(seen: Sightings, values: np.ndarray, miss: np.ndarray) -> np.ndarray:
    """Return how the misses (n, 2) move with the reading of the polar and of the declination axis, (n, 2, 2)."""
    return slopes(seen, values, [TERM_NAMES.index("hour_angle_zero"), TERM_NAMES.index("declination_zero")], miss)


def harmonic_columns(seen: Sightings, along: np.ndarray, axis: str, per_turn: int) -> np.ndarray:
    """Return how the misses move with the sine and the cosine of an axis' error, (n, 2, 2), from `index_slopes`."""
    along = along[..., :1] if axis == "polar" else along[..., 1:]
    phase = per_turn * (seen.axis1 if axis == "polar" else seen.axis2)
    return along * np.stack([np.sin(phase), np.cos(phase)], axis=-1)[:, None, :]


def choose_harmonics(
    seen: Sightings, jacobian: np.ndarray, miss: np.ndarray, along: np.ndarray
) -> list[tuple[str, int]]:
    """Return the pairs of axis and turns that cross-validation keeps, in the order of their gain."""
    chosen: list[tuple[str, int]] = []
    current = _squares(jacobian, miss)
    left = list(CANDIDATES)
    while len(chosen) < MOST and 2 * seen.count >= FEWEST_PER_NUMBER * (jacobian.shape[-1] + 2):
        trials = [np.concatenate([jacobian, harmonic_columns(seen, along, *pair)], axis=-1) for pair in left]
        gains = [current - _squares(trial, miss) for trial in trials]
        top = int(np.argmax([gain.mean() for gain in gains]))
        if gains[top].mean() < GAIN_ERRORS * gains[top].std() / np.sqrt(seen.count):
            break
        chosen.append(left.pop(top))
        current, jacobian = current - gains[top], trials[top]
    return chosen


def _squares(jacobian: np.ndarray, miss: np.ndarray) -> np.ndarray:
    """Return the squared held-out miss of each sighting (n,); infinite if the columns are dependent."""
    flat = jacobian.reshape(-1, jacobian.shape[-1])
    if np.linalg.cond(flat / np.linalg.norm(flat, axis=0)) > 1e3:
        return np.full(miss.shape[0], np.inf)
    inverse = np.linalg.inv(flat.T @ flat)
    rest = miss - jacobian @ (inverse @ flat.T @ miss.ravel())
    return np.sum(held_out(jacobian, rest, inverse) ** 2, axis=1)


def harmonic_terms(
    waves: list[tuple[str, int]], amounts: np.ndarray, errors: np.ndarray
) -> tuple[HarmonicTerm, ...]:
    """Return the kept pairs with their amounts and errors, both (2k,) in radians."""
    values, spreads = (np.degrees(numbers) * 3600 * u.arcsec for numbers in (amounts, errors))
    return tuple(
        HarmonicTerm(axis=axis, per_turn=turns, sine=values[2 * i], sine_error=spreads[2 * i],
                     cosine=values[2 * i + 1], cosine_error=spreads[2 * i + 1])
        for i, (axis, turns) in enumerate(waves)
    )
