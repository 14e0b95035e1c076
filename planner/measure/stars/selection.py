"""Which sources are stars fit to be measured: not saturated, blended, cut by the edge, hot pixels or cosmic rays.

Plain floats, pixels and the frame's own unit; each source that is left out has one reason.
"""

import math
from dataclasses import dataclass

import numpy as np

from planner.measure.robust import SIGMA_PER_MEDIAN
from planner.measure.stars.detection import Detections
from planner.measure.stars.plane import Image
from planner.optics import adaptive_moments_batch

# Signal to noise from which the noise biases second moments by less than 1 % (its square is the bias's size), and what
# is taken where too few stars reach it.
GOOD_SIGNAL, LEAST_SIGNAL = 25.0, 10.0
ENOUGH_STARS = 60
MOST_STARS = 1800
CELLS = 6  # the stars measured are spread over 6 x 6 parts of the frame
# A star wider than its pixel holds at most this share of the central 3 x 3 pixels in one: 0.58 at a FWHM of 1 pixel.
HOT_PEAK_SHARE = 0.75
HOT_SHARP_SHARE = 0.9  # of sharper stars, whose fit tells them from hot pixels
# A source that holds so many times the share of a typical star in its brightest pixel, by so many sigmas, is none: the
# track of a cosmic ray has no optics before it.
RAY_SHARE, RAY_SIGMAS = 1.7, 4.0
# Five of the nine central pixels as bright as the brightest: a flat top, if among the frame's brighter half.
FLAT_LEVEL, FLAT_COUNT = 0.97, 5
NEAR_SATURATION = 0.9  # of the level where the frame clips: cameras bend before
# So many peaks so close to the brightest, two such pixels each, that far above the noise: the frame clips there.
CLIPPED_STARS, CLIPPED_WITHIN, CLIPPED_SIGNAL = 3, 0.003, 50
# Of the moments' weight: the share that neighbours may add.
MOST_CONTAMINATION = 0.02
REACH = 4.0  # half of a stamp, in sigmas along the star
SMALLEST_HALF, LARGEST_HALF = 6, 60
LEAST_SIGMA = 0.36  # pix; a point of light on a square pixel has 0.29
SIZE_OUTLIER, LEAST_SIZE_SPREAD = 5.0, 0.15


