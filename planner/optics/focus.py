"""Focus: how far off is too far, and how soon a cooling tube gets there.

A defocus is the distance between sensor and focus along the axis; both signs blur alike.
"""

import math

import numpy as np
from astropy import units as u

from planner.checks import Rule, check, require_not_negative, require_positive
from planner.errors import InvalidInputError

_RATIO = Rule(kind="number", more_than=0, remedy="Give focal length over aperture, e.g. 5 for f/5.")
def depth_of_focus(wavelength: u.Quantity[u.nm], focal_ratio: float) -> u.Quantity[u.um]:
    r"""Return the defocus, to each side, that bends the wavefront by a quarter wave: :math:`\pm 2 \lambda N^2`.

    Parameters
    ----------
    focal_ratio : float
        Focal length over aperture, :math:`N`.

    Raises
    ------
    InvalidInputError
        If a value is not positive.

    References
    ----------
    .. [BW] M. Born and E. Wolf, Principles of Optics, par. 8.8.2: Rayleigh's quarter wave, Strehl ratio 0.81.
    """
    wave = require_positive("wavelength", wavelength, u.um, "Give the wavelength of the light, e.g. 550 nm.")
    return 2 * wave * check("focal_ratio", focal_ratio, _RATIO) ** 2


def seeing_limited_tolerance(
    blur: u.Quantity[u.arcsec], focal_ratio: float, focal_length: u.Quantity[u.mm],
) -> u.Quantity[u.um]:
    r"""Return the defocus whose disc has this diameter on the sky: :math:`\delta = N f \theta`.

    Parameters
    ----------
    blur : Quantity [arcsec], any shape
        Disc that the observer still accepts; a third of the seeing widens the star by a few percent.

    Returns
    -------
    Quantity [um], same shape
    """
    angle = require_not_negative("blur", blur, u.rad, "Give the diameter of the disc on the sky.").value
    length = require_positive("focal_length", focal_length, u.um, "Give the effective focal length.")
    return angle * length * check("focal_ratio", focal_ratio, _RATIO)


def focus_tolerance(
    wavelength: u.Quantity[u.nm], focal_ratio: float, focal_length: u.Quantity[u.mm], *, blur: u.Quantity[u.arcsec],
) -> u.Quantity[u.um]:
    """Return the defocus to each side that does no harm: the larger of quarter wave and the accepted disc.

    Diffraction leaves the quarter wave free of charge, the air leaves the disc; parameters and errors as in
    `depth_of_focus` and `seeing_limited_tolerance`.
    """
    return np.maximum(depth_of_focus(wavelength, focal_ratio),
                      seeing_limited_tolerance(blur, focal_ratio, focal_length))


def focus_shift(
    expansion: u.Quantity[1 / u.K], tube_length: u.Quantity[u.mm], temperature_change: u.Quantity[u.K],
) -> u.Quantity[u.um]:
    r"""Return by how much a tube grows: :math:`\alpha L\,\Delta T`, negative when it cools.

    Parameters
    ----------
    expansion : Quantity [1/K], scalar
        Linear coefficient; aluminium 23.1e-6 at 25 deg C (CRC Handbook).
    tube_length : Quantity [mm], scalar
        Between objective and focus.
    temperature_change : Quantity [K], any shape
        A difference, in K: degrees Celsius are refused, being a point on a scale.

    Returns
    -------
    Quantity [um], same shape
    """
    rate = require_not_negative("expansion", expansion, 1 / u.K, "Give the linear expansion, e.g. 23.1e-6 1/K.")
    length = require_positive("tube_length", tube_length, u.um, "Give the distance from objective to focus.")
    change = check("temperature_change", temperature_change,
                   Rule(unit=u.K, kind="quantity", remedy="Give a difference in K."))
    return (rate * length * change).to(u.um)


def refocus_interval(
    tolerance: u.Quantity[u.um], expansion: u.Quantity[1 / u.K], tube_length: u.Quantity[u.mm],
    temperature_slope: u.Quantity[u.K / u.h],
) -> u.Quantity[u.h]:
    r"""Return the time in which the focus leaves the tolerance: :math:`\delta/(\alpha L\,|dT/dt|)`.

    Parameters
    ----------
    tolerance : Quantity [um], scalar
        To each side, from perfect focus.
    temperature_slope : Quantity [K/h], scalar
        Of the tube; either sign.

    Returns
    -------
    Quantity [h], scalar
        Infinite when nothing moves.
    """
    room = require_positive("tolerance", tolerance, u.um, "Give the defocus to each side.").value
    slope = check("temperature_slope", temperature_slope,
                  Rule(unit=u.K / u.h, kind="quantity", remedy="Give K per hour."))
    if slope.ndim:
        raise InvalidInputError("temperature_slope", slope, "must be one value", "Give K per hour.")
    rate = abs(float(focus_shift(expansion, tube_length, slope.value * u.K).value))
    return (float(room) / rate if rate > 0 else math.inf) * u.h
