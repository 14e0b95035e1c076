"""A series of short frames as a drift log: stars matched from frame to frame, their common motion in each."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.measure.drift.model import DriftLog
from planner.measure.frame.sky_trail import Orientation
from planner.measure.robust import ERROR_OF_MEDIAN, huber_fit
from planner.measure.stars.selection import Stars

BRIGHTEST = 80  # stars whose pairs are tried for a first guess
GUESS_REACH = 2.0  # pix; pairs that agree so well vote together
FEWEST_MATCHES = 4
LEAST_SHARE = 0.2  # of the fewer of the two frames' brightest that must agree
MATCH_REACH = 3.0  # pix, in the first of the rounds below
ROUNDS = 4
FEWEST_FOR_TURN = 10


@dataclass(frozen=True)
class FrameOffsets:
    """Where the stars of each frame stand against the first, at the frame's centre; NaN for frames without match."""

    x: np.ndarray  # (n,) pix
    y: np.ndarray
    error: np.ndarray  # of each, 1 sigma
    turn: np.ndarray  # rad, from +x towards +y


def frame_offsets(stars: Sequence[Stars], shape: tuple[int, int]) -> FrameOffsets:
    """Return how far the stars moved from the first frame that has enough of them.

    `stars`: of each frame, in order of time, all from one camera. `shape`: rows and columns of the frames; offsets
    hold at the centre.
    A frame whose stars left the first one's field is matched with the last frame that did match.
    """
    count = len(stars)
    x, y, error, turn = (np.full(count, np.nan) for _ in range(4))
    centre = np.array([(shape[1] - 1) / 2, (shape[0] - 1) / 2])
    usable = [index for index in range(count) if stars[index].count >= FEWEST_MATCHES]
    if not usable:
        return FrameOffsets(x, y, error, turn)
    anchor = last = usable[0]
    x[anchor] = y[anchor] = turn[anchor] = error[anchor] = 0.0
    for index in range(anchor + 1, count):
        for base in dict.fromkeys((anchor, last)):
            found = _offset(stars[base], stars[index], centre)
            if found is not None:
                x[index], y[index] = x[base] + found[0], y[base] + found[1]
                turn[index], error[index] = turn[base] + found[2], np.hypot(error[base], found[3])
                last = index
                break
    return FrameOffsets(x, y, error, turn)


def _offset(first: Stars, other: Stars, centre: np.ndarray) -> tuple[float, float, float, float] | None:
    """Return shift x, y, turn and error from one frame to another; None if their stars do not agree."""
    from scipy.spatial import cKDTree

    guess = _first_guess(first, other)
    if guess is None:
        return None
    here = np.column_stack([first.x, first.y]) - centre
    there = np.column_stack([other.x, other.y]) - centre
    tree = cKDTree(there)
    shift, turn, reach = guess, 0.0, MATCH_REACH
    for _ in range(ROUNDS):
        moved = here + shift + turn * np.column_stack([-here[:, 1], here[:, 0]])
        distance, partner = tree.query(moved)
        use = distance < reach
        if use.sum() < FEWEST_MATCHES:
            return None
        shift, turn, spread = _rigid(here[use], there[partner[use]])
        reach = max(0.5, min(reach, 5 * spread))
    return float(shift[0]), float(shift[1]), turn, float(spread * ERROR_OF_MEDIAN / np.sqrt(use.sum()))


def matched_pairs(first: Stars, other: Stars, shape: tuple[int, int], reach: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the indices of stars that two frames share, in each of them; none where the frames do not agree."""
    from scipy.spatial import cKDTree

    centre = np.array([(shape[1] - 1) / 2, (shape[0] - 1) / 2])
    found = _offset(first, other, centre)
    if found is None:
        return np.zeros(0, dtype=int), np.zeros(0, dtype=int)
    here = np.column_stack([first.x, first.y]) - centre
    moved = here + found[:2] + found[2] * np.column_stack([-here[:, 1], here[:, 0]])
    distance, partner = cKDTree(np.column_stack([other.x, other.y]) - centre).query(moved)
    return np.flatnonzero(distance < reach), partner[distance < reach]


def _first_guess(first: Stars, other: Stars) -> np.ndarray | None:
    """Return the shift that most pairs of bright stars agree on (2,)."""
    from scipy.spatial import cKDTree

    if min(first.count, other.count) < FEWEST_MATCHES:
        return None
    here, there = (np.column_stack([stars.x, stars.y])[np.argsort(stars.flux)[::-1][:BRIGHTEST]]
                   for stars in (first, other))
    steps = (there[None, :] - here[:, None]).reshape(-1, 2)
    tree = cKDTree(steps)
    votes = tree.query_ball_point(steps, GUESS_REACH, return_length=True)
    best = int(np.argmax(votes))
    if votes[best] < max(FEWEST_MATCHES, LEAST_SHARE * min(len(here), len(there))):
        return None
    return np.median(steps[tree.query_ball_point(steps[best], GUESS_REACH)], axis=0)


def _rigid(here: np.ndarray, there: np.ndarray) -> tuple[np.ndarray, float, float]:
    """Return shift (2,), small turn and spread per axis of pairs (n, 2), by Huber's rule."""
    step = there - here
    n = len(here)
    one, zero = np.ones(n), np.zeros(n)
    terms = np.vstack([np.column_stack([one, zero, -here[:, 1]]), np.column_stack([zero, one, here[:, 0]])])
    if n < FEWEST_FOR_TURN:
        terms = terms[:, :2]
    found, _, spread = huber_fit(terms, np.concatenate([step[:, 0], step[:, 1]]), least_spread=1e-4, rounds=8)
    return found[:2], float(found[2]) if len(found) > 2 else 0.0, spread


def drift_log_of(offsets: FrameOffsets, time: u.Quantity, orientation: Orientation, *,
                 declination: u.Quantity | None = None, hour_angle: u.Quantity | None = None,
                 latitude: u.Quantity | None = None, exposure: u.Quantity | None = None,
                 site: str | None = None) -> DriftLog:
    """Return the drift log of a series; frames without match are left out.

    `time` [s] (n,): middle of each exposure. `declination`, `hour_angle` and `latitude` [angle]: of the field; the
    hour angle is that at the first matched frame. `exposure` [s]: of each frame. `site`: name of the place.
    Raises InvalidInputError if fewer than two frames matched.
    """
    good = np.isfinite(offsets.x)
    if good.sum() < 2:
        raise InvalidInputError("frames", int(good.sum()), "must share their stars in at least two frames",
                                "Give frames of one field, in order of time.")
    ra, dec = orientation.sky(offsets.x[good], offsets.y[good])
    return DriftLog(time=time[good], ra=ra, dec=dec, declination=declination, hour_angle=hour_angle,
                    latitude=latitude, exposure=exposure, site=site)
