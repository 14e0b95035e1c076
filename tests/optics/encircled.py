"""Light within a radius of a star, from its transfer function: a measure that published stars are told by."""

import numpy as np
from scipy.optimize import brentq
from scipy.special import j1

from planner.optics.star_image import StarImage


def encircled_share(star: StarImage, radius_arcsec):
    r"""Return the share of light within radii (n,): :math:`2\pi r \int \bar T(f)\,J_1(2\pi f r)\,df`, to 1e-4.

    The mean of T over all directions stands for the star; out to 30 widths.
    """
    transfer = star._transfer
    highest, reach = transfer.highest_frequency(), max(transfer.extent())
    nodes, weights = np.polynomial.legendre.leggauss(max(400, min(4000, int(8 * highest * reach))))
    frequency, weight = highest * (nodes + 1) / 2, highest * weights / 2
    directions = max(32, min(512, int(4 * highest * (reach - transfer.seeing_arcsec * 14))))
    mean = np.mean([transfer.on_grid(frequency, np.zeros(1), angle)[:, 0].real
                    for angle in np.pi * (np.arange(directions) + 0.5) / directions], axis=0)
    turns = 2 * np.pi * np.outer(radius_arcsec, frequency)
    return 2 * np.pi * np.asarray(radius_arcsec) * (j1(turns) @ (mean * weight))


def encircled_radius(star: StarImage, share):
    """Return the radius [arcsec] that holds a share of the light."""
    return brentq(lambda radius: encircled_share(star, [radius])[0] - share, 0, 10 * star.fwhm_major.value, xtol=1e-6)
