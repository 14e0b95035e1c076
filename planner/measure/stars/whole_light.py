"""All the light of a frame's stars: aperture photometry of the best, against the light that their fits gave them.

A fit sees the core of a star, and how much of the star that is depends on its width, its wings and the pixels. A wide
circle around it, less the sky of a ring around that, holds nearly all of it on every frame: an aperture correction
(Howell 1989, PASP 101, 616). Plain floats, pixels of the camera.
"""

from collections.abc import Sequence

import numpy as np

from planner.measure.robust import huber_fit
from planner.measure.stars.selection import Stars
from planner.measure.stars.star_pixels import Pixels, Plane, pixels_around

# Radius of the circle and outer one of the ring of sky, in sigmas along the stars: a Moffat star of exponent 3.5 has
# 1 % of its light outside the circle.
CIRCLE, SKY = 6.0, 8.5
LEAST_SIGMA = 0.7  # pix: pixels of one colour lie two apart
MOST_STARS, MOST_PIXELS = 60, 600_000
FEWEST_STARS = 4
CORE = 0.5  # of the circle's radius that neighbours have to leave alone
LEAST_SPREAD = 1e-3
# Two planes are of two colours where the logarithms of their light are further apart than any two greens', and than
# so many errors.
FEWEST_FOR_COLOUR, OTHER_COLOUR, SURE = 10, 0.1, 3.0


def whole_light(planes: Sequence[Plane], step: int, stars: Stars, noise: float, others: np.ndarray
                ) -> tuple[float, float]:
    """Return all the light of a star over what its fit gave it, and the relative error; NaN where too few tell.

    Planes, step, noise and others as in `mean_star`; what pixels of other colours hold is counted as these hold.
    """
    along = max(float(np.median(stars.sigma_along)), LEAST_SIGMA) if stars.count else LEAST_SIGMA
    area = step**2 / len(planes)
    most = int(min(MOST_STARS, MOST_PIXELS * area / (2 * SKY * along + 1) ** 2))
    stars = stars.chosen(np.argsort(stars.signal_to_noise)[::-1][:max(most, FEWEST_STARS)])
    if stars.count < FEWEST_STARS:
        return np.nan, np.nan
    pixels = pixels_around(planes, step, stars.x, stars.y, SKY * along, others)
    ratio, error = _ratios(pixels, stars, CIRCLE * along, SKY * along, noise, area)
    good = np.isfinite(ratio)
    if good.sum() < FEWEST_STARS:
        return np.nan, np.nan
    weight = 1 / np.hypot(error[good], np.median(error[good]))
    found, covariance, spread = huber_fit(weight[:, None], weight * ratio[good], least_spread=LEAST_SPREAD, rounds=20)
    return float(found[0]), float(spread * np.sqrt(covariance[0, 0]) / found[0])


def other_colour(first: Plane, second: Plane, step: int, stars: Stars, noise: float, others: np.ndarray) -> float:
    """Return the light of stars in the second plane over that in the first, where that is sure not to be one colour.

    1 where it may be; parameters as in `whole_light`. Two greens of a sensor agree within a few per cent.
    """
    if stars.count < FEWEST_FOR_COLOUR:
        return 1.0
    (here, error), (there, other_error) = (
        whole_light([plane], step, stars, noise, others) for plane in (first, second))
    if not (here > 0 and there > 0):
        return 1.0
    apart = abs(np.log(there / here))
    return there / here if apart > max(OTHER_COLOUR, SURE * np.hypot(error, other_error)) else 1.0


def _ratios(pixels: Pixels, stars: Stars, circle: float, outer: float, noise: float, area: float
            ) -> tuple[np.ndarray, np.ndarray]:
    """Return light in the circle over that of the fit, and its error, (n,); NaN where neighbours are too close.

    Pixels of neighbours count as the star's others as far out do. `area`: pixels of the camera for one of these.
    """
    distance = np.hypot(pixels.x - stars.x[:, None], pixels.y - stars.y[:, None])
    ratio, error = (np.full(stars.count, np.nan) for _ in range(2))
    for star, (away, light) in enumerate(zip(distance, pixels.light, strict=True)):
        known = np.isfinite(light)
        inside, around = away < circle, known & (away >= circle) & (away < outer)
        if not known[away < CORE * circle].all() or around.sum() < inside.sum() / 4:
            continue
        light = light - np.median(light[around])
        missing = np.flatnonzero(inside & ~known)
        order = np.flatnonzero(inside & known)[np.argsort(away[inside & known])]
        filled = np.interp(away[missing], away[order], _smooth(light[order]))
        ratio[star] = area * (light[order].sum() + filled.sum()) / stars.flux[star]
        error[star] = noise * area * np.sqrt(inside.sum() * (1 + inside.sum() / around.sum())) / stars.flux[star]
    return ratio, error


def _smooth(light: np.ndarray) -> np.ndarray:
    """Return the mean of each eight values around."""
    wide = np.pad(light, 4, mode="edge")
    return np.convolve(wide, np.full(9, 1 / 9), mode="valid")
