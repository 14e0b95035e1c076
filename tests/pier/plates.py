"""A square foot plate by finite elements: the rectangle of twelve freedoms (w and slopes) of Adini, Clough, Melosh."""

import math

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import spsolve

CELLS = 48


def element(side, rigidity, poisson):
    """Stiffness of a square of this side: corners in turn, each with w, dw/dx, dw/dy."""
    def value(x, y):
        return [1, x, y, x * x, x * y, y * y, x**3, x * x * y, x * y * y, y**3, x**3 * y, x * y**3]

    def slope_x(x, y):
        return [0, 1, 0, 2 * x, y, 0, 3 * x * x, 2 * x * y, y * y, 0, 3 * x * x * y, y**3]

    def slope_y(x, y):
        return [0, 0, 1, 0, x, 2 * y, 0, x * x, 2 * x * y, 3 * y * y, x**3, 3 * x * y * y]

    def curvature(x, y):
        return np.array([[0, 0, 0, 2, 0, 0, 6 * x, 2 * y, 0, 0, 6 * x * y, 0],
                         [0, 0, 0, 0, 0, 2, 0, 0, 2 * x, 6 * y, 0, 6 * x * y],
                         [0, 0, 0, 0, 2, 0, 0, 4 * x, 4 * y, 0, 6 * x * x, 6 * y * y]])

    corners = [(0, 0), (side, 0), (side, side), (0, side)]
    inverse = np.linalg.inv(np.array([row(*corner) for corner in corners for row in (value, slope_x, slope_y)], float))
    elastic = rigidity * np.array([[1, poisson, 0], [poisson, 1, 0], [0, 0, (1 - poisson) / 2]])
    points, weights = np.polynomial.legendre.leggauss(4)
    places = side * (1 + points) / 2
    middle = sum(wx * wy * side**2 / 4 * curvature(x, y).T @ elastic @ curvature(x, y)
                 for x, wx in zip(places, weights, strict=True) for y, wy in zip(places, weights, strict=True))
    return inverse.T @ middle @ inverse


def rocking_of_plate(*, side, tube, circle, rods, thickness, modulus=210e9, poisson=0.3):
    """Moment per angle [N m/rad] of a plate held at its rods; the ring under the tube tilts as one, clamped to it."""
    step = side / CELLS
    stiff = element(step, modulus * thickness**3 / 12 / (1 - poisson**2), poisson)
    count = CELLS + 1
    corner = (np.arange(CELLS)[:, None] * count + np.arange(CELLS)).ravel()
    nodes = np.stack([corner, corner + count, corner + count + 1, corner + 1], axis=1)
    freedoms = (3 * nodes[:, :, None] + np.arange(3)).reshape(len(nodes), 12)
    whole = sparse.coo_matrix((np.tile(stiff.ravel(), len(nodes)),
                               (np.repeat(freedoms, 12, axis=1).ravel(), np.tile(freedoms, (1, 12)).ravel())),
                              shape=(3 * count**2,) * 2).tolil()
    x, y = (axis.ravel() for axis in np.meshgrid(*[np.arange(count) * step - side / 2] * 2, indexing="ij"))
    for rod in range(rods):
        angle = 2 * math.pi * rod / rods
        held = np.argmin((x - circle / 2 * math.cos(angle)) ** 2 + (y - circle / 2 * math.sin(angle)) ** 2)
        whole[3 * held, 3 * held] += 1e14
    ring = np.abs(np.hypot(x, y) - tube / 2) < 0.6 * step
    free = [3 * node + part for node in np.flatnonzero(~ring) for part in range(3)]
    tied = sparse.lil_matrix((3 * count**2, len(free) + 3))
    tied[free, range(len(free))] = 1
    lift, tilt_x, tilt_y = len(free), len(free) + 1, len(free) + 2
    for node in np.flatnonzero(ring):
        tied[3 * node, lift], tied[3 * node, tilt_x], tied[3 * node, tilt_y] = 1, x[node], y[node]
        tied[3 * node + 1, tilt_x] = tied[3 * node + 2, tilt_y] = 1
    tied = tied.tocsr()
    moment = np.zeros(len(free) + 3)
    moment[tilt_x] = 1
    return 1 / spsolve((tied.T @ whole.tocsr() @ tied).tocsc(), moment)[tilt_x]