@dataclass(frozen=True)
class Stars:
    """Measured stars, (n,) each; moments in pix2 with columns as x and rows as y."""

    x: np.ndarray
    y: np.ndarray
    flux: np.ndarray
    signal_to_noise: np.ndarray
    xx: np.ndarray
    xy: np.ndarray
    yy: np.ndarray

    @property
    def count(self) -> int:
        """Number of stars."""
        return self.x.size

    @property
    def size(self) -> np.ndarray:
        """Moment width, geometric mean of both axes: sqrt(sigma_major sigma_minor)."""
        return np.maximum(self.xx * self.yy - self.xy**2, 1e-12) ** 0.25

    @property
    def sigma_along(self) -> np.ndarray:
        """Moment width along the star."""
        return np.sqrt((self.xx + self.yy) / 2 + np.hypot((self.xx - self.yy) / 2, self.xy))

    @property
    def sigma_across(self) -> np.ndarray:
        """Moment width across it."""
        return self.size**2 / self.sigma_along

    @property
    def distortion(self) -> np.ndarray:
        """Complex (xx - yy + 2i xy)/(xx + yy): its size is (a2 - b2)/(a2 + b2), half its phase the direction."""
        return (self.xx - self.yy + 2j * self.xy) / (self.xx + self.yy)

    def chosen(self, which: np.ndarray) -> "Stars":
        """Return some of the stars, by mask or index."""
        return Stars(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class Selection:
    """The stars measured and why the other sources were not."""

    stars: Stars
    star_like: int  # sources that look like stars, measured or not
    rejected: dict[str, int]
    sigma: float  # across the stars, pix


@dataclass(frozen=True)
class Candidates:
    """Sources fit to be measured: their indices, and for all sources the expected signal to noise (n,)."""

    indices: np.ndarray
    signal: np.ndarray
    star_like: int
    sigma: tuple[float, float]  # of a typical one, along and across, pix
    reason: np.ndarray  # (n,) texts; empty for those fit to be measured, and those that would be too many

    @property
    def rejected(self) -> dict[str, int]:
        """How many sources were left out for each reason."""
        return _counts(self.reason)


def candidates(image: Image, found: Detections, saturation: float | None,
               sigma: float | None = None) -> Candidates:
    """Return the sources fit to be measured.

    `image` (ny, nx): background subtracted. `saturation`: level at which the frame clips, background included; found
    from the brightest sources if None. `sigma`: of the stars, where their moments do not tell [pix].
    """
    reason = np.full(found.count, "", dtype="U12")
    inner = _central_nine(image, found)
    share = inner.max(axis=1, initial=0) / np.maximum(inner.sum(axis=1), 1e-12) if found.count else np.empty(0)
    _mark(reason, (share > (HOT_PEAK_SHARE if sigma is None else HOT_SHARP_SHARE)) | (found.peak <= 0), "hot pixel")
    _mark(reason, _saturated(found, inner, saturation), "saturated")
    along, across = _typical_sigma(image, found, reason == "") if sigma is None else (sigma, sigma)
    if sigma is None:
        _mark(reason, _sharper(inner, across, found.noise), "cosmic ray")
    _mark(reason, _near_edge(found, image.shape, stamp_half(along)), "edge")
    star_like = int(np.sum((reason == "") | (reason == "saturated") | (reason == "edge")))
    _mark(reason, _contamination(found, along) > MOST_CONTAMINATION, "blended")
    estimate = found.flux / (found.noise * math.sqrt(4 * math.pi) * math.sqrt(along * across)) if (
        found.noise > 0) else found.flux
    _mark(reason, estimate < _least_signal(estimate[reason == ""]), "faint")
    chosen = _spread(found, estimate, np.flatnonzero(reason == ""), image.shape)
    return Candidates(chosen, estimate, star_like, (along, across), reason)


def stamp_half(along: float) -> int:
    """Return half of the stamps for stars of this sigma, pix."""
    return int(np.clip(math.ceil(REACH * along), SMALLEST_HALF, LARGEST_HALF))


def select_stars(image: Image, found: Detections, saturation: float | None) -> Selection:
    """Return the stars fit to be measured and their moments; parameters as of `candidates`."""
    choice = candidates(image, found, saturation)
    reason, chosen, sigma = choice.reason, choice.indices, choice.sigma
    stars, good = _measured(image, found, chosen, stamp_half(sigma[0]), sigma)
    ordinary = _ordinary_size(stars, image.shape)
    reason[chosen[~good]] = "not a star"
    reason[chosen[good][~ordinary]] = "not a star"
    return Selection(stars.chosen(ordinary), choice.star_like, choice.rejected, sigma[1])


def stamps_at(image: Image, column: np.ndarray, row: np.ndarray, half: int) -> np.ndarray:
    """Return square cut-outs (n, 2 half + 1, 2 half + 1) around pixels that lie inside by `half`."""
    offset = np.arange(-half, half + 1)
    return np.asarray(image[row[:, None, None] + offset[:, None], column[:, None, None] + offset])


def _mark(reason: np.ndarray, which: np.ndarray, word: str) -> None:
    """Give a reason to those marked that have none yet."""
    reason[which & (reason == "")] = word


def _counts(reason: np.ndarray) -> dict[str, int]:
    words, counts = np.unique(reason[reason != ""], return_counts=True)
    return {str(word): int(count) for word, count in zip(words, counts, strict=True)}


def _central_nine(image: Image, found: Detections) -> np.ndarray:
    """Return the 3 x 3 pixels around each peak, (n, 9), the frame's edge repeated."""
    rows = np.clip(found.row[:, None] + np.repeat([-1, 0, 1], 3), 0, image.shape[0] - 1)
    columns = np.clip(found.column[:, None] + np.tile([-1, 0, 1], 3), 0, image.shape[1] - 1)
    return np.maximum(image[rows, columns], 0)


def _sharper(inner: np.ndarray, sigma: float, noise: float) -> np.ndarray:
    """Return which sources hold more in their brightest pixel than stars of this sigma, (n,)."""
    one, three = (math.erf(half / (sigma * math.sqrt(2))) ** 2 for half in (0.5, 1.5))
    most = RAY_SHARE * one / three
    return np.asarray(inner.max(axis=1, initial=0) - most * inner.sum(axis=1)
                      > RAY_SIGMAS * noise * math.hypot(1, 3 * most))


def _saturated(found: Detections, inner: np.ndarray, level: float | None) -> np.ndarray:
    """Return which sources clip: at the level given, at a level many peaks share, or with a flat top."""
    if found.count == 0:
        return np.zeros(0, dtype=bool)
    top = found.peak.max()
    clipped = found.peak >= top * (1 - CLIPPED_WITHIN)
    limit = np.inf if level is None else NEAR_SATURATION * level - found.background
    plateau = (inner[clipped] >= top * (1 - CLIPPED_WITHIN)).sum()
    if plateau >= 2 * clipped.sum() >= 2 * CLIPPED_STARS and top > CLIPPED_SIGNAL * found.noise:
        limit = min(limit, top * (1 - CLIPPED_WITHIN))
    flat = (inner >= FLAT_LEVEL * inner.max(axis=1, keepdims=True)).sum(axis=1) >= FLAT_COUNT
    return (found.peak >= limit) | (flat & (found.peak > top / 2) & (found.peak > 50 * found.noise))


def _typical_sigma(image: Image, found: Detections, usable: np.ndarray) -> tuple[float, float]:
    """Return the median moment widths along and across the brighter usable sources, pix."""
    a, b = (float(np.median(values[usable])) if usable.any() else 1.5 for values in (found.a, found.b))
    half = int(np.clip(math.ceil(6 * a), SMALLEST_HALF, LARGEST_HALF))
    bright = np.flatnonzero(usable & ~found.blended & ~_near_edge(found, image.shape, half))
    bright = bright[np.argsort(found.flux[bright])[::-1]][:120]
    if bright.size == 0:
        return a, b
    moments = adaptive_moments_batch(stamps_at(image, found.column[bright], found.row[bright], half))
    good = moments.converged & (moments.sigma_minor.value > LEAST_SIGMA)
    if not good.any():
        return a, b
    return float(np.median(moments.sigma_major.value[good])), float(np.median(moments.sigma_minor.value[good]))


def _near_edge(found: Detections, shape: tuple[int, ...], half: int) -> np.ndarray:
    return ((found.column < half) | (found.row < half) | (found.column >= shape[1] - half)
            | (found.row >= shape[0] - half))


def _contamination(found: Detections, sigma: float) -> np.ndarray:
    """Return how much neighbours add to each source's second moment under its weight, as a share of it (n,)."""
    from scipy.spatial import cKDTree

    total = np.zeros(found.count)
    if found.count < 2:
        return total
    pairs = cKDTree(np.column_stack([found.x, found.y])).query_pairs(5 * sigma, output_type="ndarray")
    first, second = pairs.T
    square = ((found.x[first] - found.x[second]) ** 2 + (found.y[first] - found.y[second]) ** 2) / sigma**2
    weight = np.exp(-square / 4) * (1 + square / 2)  # a round neighbour under a weight that is as wide
    flux = np.maximum(found.flux, 1e-12)
    np.add.at(total, first, weight * flux[second] / flux[first])
    np.add.at(total, second, weight * flux[first] / flux[second])
    return total


def _least_signal(estimate: np.ndarray) -> float:
    """Return the signal to noise to ask for: less where only few stars reach the good one."""
    if np.sum(estimate >= GOOD_SIGNAL) >= ENOUGH_STARS or estimate.size == 0:
        return GOOD_SIGNAL
    ranked = np.sort(estimate)[::-1]
    return float(np.clip(ranked[min(ENOUGH_STARS, ranked.size) - 1], LEAST_SIGNAL, GOOD_SIGNAL))


def _spread(found: Detections, estimate: np.ndarray, usable: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
    """Return the indices of at most `MOST_STARS` sources, the best of each part of the frame."""
    if usable.size <= MOST_STARS:
        return usable
    cell = (found.row[usable] * CELLS // shape[0]) * CELLS + found.column[usable] * CELLS // shape[1]
    order = np.lexsort((-estimate[usable], cell))
    sorted_cell = cell[order]
    first = np.searchsorted(sorted_cell, np.arange(CELLS**2))
    rank = np.arange(usable.size) - first[sorted_cell]
    return np.sort(usable[order[rank < MOST_STARS // CELLS**2]])


def _measured(image: Image, found: Detections, chosen: np.ndarray, half: int,
              sigma: tuple[float, float]) -> tuple[Stars, np.ndarray]:
    """Return the moments of the chosen sources that have some, and which those are."""
    from astropy import units as u

    column, row = found.column[chosen], found.row[chosen]
    moments = adaptive_moments_batch(stamps_at(image, column, row, half),
                                     sigma=math.sqrt(sigma[0] * sigma[1]) * u.pix)
    good = moments.converged & (moments.sigma_minor.value > LEAST_SIGMA)
    good &= np.hypot(moments.x.value - half, moments.y.value - half) < 0.5 * half
    area = np.sqrt(np.maximum(moments.xx.value * moments.yy.value - moments.xy.value**2, 1e-12))
    stars = Stars(column + moments.x.value - half, row + moments.y.value - half, moments.flux,
                  moments.flux / (max(found.noise, 1e-30) * np.sqrt(4 * np.pi * area)), moments.xx.value,
                  moments.xy.value, moments.yy.value)
    return stars.chosen(good), good


def _ordinary_size(stars: Stars, shape: tuple[int, ...]) -> np.ndarray:
    """Return which stars have the size of the others around them: galaxies, cosmic rays and pairs have not."""
    if stars.count < 8:
        return np.ones(stars.count, dtype=bool)
    x, y = stars.x / shape[1] - 0.5, stars.y / shape[0] - 0.5
    terms = np.column_stack([np.ones_like(x), x, y, x**2 + y**2])[:, : 4 if stars.count >= 30 else 1]
    size = np.log(stars.size)
    keep = np.ones(stars.count, dtype=bool)
    residual = size - np.median(size)
    for _ in range(4):
        spread = SIGMA_PER_MEDIAN * np.median(np.abs(residual[keep] - np.median(residual[keep])))
        keep = np.abs(residual) < max(SIZE_OUTLIER * spread, LEAST_SIZE_SPREAD)
        if keep.sum() < 8:
            return np.abs(size - np.median(size)) < np.log(2)
        residual = size - terms @ np.linalg.lstsq(terms[keep], size[keep], rcond=None)[0]
    return keep
