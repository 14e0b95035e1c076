"""Colour array: by how much filling in the missing colours of a picture widens a star."""

import numpy as np
from astropy import units as u

from planner.checks import check_units

# Added to a star's variance along either side [pixel²], mean over where it falls: green is missing at half of the
# pixels and taken from its four neighbours, half of them a pixel away along a side; red and blue are missing in three
# of four, and along a side half of all places are the mean of two a pixel away.
ADDED_VARIANCE = {"mono": 0.0, "green": 0.25, "red": 0.5, "blue": 0.5}


@check_units
def interpolation_blur(colour: str, image_scale: u.Quantity[u.arcsec / u.pix]) -> u.Quantity[u.arcsec]:
    r"""Return the width [arcsec], FWHM, of the blur by linear interpolation [R02]_ of one colour of an array.

    .. math:: W = s \sqrt{8 \ln 2 \; \Delta\sigma^2}, \qquad \Delta\sigma^2 = 0, \tfrac14, \tfrac12, \tfrac12

    for mono, green, red and blue. Frames that are dithered and drizzled, or binned 2 × 2, need none.

    Parameters
    ----------
    colour : str
        Of a recorded band.
    image_scale : Quantity [arcsec / pix], scalar
        Of single pixels.

    Notes
    -----
    As a Gaussian's it widens a star of 2 pixels or more within 2 %.

    References
    ----------
    .. [R02] R. Ramanath et al., J. Electron. Imaging 11, 306 (2002), doi:10.1117/1.1484495, sec. 3.1.
    """
    return np.sqrt(8 * np.log(2) * ADDED_VARIANCE[colour]) * image_scale * u.pix
