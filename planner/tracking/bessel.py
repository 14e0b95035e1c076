"""Two Bessel functions on plain floats, in place of an import that takes as long as a whole advice.

References
----------
.. [AS64] M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964).
"""

import numpy as np

from planner.tracking.mount_frame import Array

NEAR = 8.0
NODES, WEIGHTS = np.polynomial.legendre.leggauss(24)
# [AS64]_, 9.4.4 in (x/3)^2 and 9.4.6 in 3/x: within 4e-8.
SMALL = (0.5, -0.56249985, 0.21093573, -0.03954289, 0.00443319, -0.00031761, 0.00001109)
AMPLITUDE = (0.79788456, 0.00000156, 0.01659667, 0.00017105, -0.00249511, 0.00113653, -0.00020033)
PHASE = (-2.35619449, 0.12499612, 0.00005650, -0.00637879, 0.00074348, 0.00079824, -0.00029166)


def j1_over_x(x: Array) -> Array:
    """Return J1(x)/x for x >= 0."""
    far = np.maximum(x, 3.0)
    values = np.polynomial.polynomial.polyval(3 / far, np.transpose([AMPLITUDE, PHASE]))
    return np.where(x < 3, np.polynomial.polynomial.polyval((np.minimum(x, 3) / 3) ** 2, SMALL),
                    values[0] * np.cos(far + values[1]) / far**1.5)


def spherical_bessel(x: Array, orders: int) -> Array:
    """Return the spherical Bessel functions j_1 to j_orders of x >= 0, on a first axis of their own.

    The recurrence upwards [AS64]_, 10.1.19, from where it is stable for the first few, and below that the mean of
    i^-n P_n(t) exp(ixt) over -1..1, 10.1.14.
    """
    near, far = np.minimum(x, NEAR)[..., None] * NODES, np.maximum(x, NEAR)
    wave = (np.sin(near), -np.cos(near), -np.sin(near), np.cos(near))
    polynomials = np.polynomial.legendre.legvander(NODES, orders) * WEIGHTS[:, None] / 2
    values = [np.sin(far) / far, np.sin(far) / far**2 - np.cos(far) / far]
    for order in range(1, orders):
        values.append((2 * order + 1) / far * values[order] - values[order - 1])
    return np.array([np.where(x < NEAR, wave[(order - 1) % 4] @ polynomials[:, order], values[order])
                     for order in range(1, orders + 1)])
