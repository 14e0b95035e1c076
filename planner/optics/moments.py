"""Adaptive second moments of stars in pixels: the estimator that runs on predicted and on measured stars alike.

Columns are `x`, rows are `y`; the centre of the first pixel is (0, 0). Angles run from +x towards +y. The background
must be subtracted.
"""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import Rule, check
from planner.errors import InvalidInputError

MOST_STEPS = 60
FREE_STEPS = 12  # from here on each step goes half of the way
# Below this [pix2] across a star, sums over pixels stand for integrals no more (they are off by 5e-5).
FINE_MOMENT = 1.0
# A moment below this [pix2] has shrunk onto one pixel: a hot pixel or a hit, no star.
LEAST_MOMENT = 0.02


@dataclass(frozen=True)
class AdaptiveMoments:
    """Moments under an elliptical Gaussian weight that matches the star; scalars, or one per stamp (n,)."""

    x: u.Quantity[u.pix]
    y: u.Quantity[u.pix]
    xx: u.Quantity[u.pix**2]  # NaN where no matching weight was found
    xy: u.Quantity[u.pix**2]
    yy: u.Quantity[u.pix**2]
    flux: np.ndarray  # of the matched Gaussian, in the image's unit
    converged: np.ndarray

    @property
    def sigma_major(self) -> u.Quantity[u.pix]:
        """Larger standard deviation."""
        return np.sqrt(self._mean + self._half)

    @property
    def sigma_minor(self) -> u.Quantity[u.pix]:
        """Smaller standard deviation."""
        return np.sqrt(self._mean - self._half)

    @property
    def elongation(self) -> np.ndarray:
        """1 - minor/major."""
        return 1 - np.sqrt((self._mean - self._half) / (self._mean + self._half)).value

    @property
    def angle(self) -> u.Quantity[u.deg]:
        """Of the long axis, from +x towards +y, 0 to 180 deg."""
        return np.degrees(np.arctan2(2 * self.xy.value, (self.xx - self.yy).value) / 2) % 180 * u.deg

    @property
    def _mean(self) -> u.Quantity:
        return (self.xx + self.yy) / 2

    @property
    def _half(self) -> u.Quantity:
        return np.hypot((self.xx - self.yy) / 2, self.xy)


def adaptive_moments_batch(
    stamps: np.ndarray, *, centre: np.ndarray | None = None, sigma: u.Quantity[u.pix] | None = None,
) -> AdaptiveMoments:
    r"""Return the moments of stars, each under the Gaussian weight whose shape is the star's own.

    The weight :math:`M` is the one for which :math:`M = 2\,\int x x^T w_M I / \int w_M I` about the weighted
    centre: the Gaussian that fits the star best by least squares. On coarse pixels it is that fit which is kept,
    not the integral.

    Parameters
    ----------
    stamps : ndarray (n, ny, nx)
        Background subtracted. A stamp with no positive or with a non-finite pixel gives NaN.
    centre : ndarray (n, 2), optional
        (x, y) in pixels of each stamp to start from; the centre of the bright part if absent.
    sigma : Quantity [pix], scalar or (n,), optional
        Standard deviation to start from; that of the bright part if absent.

    Returns
    -------
    AdaptiveMoments, (n,)
        Moments are NaN where no matching weight exists, or where its width exceeds a third of the stamp.

    Raises
    ------
    InvalidInputError
        If the stamps have no three axes, or a start value has a wrong shape or unit.

    References
    ----------
    .. [BJ02] G. M. Bernstein and M. Jarvis, AJ 123, 583 (2002), doi:10.1086/338085, sec. 3.
    .. [HS03] C. Hirata and U. Seljak, MNRAS 343, 459 (2003), doi:10.1046/j.1365-8711.2003.06683.x, sec. 2.1.
    """
    data = np.asarray(stamps, dtype=float)
    if data.ndim != 3:
        raise InvalidInputError("stamps", f"shape {data.shape}", "must have shape (n, ny, nx)", "Stack the stamps.")
    start = _start(data)
    if centre is not None:
        start[:, :2] = np.broadcast_to(np.asarray(centre, dtype=float), (len(data), 2))
    if sigma is not None:
        rule = Rule(unit=u.pix, kind="quantity", more_than=0, remedy="Give the star's width.")
        start[:, 2] = start[:, 4] = np.broadcast_to(check("sigma", sigma, rule).value ** 2, len(data))
        start[:, 3] = 0
    values, flux, converged = _adaptive_moments(data, start)
    x, y, xx, xy, yy = values.T
    return AdaptiveMoments(x * u.pix, y * u.pix, xx * u.pix**2, xy * u.pix**2, yy * u.pix**2, flux, converged)


def _start(data: np.ndarray) -> np.ndarray:
    """Return x, y, xx, xy, yy (n, 5) of the pixels above a third of the brightest, as a round star."""
    n, ny, nx = data.shape
    bright = np.where(data > data.max(axis=(1, 2), initial=0, keepdims=True) / 3, data, 0)
    total = np.maximum(bright.sum(axis=(1, 2)), 1e-300)
    columns, rows = bright.sum(axis=1) / total[:, None], bright.sum(axis=2) / total[:, None]
    x, y = columns @ np.arange(nx), rows @ np.arange(ny)
    spread = columns @ np.arange(nx) ** 2 - x**2 + rows @ np.arange(ny) ** 2 - y**2
    round_moment = np.maximum(spread, 0.5)  # the outer two thirds of a star are cut off: take twice what is left
    return np.stack([x, y, round_moment, np.zeros(n), round_moment], axis=1)


