"""The half-maximum widths of the mean star, from the pixels of many stars at once; plain floats, pixels.

Every star is laid on one ellipse by its own moments, so that stars of one shape but any width and direction add up.
The profile's logarithm is then an even polynomial along and across; where it has fallen by ln 2 is half of the width.
"""

import numpy as np

from planner.measure.stars.selection import Stars, stamps_at

MOST_STARS = 300
REACH = 1.9  # of the pixels used, in sigmas: beyond both half maxima, inside the wings
FEWEST_PIXELS = 60
BLOCK = 2048
GAUSS_SHAPE = 2.3548  # full width at half maximum over sigma of a Gaussian
SHAPES = (1.7, 3.2)  # believable full width over moment width


def star_shape(image: np.ndarray, stars: Stars) -> tuple[float, float] | None:
    """Return full width at half maximum over moment width, along and across the stars; None if it cannot be told."""
    u2, v2, light = _ellipse_pixels(image, _best(stars))
    if light.size < FEWEST_PIXELS:
        return None
    terms = np.column_stack([np.ones_like(u2), u2, v2, u2**2, u2 * v2, v2**2, u2**3, u2**2 * v2, u2 * v2**2, v2**3])
    values = np.zeros(terms.shape[1])
    values[:3] = np.log(np.median(light[u2 + v2 < 0.5]) if np.any(u2 + v2 < 0.5) else 1.0), -0.5, -0.5
    for _ in range(12):
        model = np.exp(np.clip(np.einsum("pk,k->p", terms, values), -30, 30))
        weight = 1 / (0.02 + np.abs(light - model))  # least absolute deviation: a neighbour does not pull
        slope = terms * model[:, None]
        pull = np.einsum("pk,p->k", slope, weight * (light - model))
        step = np.linalg.lstsq(_blockwise(slope * weight[:, None], slope), pull, rcond=None)[0]
        values = values + step
        if np.max(np.abs(step)) < 1e-5:
            break
    along, across = (2 * _half_width(values[list(places)]) for places in ((1, 3, 6), (2, 5, 9)))
    return (along, across) if all(SHAPES[0] < width < SHAPES[1] for width in (along, across)) else None


def _blockwise(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Return left.T @ right in blocks so small that no library starts threads for them: frames run side by side."""
    whole = left.shape[0] // BLOCK * BLOCK
    blocks = (part[:whole].reshape(-1, BLOCK, part.shape[1]) for part in (left, right))
    first, second = blocks
    return np.matmul(first.transpose(0, 2, 1), second).sum(axis=0) + left[whole:].T @ right[whole:]


def _best(stars: Stars) -> Stars:
    order = np.argsort(stars.signal_to_noise)[::-1]
    return stars.chosen(order[:MOST_STARS])


def _ellipse_pixels(image: np.ndarray, stars: Stars) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return squared places along and across in sigmas, and light over that of the matched Gaussian's peak, (p,)."""
    mean, half = (stars.xx + stars.yy) / 2, np.hypot((stars.xx - stars.yy) / 2, stars.xy)
    larger, smaller = mean + half, np.maximum(mean - half, 1e-6)
    reach = int(np.ceil(REACH * np.sqrt(larger.max(initial=1.0)))) + 1
    column, row = np.rint(stars.x).astype(int), np.rint(stars.y).astype(int)
    inside = (column >= reach) & (row >= reach) & (column < image.shape[1] - reach) & (row < image.shape[0] - reach)
    stars, larger, smaller, column, row = (stars.chosen(inside), *(v[inside] for v in (larger, smaller, column, row)))
    offset = np.arange(-reach, reach + 1)
    dx = (column - stars.x)[:, None, None] + offset
    dy = (row - stars.y)[:, None, None] + offset[:, None]
    angle = (np.arctan2(2 * stars.xy, stars.xx - stars.yy) / 2)[:, None, None]
    u = (dx * np.cos(angle) + dy * np.sin(angle)) / np.sqrt(larger)[:, None, None]
    v = (dy * np.cos(angle) - dx * np.sin(angle)) / np.sqrt(smaller)[:, None, None]
    peak = stars.flux / (2 * np.pi * np.sqrt(larger * smaller))
    light = stamps_at(image, column, row, reach) / peak[:, None, None]
    use = u**2 + v**2 < REACH**2
    return u[use] ** 2, v[use] ** 2, light[use]


def _half_width(coefficients: np.ndarray) -> float:
    """Return where a t + b t^2 + c t^3 with t = u^2 first falls to -ln 2, in u; NaN if nowhere within reach."""
    roots = np.roots([coefficients[2], coefficients[1], coefficients[0], np.log(2)])
    real = roots[(np.abs(roots.imag) < 1e-9) & (roots.real > 0)].real
    return float(np.sqrt(real.min())) if real.size and real.min() < 1.2 * REACH**2 else np.nan
