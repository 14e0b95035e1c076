"""The mean star of a frame: its half-maximum widths with their errors, from the effective PSF of its best stars."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from planner.measure.robust import SIGMA_PER_MEDIAN
from planner.measure.stars.psf.effective_psf import EffectivePsf, effective_psf
from planner.measure.stars.psf.psf_basis import RADIUS
from planner.measure.stars.selection import Stars
from planner.measure.stars.star_pixels import Pixels, Plane, StarEllipses, pixels_around

MOST_STARS = 200
MOST_PIXELS = 40_000
FEWEST_STARS = 5
FEWEST_FOR_FIELD = 30  # for ellipses that change over the frame
STRIDE_SIGMAS = 1.5  # pixels of stars wider than this are taken one by one no more
# Light in the middle over that of the brightest ring: below it, the stars are rings.
HOLLOW = 0.85
# Of a FWHM, relative, beside the fit's: neighbours too faint to be found, and the background under the wings (measured,
# tests/measure/stars/coverage.py).
PROFILE_ERROR = 0.0016
# The same where stars stand close: times the cube of the sources within a star's reach (measured likewise; at 0.27
# stars are 0.6 to 0.9 % too wide, at 0.35 1.1 to 2.3 %: blends that nobody can tell).
CROWDED_ERROR = 0.36
# And where sources stand closer about the stars than on the whole frame, as in the core of a cluster: times the root of
# how many more lie within a star's reach (simulated globular clusters: stars 0.4 to 1.7 % too wide, by what is too
# faint to be found).
CLUSTERED_ERROR, AROUND = 0.035, 5.0  # and the reaches over which the sources are counted
RINGS = np.linspace(0, 2.4, 13)  # edges, in sigmas


@dataclass(frozen=True)
class MeanStar:
    """Widths of the mean star; pixels of the camera."""

    fwhm: float  # geometric mean of both axes, of the middle star; NaN: not determined
    error: float
    shape: tuple[float, float]  # full width at half maximum over adaptive moment width, along and across
    distortion_error: float  # of each component of the mean distortion, where it is the mean star's; else 0
    ring: float  # diameter of the ring of light of a star out of focus; 0: no ring


def mean_star(planes: Sequence[Plane], step: int, stars: Stars, noise: float, others: np.ndarray,
              extent: tuple[int, int]) -> MeanStar | None:
    """Return the mean star; None where it is not determined.

    Parameters
    ----------
    planes : sequence of Plane
        All pixels of one colour; background subtracted.
    step : int
        Pixels of the camera from one pixel of a plane to the next.
    stars : Stars
        In pixels of the camera.
    noise : float
        Of a pixel.
    others : ndarray (m, 2)
        StarEllipses of all sources.
    extent : tuple of int
        Rows and columns of the frame.
    """
    stars = stars.chosen(np.argsort(stars.signal_to_noise)[::-1][:MOST_STARS])
    if stars.count < FEWEST_STARS:
        return None
    places = _smooth(stars, extent)
    sigma = float(np.median(stars.size))
    reach = RADIUS * float(np.sqrt(np.percentile((places.xx + places.yy) / 2 + np.hypot(
        (places.xx - places.yy) / 2, places.xy), 90)))
    stride = max(1, math.floor(sigma / step / STRIDE_SIGMAS))
    count = max(FEWEST_STARS, int(MOST_PIXELS / (2 * reach / step / stride + 1) ** 2 / len(planes)))
    places = places.chosen(np.arange(min(count, stars.count)))
    pixels = pixels_around(planes, step, places.x, places.y, reach, others, stride)
    ring = _ring(pixels, places)
    if ring:
        return MeanStar(np.nan, np.nan, (np.nan, np.nan), 0.0, ring)
    peak = places.light / (2 * np.pi * np.sqrt(np.maximum(places.xx * places.yy - places.xy**2, 1e-9)))
    psf = effective_psf(pixels, replace(places, light=np.maximum(peak, noise)), noise, 1)
    return None if psf is None else described(psf, math.hypot(
        PROFILE_ERROR, crowded_error(others, np.column_stack([places.x, places.y]), reach, extent)))


def crowded_error(others: np.ndarray, stars: np.ndarray, reach: float, extent: tuple[int, int]) -> float:
    """Return what blends may do to the FWHM, relative: sources (m, 2), stars (n, 2) that reach so far, pix."""
    from scipy.spatial import KDTree

    mean = len(others) * math.pi * reach**2 / (extent[0] * extent[1])
    around = KDTree(others).query_ball_point(stars, AROUND * reach, return_length=True)
    clustered = max(float(np.mean(around - 1)) / AROUND**2 - mean, 0.0)
    return math.hypot(CROWDED_ERROR * mean**3, CLUSTERED_ERROR * math.sqrt(clustered))


def described(psf: EffectivePsf, more: float = PROFILE_ERROR) -> MeanStar:
    """Return the widths of the middle one of the stars; `more` is a relative error beside the fit's."""
    along, across, _, _ = psf.stars.axes
    width = float(np.median(np.sqrt(along * across))) * math.sqrt(psf.along * psf.across)
    shape = psf.along / math.sqrt(psf.square[0]), psf.across / math.sqrt(psf.square[2])
    return MeanStar(width, math.hypot(psf.error, more) * width, shape, psf.distortion_error, 0.0)


def _smooth(stars: Stars, extent: tuple[int, int]) -> StarEllipses:
    """Return the stars with moments that change smoothly over the frame; their noise would sharpen the mean star."""
    x, y = stars.x / extent[1] - 0.5, stars.y / extent[0] - 0.5
    terms = np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y])
    moments = []
    for values in (stars.xx, stars.xy, stars.yy):
        fitted = np.full(stars.count, np.median(values))
        keep = np.abs(values - fitted) < np.inf
        for _ in range(3 if stars.count >= FEWEST_FOR_FIELD else 0):
            fitted = terms @ np.linalg.lstsq(terms[keep], values[keep], rcond=None)[0]
            away = np.abs(values - fitted)
            keep = away <= 4 * SIGMA_PER_MEDIAN * np.median(away) + 1e-12
        moments.append(fitted)
    if np.any(moments[0] * moments[2] - moments[1] ** 2 <= 0) or np.any(moments[0] <= 0):
        moments = [np.full(stars.count, np.median(values)) for values in (stars.xx, stars.xy, stars.yy)]
    return StarEllipses(stars.x, stars.y, stars.flux, *moments)


def _ring(pixels: Pixels, places: StarEllipses) -> float:
    """Return the diameter of the ring of light of hollow stars, out to where it has half of its light; 0 for stars."""
    u, v = pixels.on(places)
    r = np.hypot(u, v)
    light = pixels.light / np.nansum(np.where(r < RINGS[-1], pixels.light, 0), axis=1, keepdims=True)
    level = np.array([np.nanmedian(light[(r >= low) & (r < high)]) if np.any((r >= low) & (r < high)) else np.nan
                      for low, high in pairwise(RINGS)])
    if not np.isfinite(level[:2]).any() or np.nanmean(level[:2]) > HOLLOW * np.nanmax(level):
        return 0.0
    dark = np.flatnonzero((level < np.nanmax(level) / 2) & (np.arange(level.size) > np.nanargmax(level)))
    edge = RINGS[dark[0]] if dark.size else RINGS[-1]
    along, across, _, _ = places.axes
    return float(2 * edge * np.median(np.sqrt(along * across)))
