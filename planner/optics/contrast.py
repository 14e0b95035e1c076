"""Contrast: how much of a fine pattern of light and dark is left in the picture, and which pattern pixels can hold."""

import numpy as np
from astropy import units as u

from planner.checks import require_positive
from planner.optics.image_scale import SCALE
from planner.optics.star_image import star_transfer

PLAIN, DRIZZLED = 2, 1  # pixels that the shortest period must exceed


def shortest_period(image_scale: u.Quantity[u.arcsec / u.pix], *, drizzled: bool = False, apart: float = 1.0,
                    ) -> u.Quantity[u.arcsec]:
    """Return the period [arcsec], scalar, up to which pixels hold nothing.

    `apart` is the distance of samples in pixels, 1 or more: on a colour-filter array those of one colour. Dithered
    frames bring every colour to every place.
    """
    return image_scale.to_value(SCALE) * (DRIZZLED if drizzled else PLAIN * apart) * u.arcsec


def contrast(
    period: u.Quantity[u.arcsec], *, seeing_fwhm: u.Quantity[u.arcsec], wavelength: u.Quantity[u.nm],
    aperture: u.Quantity[u.mm], obstruction: float = 0.0, image_scale: u.Quantity[u.arcsec / u.pix],
    focus_blur_fwhm: u.Quantity[u.arcsec] = 0 * u.arcsec, jitter_rms: u.Quantity[u.arcsec] = 0 * u.arcsec,
    drizzled: bool = False, apart: float = 1.0,
) -> np.ndarray:
    r"""Return the share of a sinusoidal pattern's contrast that is recorded: the transfer function at 1/period.

    .. math:: C(P) = T(1/P)\;\mathrm{sinc}(p/P)\; e^{-2\pi^2\sigma^2/P^2}

    Parameters
    ----------
    period : Quantity [arcsec], any shape
        From bright to bright, along a side of the pixel.
    seeing_fwhm, wavelength, aperture, obstruction, image_scale, focus_blur_fwhm, jitter_rms
        As in `star_image`.
    drizzled : bool
        Whether frames dithered by parts of a pixel are put on a finer grid. They hold every pattern that the box of the
        pixel passes [L99]_; drizzling them [FH02]_ filters pattern and noise alike.
    apart : float
        As in `shortest_period`.

    Returns
    -------
    ndarray, same shape
        0 up to `shortest_period`: of two samples, which cannot tell the pattern from a coarser one; drizzled of one
        pixel, whose box averages it out.

    References
    ----------
    .. [L99] T. R. Lauer, PASP 111, 227 (1999), doi:10.1086/316319.
    .. [FH02] A. S. Fruchter and R. N. Hook, PASP 114, 144 (2002), doi:10.1086/338393.
    """
    transfer = star_transfer(seeing_fwhm, wavelength, aperture, obstruction, image_scale, focus_blur_fwhm, None,
                             jitter_rms=jitter_rms)
    length = require_positive("period", period, u.arcsec, "Give the angle from bright to bright.")
    frequency = 1 / np.asarray(length.value)
    held = length > shortest_period(image_scale, drizzled=drizzled, apart=apart)
    left = transfer.round_part(frequency) * np.sinc(transfer.pixel_arcsec * frequency)
    return np.where(held, left, 0.0)