def _adaptive_moments(data: np.ndarray, start: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Compute the fixed point for stamps (n, ny, nx) from start values (n, 5): values (n, 5), flux, converged (n,)."""
    n, ny, nx = data.shape
    column, row = np.arange(nx, dtype=float), np.arange(ny, dtype=float)
    values, flux, converged = start.copy(), np.full(n, np.nan), np.zeros(n, dtype=bool)
    coarse = np.zeros(n, dtype=bool)  # once so, to the end: who changes sides between two rules never settles
    active = np.flatnonzero(np.isfinite(data).all(axis=(1, 2)) & (data.max(axis=(1, 2), initial=0) > 0))
    for turn in range(MOST_STEPS):
        if active.size == 0:
            break
        old = values[active]
        coarse[active] |= (old[:, 2] + old[:, 4]) / 2 - np.hypot((old[:, 2] - old[:, 4]) / 2, old[:, 3]) < FINE_MOMENT
        total, new = _step(data[active], old, coarse[active], column, row)
        if turn >= FREE_STEPS:  # an undersampled star may swing from side to side of its fixed point
            new = (old + new) / 2
        alive = np.all(np.isfinite(new), axis=1) & (total > 0) & (np.minimum(new[:, 2], new[:, 4]) > LEAST_MOMENT)
        # A flat stamp matches a weight of 0.36 of its side; a star that wide is cut off by it.
        alive &= (new[:, 2] < nx**2 / 9) & (new[:, 4] < ny**2 / 9) & (abs(new[:, 0] - nx / 2) < nx) & (
            abs(new[:, 1] - ny / 2) < ny)
        scale = (old[:, 2] + old[:, 4])[:, None]
        done = alive & (np.max(np.abs(new - old) / np.sqrt(scale) ** (1, 1, 2, 2, 2), axis=1) < 1e-6)
        values[active] = new
        flux[active] = 2 * total
        converged[active[done]] = True
        active = active[alive & ~done]
    values[~converged], flux[~converged] = np.nan, np.nan
    return values, flux, converged


def _step(data: np.ndarray, old: np.ndarray, coarse: np.ndarray, column: np.ndarray, row: np.ndarray
          ) -> tuple[np.ndarray, np.ndarray]:
    """Compute the weighted total (n,) and the next values (n, 5) of stamps under the old values' weight.

    `coarse` (n,) are those whose sums over pixels do not stand for integrals.
    """
    x, y, xx, xy, yy = old.T
    determinant = xx * yy - xy**2
    dx, dy = column - x[:, None], row - y[:, None]
    with np.errstate(all="ignore"):
        # exp(-(a dx^2 + 2 b dx dy + c dy^2) / 2), the cross term alone being two-dimensional.
        weight = np.exp((xy / determinant)[:, None, None] * dy[:, :, None] * dx[:, None, :]
                        - (xx / determinant / 2)[:, None, None] * (dy**2)[:, :, None]
                        - (yy / determinant / 2)[:, None, None] * (dx**2)[:, None, :])
        found = _sums(weight * data, dx, dy)
        total, step_x, step_y = found[0], 2 * found[1], 2 * found[2]
        if coarse.any():
            # The sums of the weight's own square miss its integrals on coarse pixels: what a Gaussian star would show.
            own = _sums(weight[coarse]**2, dx[coarse], dy[coarse])
            total[coarse] *= np.pi * np.sqrt(determinant[coarse]) / own[0]
            step_x[coarse] -= 2 * own[1]
            step_y[coarse] -= 2 * own[2]
            found[3:, coarse] += np.stack([xx, yy, xy])[:, coarse] / 2 - own[3:]
        moments = _unweighted(found[3], found[5], found[4], xx, xy, yy)
    return total, np.stack([x + step_x, y + step_y, *moments], axis=1)


def _sums(weighted: np.ndarray, dx: np.ndarray, dy: np.ndarray) -> np.ndarray:
    """Return total, mean x, mean y, and central xx, yy, xy of weighted stamps (n, ny, nx), shape (6, n)."""
    columns, rows = weighted.sum(axis=1), weighted.sum(axis=2)
    total = columns.sum(axis=1)
    mean_x, mean_y = np.sum(columns * dx, axis=1) / total, np.sum(rows * dy, axis=1) / total
    xy = np.sum(np.matmul(weighted, dx[:, :, None])[:, :, 0] * dy, axis=1) / total - mean_x * mean_y
    return np.stack([total, mean_x, mean_y, np.sum(columns * dx**2, axis=1) / total - mean_x**2,
                     np.sum(rows * dy**2, axis=1) / total - mean_y**2, xy])


def _unweighted(xx: np.ndarray, xy: np.ndarray, yy: np.ndarray, weight_xx: np.ndarray, weight_xy: np.ndarray,
                weight_yy: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return what the weight hid: (C^-1 - M^-1)^-1, exact for a Gaussian star; 2 C where that is no ellipse."""
    found, weight = xx * yy - xy**2, weight_xx * weight_yy - weight_xy**2
    a, b, c = yy / found - weight_yy / weight, -xy / found + weight_xy / weight, xx / found - weight_xx / weight
    determinant = a * c - b**2
    change = 1 / (determinant * weight)  # of the squared area
    good = (found > 0) & (a > 0) & (determinant > 0) & (change < 16) & (change > 1 / 16)
    return (np.where(good, c / determinant, 2 * xx), np.where(good, -b / determinant, 2 * xy),
            np.where(good, a / determinant, 2 * yy))
