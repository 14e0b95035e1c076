"""Lists of star positions, one for each frame, as a drift log."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.measure.drift.report import DriftLog
from planner.measure.frame.series import FrameOffsets, drift_log_of, frame_offsets
from planner.measure.frame.sky_trail import Orientation
from planner.measure.stars.selection import Stars


@dataclass(frozen=True, kw_only=True)
class PositionSeries:
    """The log of a series, and how well each frame matched."""

    log: DriftLog
    matched: np.ndarray  # (f,) stars matched in each frame, in the order given
    lost: tuple[int, ...]  # frames left out, from 0


def drift_from_positions(
    positions: Sequence[np.ndarray], time: u.Quantity, *, image_scale: u.Quantity,
    camera_angle: u.Quantity = 0 * u.deg, mirrored: bool = False, declination: u.Quantity | None = None,
    hour_angle: u.Quantity | None = None, latitude: u.Quantity | None = None,
) -> PositionSeries:
    """Return the drift log of frames whose stars were measured elsewhere.

    Parameters
    ----------
    positions : sequence of ndarray (n, 2)
        x and y of the stars of each frame in pixels, brightest first; the frames need not hold the same stars. Four
        or more in a frame are matched as a pattern; a series of one star each is taken as that star.
    time : Quantity [s], (f,)
        Of the middle of each frame, in any order.
    image_scale : Quantity [arcsec/pix], scalar
        Of the frames.
    camera_angle : Quantity [angle], scalar
        Position angle of +y, north through east.
    mirrored : bool
        Whether the image is mirrored (an odd number of mirrors).
    declination, hour_angle, latitude : Quantity [angle], scalar, optional
        Passed on to the log; the hour angle is that of the first matched frame.

    Returns
    -------
    PositionSeries
        Frames without a match are left out of the log.

    Raises
    ------
    InvalidInputError
        If the counts differ or fewer than two frames match.
    """
    if len(positions) != time.size:
        raise InvalidInputError("frames", len(positions), f"must be as many as times ({time.size})",
                                "Give one time for each frame.")
    order = np.argsort(time)
    frames = [_stars(positions[index]) for index in order]
    if all(frame.count == 1 for frame in frames):
        offsets = _of_one_star(frames)
    else:
        far = [np.ceil(np.max([*frame.x, *frame.y, 1.0])) for frame in frames]
        offsets = frame_offsets(frames, (int(max(far)), int(max(far))))
    matched = np.zeros(time.size, int)
    matched[order] = np.where(np.isfinite(offsets.x), offsets.matched, 0)
    log = drift_log_of(offsets, time[order], Orientation.from_angle(image_scale, camera_angle, mirrored=mirrored),
                       declination=declination, hour_angle=hour_angle, latitude=latitude)
    return PositionSeries(log=log, matched=matched, lost=tuple(int(index) for index in np.flatnonzero(matched == 0)))


def _stars(positions: np.ndarray) -> Stars:
    """Return positions (n, 2) as stars whose flux falls in the order of the list; the finite ones only."""
    places = np.asarray(positions, float).reshape(-1, 2)
    places = places[np.all(np.isfinite(places), axis=1)]
    count = len(places)
    blank = np.ones(count)
    return Stars(places[:, 0], places[:, 1], np.arange(count, 0, -1.0), blank, blank, 0 * blank, blank)


def _of_one_star(frames: list[Stars]) -> FrameOffsets:
    """Return the offsets of frames of one star each."""
    x, y = (np.array([getattr(frame, axis)[0] for frame in frames]) for axis in ("x", "y"))
    nothing = np.zeros(len(frames))
    return FrameOffsets(x - x[0], y - y[0], nothing, nothing, np.ones(len(frames), int))
