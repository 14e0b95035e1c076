"""Whether every star of a frame is double by the same step, as after a knock on the mount or a pull at a cable.

Companions far enough away are sources of their own: so many pairs by one step and one ratio are no chance. Closer ones
show in the mean picture of the stars as a second top behind a saddle. Plain floats, pixels of the camera.
"""

from collections.abc import Sequence

import numpy as np

from planner.measure.robust import MEDIAN_ERROR
from planner.measure.stars.detection import CLEAR, Detections
from planner.measure.stars.selection import Stars
from planner.measure.stars.star_pixels import Pixels, Plane, pixels_around

REACH = 60.0  # pixels of the image: longest step that is looked for
BRIGHTEST = 300
FAINTEST, BRIGHTEST_RATIO = 0.15, 1.5  # peak of a companion over its star's
SAME_STEP, SAME_RATIO = 1.0, 1.5  # pix, factor
FEWEST_PAIRS, SHARE = 6, 0.6
CELLS = 2.0  # of the mean picture, in a sigma of the star
PICTURE = 6.0  # its half side, in sigmas
FEWEST_STARS, MOST_STARS = 15, 100
FEWEST_IN_CELL = 6
SADDLE, SURE = 0.75, 4.0  # of the second top; errors by which that top stands above it
LEAST_APART = 2.7  # sigmas across the stars: two equal Gaussians have a saddle of 0.78 between them


def double_step(found: Detections, planes: Sequence[Plane], step: int, stars: Stars) -> float:
    """Return how far apart the two of every star are, 0 where stars are single; planes and step as in `mean_star`.

    `found`: sources in pixels of a plane. `stars`: measured ones, in pixels of the camera.
    """
    far = _step_between_sources(found, planes[0][0].shape) * step
    return far or _step_between_tops(planes, step, stars)


def _step_between_sources(found: Detections, shape: tuple[int, ...]) -> float:
    """Return the step by which most bright sources have a companion, pixels of the image; 0 for none."""
    from scipy.spatial import cKDTree

    clear = np.flatnonzero(found.clear)
    first = clear[np.argsort(found.peak[clear])[::-1][:BRIGHTEST]]
    if first.size < FEWEST_PAIRS:
        return 0.0
    places = np.column_stack([found.x, found.y])
    near = cKDTree(places).query_ball_point(places[first], REACH)
    one, other = np.repeat(first, [len(row) for row in near]), np.concatenate(near).astype(int)
    ratio = found.peak[other] / found.peak[one]
    use = (one != other) & (ratio > FAINTEST) & (ratio < BRIGHTEST_RATIO)
    one, other, ratio = one[use], other[use], ratio[use]
    if one.size < FEWEST_PAIRS:
        return 0.0
    steps = places[other] - places[one]
    tree = cKDTree(steps)
    best = steps[int(np.argmax(tree.query_ball_point(steps, SAME_STEP, return_length=True)))]
    pairs = np.array(tree.query_ball_point(best, SAME_STEP))
    best, usual = np.median(steps[pairs], axis=0), float(np.median(ratio[pairs]))
    pairs = pairs[np.abs(np.log(ratio[pairs] / usual)) < np.log(SAME_RATIO)]
    ends = places[first] + best
    could = (found.peak[first] * usual > CLEAR * found.noise) & ~np.isin(first, other[pairs])
    could &= (ends > 1).all(axis=1) & (ends < np.array(shape[::-1]) - 2).all(axis=1)
    with_companion = np.isin(first[could], one[pairs]).sum()
    if with_companion < max(FEWEST_PAIRS, SHARE * could.sum()):
        return 0.0
    return float(np.hypot(*best))


def _step_between_tops(planes: Sequence[Plane], step: int, stars: Stars) -> float:
    """Return how far a second top of the mean star is from the first, pixels of the camera; 0 for none."""
    from scipy.ndimage import label

    stars = stars.chosen(np.argsort(stars.signal_to_noise)[::-1][:MOST_STARS])
    if stars.count < FEWEST_STARS:
        return 0.0
    sigma, across = float(np.median(stars.size)), float(np.median(stars.sigma_across))
    places = np.column_stack([stars.x, stars.y])
    pixels = pixels_around(planes, step, stars.x, stars.y, PICTURE * sigma, places)
    light, error = _picture(pixels, stars, sigma)
    tops = []
    for level in np.linspace(0.95, 0.1, 18) * np.nanmax(light):
        owner, count = label(light > level)  # unknown cells are below
        for piece in range(1, count + 1):
            index = np.unravel_index(np.argmax(np.where(owner == piece, light, -np.inf)), light.shape)
            if index not in tops and light[index] > level / SADDLE and light[index] - level > SURE * error[index]:
                tops.append(index)
    if len(tops) < 2:
        return 0.0
    first, second, *_ = sorted(tops, key=lambda top: -light[top])
    apart = float(np.hypot(*np.subtract(first, second))) * sigma / CELLS
    return apart if apart > LEAST_APART * across else 0.0


def _picture(pixels: Pixels, stars: Stars, sigma: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the mean picture of the stars in units of their light, by medians, and its errors; NaN where unknown."""
    side = 2 * int(CELLS * PICTURE) + 1
    column, row = (np.rint((at - centre[:, None]) * CELLS / sigma).astype(int) + side // 2
                   for at, centre in ((pixels.x, stars.x), (pixels.y, stars.y)))
    light = pixels.light / stars.flux[:, None]
    use = np.isfinite(light) & (column >= 0) & (row >= 0) & (column < side) & (row < side)
    cell, values = (row * side + column)[use], light[use]
    order = np.argsort(cell, kind="stable")
    level, error = np.full(side**2, np.nan), np.full(side**2, np.nan)
    starts = np.searchsorted(cell[order], np.arange(side**2 + 1))
    for one in range(side**2):
        inside = values[order[starts[one]:starts[one + 1]]]
        if inside.size >= FEWEST_IN_CELL:
            level[one] = np.median(inside)
            error[one] = MEDIAN_ERROR * np.median(np.abs(inside - level[one])) / np.sqrt(inside.size)
    return level.reshape(side, side), error.reshape(side, side)
