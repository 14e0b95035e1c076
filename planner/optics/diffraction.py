"""Diffraction by the aperture: the smallest star a telescope can draw.

Angles on the sky; the aperture is a disc of the given diameter with an optional round obstruction in the middle,
given as a share of the diameter.
"""

import math

import numpy as np
from astropy import units as u

from planner.checks import Rule, require_positive
from planner.optics.image_scale import ARCSEC_PER_RADIAN

# Half-maximum width of [2 J1(x)/x]^2 in units of lambda/D; the textbooks print 1.029. The root x = 1.616339948...
# of [2 J1(x)/x]^2 = 1/2 times 2/pi (M. Born and E. Wolf, Principles of Optics, par. 8.5.2).
AIRY_FWHM = 1.028993969962
OBSTRUCTION = Rule(kind="number", at_least=0, less_than=1, remedy="Give a share of the diameter, 0 if none.")


def airy_fwhm(wavelength: u.Quantity[u.nm], aperture: u.Quantity[u.mm]) -> u.Quantity[u.arcsec]:
    r"""Return the full width at half maximum of the image of a clear aperture: :math:`1.029\,\lambda/D`.

    Parameters
    ----------
    aperture : Quantity [mm], scalar
        Clear diameter :math:`D`.

    Returns
    -------
    Quantity [arcsec], scalar
        An obstruction makes the core a few percent narrower; `star_image` has it exact.

    Raises
    ------
    InvalidInputError
        If a length is not positive.

    References
    ----------
    .. [BW] M. Born and E. Wolf, Principles of Optics, par. 8.5.2.
    """
    return AIRY_FWHM / cutoff_kernel(wavelength, aperture) * u.arcsec


def cutoff_frequency(wavelength: u.Quantity[u.nm], aperture: u.Quantity[u.mm]) -> u.Quantity[1 / u.arcsec]:
    r"""Return the spatial frequency :math:`D/\lambda` beyond which no detail passes.

    Raises
    ------
    InvalidInputError
        If a length is not positive.
    """
    return cutoff_kernel(wavelength, aperture) / u.arcsec


def cutoff_kernel(wavelength: u.Quantity, aperture: u.Quantity) -> float:
    """Compute `cutoff_frequency` in cycles per arcsec."""
    wave = require_positive("wavelength", wavelength, u.m, "Give the wavelength of the light, e.g. 550 nm.")
    diameter = require_positive("aperture", aperture, u.m, "Give the clear diameter of the entrance pupil.")
    return float(diameter.value / wave.value) / ARCSEC_PER_RADIAN


def annulus_transfer(frequency: np.ndarray, obstruction: float) -> np.ndarray:
    r"""Compute the transfer function of an annular aperture: its exact autocorrelation.

    The overlap of two annuli is that of their discs: outer with outer, less outer with inner twice, plus inner with
    inner [O56]_.

    Parameters
    ----------
    frequency : ndarray, any shape
        In units of the cutoff :math:`D/\lambda`.
    obstruction : float
        Share of the diameter.

    References
    ----------
    .. [O56] E. L. O'Neill, J. Opt. Soc. Am. 46, 285 (1956), doi:10.1364/JOSA.46.000285.
    """
    whole = _disc_overlap(frequency, 0.5, 0.5)
    if obstruction > 1e-6:  # less hides less than 1e-12 of the light
        hole = obstruction / 2
        whole = whole - 2 * _disc_overlap(frequency, 0.5, hole) + _disc_overlap(frequency, hole, hole)
    return whole / (math.pi / 4 * (1 - obstruction**2))


def _disc_overlap(distance: np.ndarray, large: float, small: float) -> np.ndarray:
    """Compute the area that two discs of these radii share when their centres are a distance apart."""
    apart = np.maximum(distance, 1e-12)
    squared = apart**2
    from_small = np.clip((squared + small**2 - large**2) / (2 * apart * small), -1, 1)
    from_large = np.clip((squared + large**2 - small**2) / (2 * apart * large), -1, 1)
    # Twice the triangle between the centres and the crossing of the rims, from the same clipped cosines.
    height = large * np.sqrt(1 - from_large**2)
    return small**2 * np.arccos(from_small) + large**2 * np.arccos(from_large) - apart * height
