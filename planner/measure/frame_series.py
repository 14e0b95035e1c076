"""A series of short frames as a drift log: stars matched from frame to frame, their common shift turned to the sky.

Positions are pixels (x to the right, y up as FITS counts rows). The camera angle is the position angle of +y, north
through east; seen with +y up, +x lies 90 deg clockwise of it on a true image and anticlockwise on a mirrored one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from astropy import units as u

from planner.checks import require_positive
from planner.errors import InvalidInputError
from planner.measure.drift_log import DriftLog

# Stars of one frame that take part, the first of its list: brightest first makes the list the same from frame to frame.
MOST_STARS = 150
NEAR_PX = 3.0  # pairs this close after the expected shift are the same star
FEWEST_PAIRS = 3
# Share of the reference's stars below which the next reference is taken, before the field has drifted out.
FRESH_SHARE = 0.5
MAD_TO_SIGMA = 1.4826  # of a normal distribution: 1/Phi^-1(3/4)


@dataclass(frozen=True, kw_only=True)
class FrameSeries:
    """The log of a series, and how well each frame matched."""

    log: DriftLog
    matched: np.ndarray  # (f,) stars matched in each frame, 0 where it was left out
    lost: tuple[int, ...]  # frames left out, from 0
    scatter: u.Quantity  # arcsec per axis, of one star about the common shift


def drift_from_positions(
    positions: Sequence[np.ndarray], time: u.Quantity, *, image_scale: u.Quantity, camera_angle: u.Quantity = 0 * u.deg,
    mirrored: bool = False, declination: u.Quantity | None = None, hour_angle: u.Quantity | None = None,
    latitude: u.Quantity | None = None,
) -> FrameSeries:
    """Return the drift log of frames whose stars were measured.

    Parameters
    ----------
    positions : sequence of ndarray (n, 2)
        x and y of the stars of each frame in pixels, brightest first; the frames need not hold the same stars.
    time : Quantity [s], (f,)
        Of the middle of each frame.
    image_scale : Quantity [arcsec/pix], scalar
        Of the frames.
    camera_angle : Quantity [angle], scalar
        Position angle of +y, north through east.
    mirrored : bool
        Whether the image is mirrored (an odd number of mirrors).
    declination, hour_angle, latitude : Quantity [angle], scalar, optional
        Passed on to the log; the hour angle is that of the first frame.

    Returns
    -------
    FrameSeries
        Frames without a match are left out of the log.

    Raises
    ------
    InvalidInputError
        If the counts differ or fewer than two frames match.
    """
    require_positive("image_scale", image_scale, u.arcsec / u.pix, "Give arcsec per pixel.")
    if len(positions) != time.size:
        raise InvalidInputError("frames", len(positions), f"must be as many as times ({time.size})",
                                "Give one time for each frame.")
    order = np.argsort(time)
    shifts, counts, scatter = _shifts([_stars(positions[i]) for i in order])
    matched = np.zeros(time.size, int)
    matched[order] = counts
    kept = counts > 0
    if kept.sum() < 2:
        raise InvalidInputError("frames", int(kept.sum()), "too few share stars with another frame",
                                "Take frames of one field, some seconds to a minute apart, with stars in them.")
    scale = image_scale.to_value(u.arcsec / u.pix)
    sky = scale * shifts[kept] @ pixel_axes(camera_angle, mirrored=mirrored)
    log = DriftLog(time=time[order][kept], ra=sky[:, 0] * u.arcsec, dec=sky[:, 1] * u.arcsec)
    return FrameSeries(
        log=replace(log, declination=declination, hour_angle=hour_angle, latitude=latitude), matched=matched,
        lost=tuple(int(i) for i in np.flatnonzero(matched == 0)), scatter=scale * scatter * u.arcsec,
    )


def pixel_axes(camera_angle: u.Quantity, *, mirrored: bool = False) -> np.ndarray:
    """Return east and north (columns) of a step in +x and in +y (rows), (2, 2)."""
    up = camera_angle.to_value(u.rad)
    right = up + (np.pi / 2 if mirrored else -np.pi / 2)
    return np.array([[np.sin(right), np.cos(right)], [np.sin(up), np.cos(up)]])


def _stars(positions: np.ndarray) -> np.ndarray:
    """Return the stars of a frame that take part, (n, 2), finite ones only."""
    stars = np.asarray(positions, float).reshape(-1, 2)
    return stars[np.all(np.isfinite(stars), axis=1)][:MOST_STARS]


def _shifts(frames: list[np.ndarray]) -> tuple[np.ndarray, np.ndarray, float]:
    """Return the shift of each frame against the first (f, 2), its matched stars (f,), and the scatter in pixels."""
    shifts, counts = np.zeros((len(frames), 2)), np.zeros(len(frames), int)
    filled = [i for i, stars in enumerate(frames) if len(stars)]
    if not filled:
        return shifts, counts, float("nan")
    reference, base, last, spreads = frames[filled[0]], np.zeros(2), np.zeros(2), []
    counts[filled[0]] = len(reference)
    for i in filled[1:]:
        pairs = _match(reference, frames[i], last)
        if pairs is None:
            continue
        step = frames[i][pairs[1]] - reference[pairs[0]]
        last = np.median(step, axis=0)
        spreads.append(MAD_TO_SIGMA * np.median(np.abs(step - last)))
        shifts[i], counts[i] = base + last, len(step)
        if len(step) < FRESH_SHARE * len(reference):
            reference, base, last = frames[i], shifts[i].copy(), np.zeros(2)
    return shifts, counts, float(np.median(spreads)) if spreads else float("nan")


def _match(reference: np.ndarray, stars: np.ndarray, expected: np.ndarray) -> tuple[np.ndarray, np.ndarray] | None:
    """Return indices of the same stars in both frames, or None: first near the expected shift, then anywhere."""
    needed = min(FEWEST_PAIRS, len(reference), len(stars))
    steps = stars[None] - reference[:, None]
    for place in (lambda: expected, lambda: _voted(steps)):
        shift = place()
        for _ in range(2):  # the second time about the median of the first
            pairs = _mutual(np.linalg.norm(steps - shift, axis=2))
            if len(pairs[0]):
                shift = np.median(steps[pairs], axis=0)
        if len(pairs[0]) >= max(needed, 0.2 * min(len(reference), len(stars))):
            return pairs
    return None


def _mutual(distance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the pairs that are nearest to each other and near enough, for distances (n, m)."""
    nearest = np.argmin(distance, axis=1)
    rows = np.arange(len(distance))
    mutual = np.argmin(distance, axis=0)[nearest] == rows
    good = mutual & (distance[rows, nearest] < NEAR_PX)
    return rows[good], nearest[good]


def _voted(steps: np.ndarray) -> np.ndarray:
    """Return the shift (2,) that most pairs of stars agree on, from all steps (n, m, 2)."""
    flat = steps.reshape(-1, 2)
    cells = np.rint(flat / NEAR_PX).astype(int)
    # A shift on the edge of a cell splits its votes: each pair votes for its cell and the eight around it.
    around = np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)])
    votes, counts = np.unique((cells[:, None] + around).reshape(-1, 2), axis=0, return_counts=True)
    best = votes[int(np.argmax(counts))]
    near = np.all(np.abs(cells - best) <= 1, axis=1)
    return np.median(flat[near], axis=0)
