r"""The effective PSF of a frame: what a pixel records against its distance from the star, from many stars at once.

A pixel's light over the star's is a smooth function of where the pixel lies, whatever the sampling: stars that fall on
different places of their pixels fill it in [AK00]_. All stars are laid on their ellipses; the function on it, the
ellipses' common correction, and each star's light and place are fitted at once, by Gauss and Newton's steps, the
numbers of single stars eliminated. Sharp stars are fitted as the pixel integrates them. Errors: jackknife over groups
of stars, beside what the prior on the corrections holds. Plain floats, pixels of the camera.

References
----------
.. [AK00] J. Anderson and I. R. King, PASP 112, 1360 (2000), doi:10.1086/316632, section 3.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from planner.measure.robust import huber_weight
from planner.measure.stars.psf.psf_basis import NUMBERS, RADIUS, USUAL, Nodes, prior_of_numbers, recorded, with_slopes
from planner.measure.stars.star_pixels import Pixels, StarEllipses

HUBER = 2.5
FLOOR = 0.01  # of the brightest light: errors of a pixel that are no noise
GROUPS = 20  # of the jackknife
STEPS, SETTLED = 14, 1e-3
OWN_STEPS = 6  # of a star's own ellipse
LARGEST_STEP = 0.3  # of a star's width, place and light
SMALL_STEP = 1e-3  # of slopes by differences
# A pixel is integrated over so many places per axis where the star is narrower than this sigma [pix].
NODES = ((0.5, 4), (0.75, 3), (0.95, 2), (np.inf, 1))

def nodes_for(sigma: float) -> int:
    """Return over how many places per axis a pixel is integrated for stars of this sigma; 1: not at all."""
    return next(count for widest, count in NODES if sigma < widest)


def _nodes(stars: StarEllipses, count: int) -> Nodes:
    """Return the places within a pixel on the ellipses (n, 1), by the rule of Gauss and Legendre."""
    if count == 1:
        return [(np.zeros((1, 1)), np.zeros((1, 1)), 1.0)]
    along, across, cos, sin = stars.axes
    place, weight = np.polynomial.legendre.leggauss(count)
    return [((dx * cos + dy * sin) / along / 2, (dy * cos - dx * sin) / across / 2, float(one * two / 4))
            for dx, one in zip(place, weight, strict=True) for dy, two in zip(place, weight, strict=True)]


@dataclass(frozen=True)
class EffectivePsf:
    """The mean star of a frame as its pixels record it, and the stars it was found from."""

    numbers: np.ndarray  # of `psf_basis`, the first is 1
    along: float  # full widths at half maximum, in sigmas of the ellipse
    across: float
    error: float  # of the root of their product, relative
    distortion_error: float  # of each component of (xx - yy, 2 xy)/(xx + yy); 0 where pixels are not integrated
    square: np.ndarray  # adaptive moments on the ellipse, as recorded: 11, 12, 22
    stars: StarEllipses
    misfit: np.ndarray  # (n,) rms of a star's pixels in units of their errors
    nodes: int


def effective_psf(pixels: Pixels, stars: StarEllipses, noise: float, nodes: int) -> EffectivePsf | None:
    """Return the effective PSF; None where the stars do not determine one.

    `stars`: to start from; the ellipses hold one common correction. `noise`: of a pixel. `nodes`: from `nodes_for`.
    """
    numbers, prior = USUAL.copy(), prior_of_numbers()
    groups = np.arange(len(stars.x)) % min(GROUPS, len(stars.x))
    for _ in range(STEPS):
        normal, pull, own = _equations(pixels, stars, numbers, noise, nodes)
        total, wanted = normal.sum(axis=0), pull.sum(axis=0)
        step = _solved(total, wanted, numbers, prior)
        if not np.all(np.isfinite(step)):
            return None
        stars = _moved(stars, own, step)
        numbers = numbers + np.concatenate([[0], step[3:]])
        if np.max(np.abs(step)) < SETTLED:
            break
    sums = [np.array([values[groups == group].sum(axis=0) for group in range(groups.max() + 1)])
            for values in (normal, pull)]
    return _described(pixels, stars, numbers, noise, nodes, sums, prior)


def _solved(normal: np.ndarray, pull: np.ndarray, numbers: np.ndarray, prior: np.ndarray) -> np.ndarray:
    """Return the step of E11, E22, E12 and all numbers but the first, held by what is known beforehand."""
    away = np.concatenate([np.zeros(3), (numbers - USUAL)[1:]])
    size = np.sqrt(np.diag(normal) + prior + 1e-30)
    matrix = (normal + np.diag(prior)) / np.outer(size, size)
    return np.linalg.lstsq(matrix, (pull - prior * away) / size, rcond=1e-12)[0] / size


def _equations(pixels: Pixels, stars: StarEllipses, numbers: np.ndarray, noise: float, nodes: int,
               single: bool = False) -> tuple[np.ndarray, np.ndarray, Callable[[np.ndarray], np.ndarray]]:
    """Return each star's part of the normal equations for what is common, its own numbers eliminated.

    The third value gives the steps of light, x and y (n, 3) that go with a step of what is common. `single` makes the
    ellipse each star's own, and nothing common.
    """
    u, v = pixels.on(stars)
    table, slopes = with_slopes(u, v, _nodes(stars, nodes), numbers)
    shown = table @ numbers
    along, across, cos, sin = stars.axes
    light = stars.light[:, None]
    use = np.isfinite(pixels.light) & (u**2 + v**2 < _reach(along, across, nodes) ** 2)
    residual = np.where(use, pixels.light, 0) - light * shown
    error = np.hypot(noise, FLOOR * np.abs(light))
    weight = np.where(use, huber_weight(np.abs(residual), HUBER * error) / error**2, 0)
    pu, pv = slopes[..., 0] / along, slopes[..., 1] / across
    own = np.stack([shown, -light * (pu * cos - pv * sin), -light * (pu * sin + pv * cos)], axis=-1)
    ellipse = light[..., None] * slopes[..., 2:]
    if single:
        own, common = np.concatenate([own, ellipse], axis=-1), np.zeros((*own.shape[:2], 0))
    else:
        common = np.concatenate([ellipse, light[..., None] * table[..., 1:]], axis=-1)
    weighted = own * weight[..., None]
    a = np.matmul(weighted.transpose(0, 2, 1), own)
    b = np.matmul(weighted.transpose(0, 2, 1), common)
    r = np.matmul(weighted.transpose(0, 2, 1), residual[..., None])
    a += (1e-9 * np.trace(a, axis1=1, axis2=2) + 1e-30)[:, None, None] * np.eye(a.shape[-1])
    freed = np.linalg.solve(a, np.concatenate([b, r], axis=2))
    weighted = common * weight[..., None]
    normal = np.matmul(weighted.transpose(0, 2, 1), common) - np.matmul(b.transpose(0, 2, 1), freed[..., :-1])
    pull = np.matmul(weighted.transpose(0, 2, 1), residual[..., None])[..., 0] - np.matmul(
        b.transpose(0, 2, 1), freed[..., -1:])[..., 0]
    return normal, pull, lambda step: freed[..., -1] - freed[..., :-1] @ step


def _reach(along: np.ndarray, across: np.ndarray, nodes: int) -> np.ndarray:
    """Return how far pixels are used, in sigmas: half a pixel further where the pixel is integrated."""
    return np.asarray(RADIUS + (0.5 / np.sqrt(along * across) if nodes > 1 else 0.0))


def _moved(stars: StarEllipses, own: Callable[[np.ndarray], np.ndarray], step: np.ndarray) -> StarEllipses:
    along, across, _, _ = stars.axes
    far = LARGEST_STEP * np.sqrt(along * across)[:, 0]
    change = own(step)
    moved = replace(stars, light=np.clip(stars.light + change[:, 0], stars.light * 0.5, stars.light * 2),
                    x=stars.x + np.clip(change[:, 1], -far, far), y=stars.y + np.clip(change[:, 2], -far, far))
    return moved.grown(np.clip(step[:3] if change.shape[1] == 3 else change[:, 3:], -LARGEST_STEP, LARGEST_STEP))


def own_ellipses(pixels: Pixels, psf: EffectivePsf, noise: float) -> tuple[StarEllipses, np.ndarray]:
    """Return the stars with an ellipse of their own each, the profile on it being the frame's, and their misfits."""
    stars = psf.stars
    for turn in range(OWN_STEPS):
        _, _, own = _equations(pixels, stars, psf.numbers, noise, psf.nodes, single=turn > 1)
        stars = _moved(stars, own, np.zeros(0 if turn > 1 else 2 + NUMBERS))
    return stars, _misfit(pixels, stars, psf.numbers, noise, psf.nodes)


