r"""A random walk within an exposure: it elongates a star, in a direction of its own each time.

About its mean over a window, a Brownian path :math:`W` is a Legendre series whose coefficients are normal. From
:math:`c_n = (2n+1)\int_0^1 P_n(2t-1)\,W\,dt` and one integration by parts, with :math:`\int_0^1 P_k^2 = 1/(2k+1)`,

.. math:: \langle c_n^2\rangle = \tfrac14\Big(\frac1{2n+3}+\frac1{2n-1}\Big), \qquad
          \langle c_n c_{n+2}\rangle = -\tfrac14\,\frac1{2n+3}

times :math:`s^2 T`; others are independent. Their variances over the window,
:math:`\langle c_n^2\rangle/(2n+1)`, sum to 1/6. The first orders are drawn, the rest is fast and counts as round.
"""

from functools import lru_cache

import numpy as np

from planner.tracking.drive import drive_phases
from planner.tracking.moments.drive_moments import ORDER
from planner.tracking.moments.even_draws import even_normals
from planner.tracking.mount_frame import Array


def coefficient_covariance(orders: int) -> Array:
    """Return the covariance of the Legendre coefficients 1 to `orders` of a walk with s²T = 1."""
    n = np.arange(1, orders + 1)
    covariance = np.diag((1 / (2 * n + 3) + 1 / (2 * n - 1)) / 4)
    beside = -1 / (4 * (2 * n[:-2] + 3))
    return covariance + np.diag(beside, 2) + np.diag(beside, -2)


JITTER_MEMORY_S = 0.1  # of a mount's own jitter: faster than a second (common practice, no source)
SHAKES = 3  # normals that say how the jitter of one sub is spread
# Variance over the window that the drawn orders leave out, for s²T = 1.
LEFT_OVER = 1 / 6 - float(np.sum(np.diag(coefficient_covariance(ORDER)) / (2 * np.arange(1, ORDER + 1) + 1)))


@lru_cache(maxsize=16)  # always the same
def drive_and_walk(count: int, terms: int) -> tuple[Array, Array, Array, Array]:
    """Return drive phases (count, terms) in radians, and walks (2 axes, ORDER, count) for s²T = 1 beside them.

    Each fills its space evenly, and always the same way; the walks have the covariance of a walk exactly. The third
    array (3, count) is standard normal: how the jitter of each sub happens to be spread (see `shaken_covariance`). The
    last (2, count) are unit vectors all around: where each creeps.
    """
    drawn = even_normals(count, 2 * ORDER + SHAKES).T  # white
    shape = np.linalg.cholesky(coefficient_covariance(ORDER))
    # Neighbouring columns are the same order on either axis, the largest orders first.
    walks = np.stack([shape @ drawn[0:2 * ORDER:2], shape @ drawn[1:2 * ORDER:2]])
    angle = 2 * np.pi * (np.random.default_rng(count + 1).permutation(count) + 0.5) / count
    return drive_phases(count, terms), walks, drawn[2 * ORDER:], np.stack([np.cos(angle), np.sin(angle)])


def shaken_covariance(jitter_arcsec: Array, memory_s: float, seconds: Array, drawn: Array,
                      slow: Array | None = None) -> Array:
    r"""Return the covariance of jitter within single subs, (3, t, p): ra-ra, dec-dec and ra-dec [arcsec2].

    .. math:: \langle s^2 \rangle = \sigma^2 \left[1 - 2r + 2r^2 (1 - e^{-1/r})\right], \quad r = \tau/t, \qquad
              \frac{\Delta s^2}{\langle s^2 \rangle} = \sqrt{\frac{2}{n + 5/2}}

    Jitter resembles itself for a while :math:`\tau` (exponentially), so a sub of length t holds :math:`n = t/\tau`
    samples of it: less than all of it shows within the sub, and what shows is not quite round. In subs much shorter
    than that it is a walk, whose modes (variances as :math:`1/k^2`) make 5/2 samples. Where a part of the variance is
    quick, squares of the parts' relative scatter add.

    Parameters
    ----------
    jitter_arcsec : (2,)
        rms in RA and in Dec.
    memory_s : float
        :math:`\tau`; 0: every sub holds all of it, round or not as the two axes are.
    seconds : (t,)
        Lengths of subs.
    drawn : (3, p)
        Standard normal, one column for each sub.
    slow : (2,), optional
        Share of the variance in RA and in Dec that has this memory, the rest `JITTER_MEMORY_S`; all of it if absent.
    """
    ratio = np.maximum(np.array([memory_s, min(memory_s, JITTER_MEMORY_S)])[:, None, None] / seconds[:, None], 1e-9)
    shown = 1 - 2 * ratio + 2 * ratio**2 * -np.expm1(-1 / ratio)  # (2 parts, t, 1)
    ra, dec = (np.array([share, 1 - share])[:, None, None] * shown for share in (np.ones(2) if slow is None else slow))
    scatter = 1 / (1 / ratio + 2.5)
    # One over the samples that each axis is worth, and both together.
    of_ra, of_dec, of_both = (np.sum(one * other * scatter, axis=0) / (one.sum(axis=0) * other.sum(axis=0))
                              for one, other in ((ra, ra), (dec, dec), (ra, dec)))
    # The triangular root of a sample covariance of n samples (Bartlett's decomposition), its squares log-normal.
    first = _log_normal(1.0, 2 * of_ra, drawn[0])
    second = _log_normal(1 - of_both, 2 * of_dec / (1 - of_dec), drawn[1])
    lean = drawn[2] * np.sqrt(of_both)
    sigma_ra, sigma_dec = (sigma * np.sqrt(axis.sum(axis=0))
                           for sigma, axis in zip(jitter_arcsec, (ra, dec), strict=True))
    return np.stack([sigma_ra**2 * first, sigma_dec**2 * (lean**2 + second),
                     sigma_ra * sigma_dec * lean * np.sqrt(first)])


def _log_normal(mean: Array | float, relative_variance: Array, drawn: Array) -> Array:
    """Return log-normal values of a mean and a relative variance (t, 1) for standard normal ones (p,)."""
    square = np.log1p(relative_variance)
    return mean * np.exp(np.sqrt(square) * drawn - square / 2)
