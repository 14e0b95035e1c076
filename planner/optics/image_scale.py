"""Image scale: how much sky one pixel sees."""

import math

from astropy import units as u

from planner.checks import Rule, check, require_positive

ARCSEC_PER_RADIAN = 180 * 3600 / math.pi
SCALE = u.arcsec / u.pix  # made once: a compound unit takes 20 µs
_BINNING = Rule(kind="whole", at_least=1, remedy="Give 1, 2, 3 or 4.")


def image_scale(
    pixel_pitch: u.Quantity[u.um], focal_length: u.Quantity[u.mm], *, binning: int = 1,
) -> u.Quantity[u.arcsec / u.pix]:
    r"""Return the angle on the sky that one (binned) pixel covers, on the optical axis.

    .. math:: s = 2 \arctan\frac{b\,p}{2 f}

    Parameters
    ----------
    pixel_pitch : Quantity [um], scalar
        Side of one pixel, centre to centre.
    focal_length : Quantity [mm], scalar
        Effective focal length :math:`f`, reducer included.
    binning : int
        Pixels per side added into one, :math:`b`.

    Raises
    ------
    InvalidInputError
        If a length is not positive or the binning is not a whole number from 1.
    """
    pitch = require_positive("pixel_pitch", pixel_pitch, u.mm, "Give the side of one pixel.")
    length = require_positive("focal_length", focal_length, u.mm, "Give the effective focal length, reducer included.")
    half = math.atan(float(check("binning", binning, _BINNING) * pitch.value / (2 * length.value)))
    return 2 * ARCSEC_PER_RADIAN * half * SCALE
