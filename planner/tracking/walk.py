r"""A random walk within an exposure: it elongates a star, in a direction of its own each time.

About its mean over a window, a Brownian path :math:`W` is a Legendre series whose coefficients are normal. From
:math:`c_n = (2n+1)\int_0^1 P_n(2t-1)\,W\,dt` and one integration by parts, with :math:`\int_0^1 P_k^2 = 1/(2k+1)`,

.. math:: \langle c_n^2\rangle = \tfrac14\Big(\frac1{2n+3}+\frac1{2n-1}\Big), \qquad
          \langle c_n c_{n+2}\rangle = -\tfrac14\,\frac1{2n+3}

times :math:`s^2 T`; others are independent. Their variances over the window,
:math:`\langle c_n^2\rangle/(2n+1)`, sum to 1/6. The first orders are drawn, the rest is fast and counts as round.
"""

import numpy as np

from planner.tracking.drive import drive_phases
from planner.tracking.drive_moments import ORDER
from planner.tracking.even_draws import even_normals
from planner.tracking.mount_frame import Array


def coefficient_covariance(orders: int) -> Array:
    """Return the covariance of the Legendre coefficients 1 to `orders` of a walk with s²T = 1."""
    n = np.arange(1, orders + 1)
    covariance = np.diag((1 / (2 * n + 3) + 1 / (2 * n - 1)) / 4)
    beside = -1 / (4 * (2 * n[:-2] + 3))
    return covariance + np.diag(beside, 2) + np.diag(beside, -2)


# Variance over the window that the drawn orders leave out, for s²T = 1.
LEFT_OVER = 1 / 6 - float(np.sum(np.diag(coefficient_covariance(ORDER)) / (2 * np.arange(1, ORDER + 1) + 1)))


def drive_and_walk(count: int, terms: int) -> tuple[Array, Array]:
    """Return drive phases (count, terms) in radians, and walks beside them (2 axes, ORDER, count) for s²T = 1.

    Each fills its space evenly, and always the same way; the walks have the covariance of a walk exactly.
    """
    drawn = even_normals(count, 2 * ORDER).T  # white
    shape = np.linalg.cholesky(coefficient_covariance(ORDER))
    # Neighbouring columns are the same order on either axis, the largest orders first.
    return drive_phases(count, terms), np.stack([shape @ drawn[0::2], shape @ drawn[1::2]])