def _misfit(pixels: Pixels, stars: StarEllipses, numbers: np.ndarray, noise: float, nodes: int) -> np.ndarray:
    """Return the rms of each star's pixels in units of their errors (n,)."""
    u, v = pixels.on(stars)
    light = stars.light[:, None]
    away = (pixels.light - light * (recorded(u, v, _nodes(stars, nodes)) @ numbers)) / np.hypot(noise, FLOOR * light)
    use = np.isfinite(away) & (u**2 + v**2 < RADIUS**2)
    square = np.sum(np.where(use, away, 0) ** 2, axis=1) / np.maximum(use.sum(axis=1), 1)
    return np.asarray(np.sqrt(square))


def _described(pixels: Pixels, stars: StarEllipses, numbers: np.ndarray, noise: float, nodes: int,
               sums: list[np.ndarray], prior: np.ndarray) -> EffectivePsf | None:
    """Return the PSF with its errors: a jackknife over groups of stars, and what the prior holds."""
    middle = stars.chosen(np.array([int(np.argsort(stars.xx * stars.yy - stars.xy**2)[len(stars.x) // 2])]))
    width = _widths(numbers, middle, nodes)
    square = _moments(numbers, middle, nodes)
    if not np.all(np.isfinite([*width, *square])):
        return None
    slope = _slopes(numbers, middle, nodes)
    normals, pulls = sums
    steps = np.array([_solved(normals.sum(axis=0) - one, pulls.sum(axis=0) - two, numbers, prior) @ slope
                      for one, two in zip(normals, pulls, strict=True)])
    count = len(steps)
    scatter = (count - 1) / count * np.sum((steps - steps.mean(axis=0)) ** 2, axis=0)
    inverse = np.linalg.pinv(normals.sum(axis=0) + np.diag(prior))
    held = np.sum((inverse @ slope) ** 2 * prior[:, None], axis=0)
    # A sharp star is as square as its pixel: its width depends on the direction in which it is taken.
    corner = _widths(numbers, middle, nodes, np.pi / 4)
    square_error = np.log(corner[0] * corner[1] / (width[0] * width[1])) ** 2 / 48 if nodes > 1 else 0.0
    return EffectivePsf(
        numbers, *width, float(np.sqrt(scatter[0] + held[0] + square_error)),
        float(np.sqrt(np.mean(scatter[1:] + held[1:]))), square, stars,
        _misfit(pixels, stars, numbers, noise, nodes), nodes)


def _slopes(numbers: np.ndarray, star: StarEllipses, nodes: int) -> np.ndarray:
    """Return how the logarithm of the width and the distortion answer to E11, E22, E12 and the numbers (k, 3)."""
    def answers(growth: np.ndarray) -> np.ndarray:
        grown, changed = star.grown(growth[:3]), numbers + np.concatenate([[0], growth[3:]])
        along, across, _, _ = grown.axes
        width = np.log(np.prod(_widths(changed, grown, nodes)) * along[0, 0] * across[0, 0]) / 2
        if nodes == 1:
            return np.array([width, 0, 0])
        xx, xy, yy = recorded_moments(_moments(changed, grown, nodes), grown)
        return np.array([width, (xx - yy) / (xx + yy), 2 * xy / (xx + yy)])

    still = answers(np.zeros(2 + NUMBERS))
    return np.array([(answers(SMALL_STEP * row) - still) / SMALL_STEP for row in np.eye(2 + NUMBERS)])


def recorded_moments(square: np.ndarray, star: StarEllipses) -> tuple[float, float, float]:
    """Return xx, xy, yy of one star from its adaptive moments on its ellipse."""
    a, b, c, s = (value[0, 0] for value in star.axes)
    first, cross, second = a * a * square[0], a * b * square[1], b * b * square[2]
    return (first * c * c + second * s * s - 2 * cross * c * s, (first - second) * c * s + cross * (c * c - s * s),
            first * s * s + second * c * c + 2 * cross * c * s)


def _widths(numbers: np.ndarray, star: StarEllipses, nodes: int, turned: float = 0.0) -> tuple[float, float]:
    """Return full widths at half maximum along and across, in sigmas; NaN where they are beyond reach.

    `turned` is the angle [rad] between the directions taken and the axes of the ellipse.
    """
    _, across, _, _ = star.axes
    r = np.linspace(0, RADIUS + (1 / float(across[0, 0]) if nodes > 1 else 0), 501)
    found = []
    places = _nodes(star, nodes)
    cos, sin = np.cos(turned), np.sin(turned)
    for u, v in ((r * cos, r * sin), (-r * sin, r * cos)):
        light = (recorded(u[None], v[None], places) @ numbers)[0]
        below = np.flatnonzero(light < light[0] / 2)
        if not below.size:
            return np.nan, np.nan
        at = below[0]
        found.append(2 * float(r[at - 1] + (light[at - 1] - light[0] / 2) / (light[at - 1] - light[at]) * r[1]))
    return found[0], found[1]


def _moments(numbers: np.ndarray, star: StarEllipses, nodes: int) -> np.ndarray:
    """Return the adaptive moments 11, 12, 22 of the star as recorded, on its ellipse."""
    _, across, _, _ = star.axes
    edge = RADIUS + (1.5 / float(across[0, 0]) if nodes > 1 else 0)
    axis = np.linspace(-edge, edge, 49)
    u, v = np.meshgrid(axis, axis)
    places = [(du[..., None], dv[..., None], weight) for du, dv, weight in _nodes(star, nodes)]
    light = recorded(u[None], v[None], places)[0] @ numbers
    found = np.array([1.0, 0.0, 1.0])
    for _ in range(100):
        inverse = found[[2, 1, 0]] / (found[0] * found[2] - found[1] ** 2)
        weight = light * np.exp(-0.5 * (inverse[0] * u**2 - 2 * inverse[1] * u * v + inverse[2] * v**2))
        new = 2 * np.array([np.sum(weight * one) for one in (u**2, u * v, v**2)]) / weight.sum()
        if not np.all(np.isfinite(new)) or new[0] * new[2] <= new[1] ** 2:
            return np.full(3, np.nan)
        done, found = np.max(np.abs(new - found)) < 1e-7, new
        if done:
            break
    return found
