"""Seeing: how wide the air draws a star, by airmass, wavelength and the outer scale of turbulence.

Kolmogorov turbulence: FWHM = 0.976 wavelength / r0 of a long exposure through a large aperture, r0 growing as
wavelength^(6/5) and shrinking as airmass^(-3/5) (D. L. Fried, JOSA 56, 1372, 1966).
"""

import numpy as np
from astropy import units as u

from planner.checks import check_units

# FWHM of a long exposure in units of wavelength / r0: half maximum of the transform of exp(-3.44 (f λ/r0)^(5/3)),
# as in galsim.Kolmogorov; papers round it to 0.976 or 0.98.
KOLMOGOROV_FWHM = 0.9758634299
REFERENCE_WAVELENGTH = 500 * u.nm


@check_units
def seeing(
    zenith_seeing: u.Quantity[u.arcsec], *, airmass: u.Quantity[u.one], wavelength: u.Quantity[u.nm]
) -> u.Quantity[u.arcsec]:
    """Return the seeing FWHM in a direction and colour: as airmass^0.6 and wavelength^-0.2.

    Parameters
    ----------
    zenith_seeing : Quantity [arcsec], any shape
        FWHM at the zenith at 500 nm, before the outer scale acts.
    airmass, wavelength : Quantity [dimensionless], [nm], shapes broadcast
        Of the observation.

    Returns
    -------
    Quantity [arcsec], broadcast shape

    References
    ----------
    .. [F66] D. L. Fried, JOSA 56, 1372 (1966), doi:10.1364/JOSA.56.001372.
    """
    factor = _seeing_factor(airmass.to_value(u.one), wavelength.to_value(u.nm))
    return (zenith_seeing * factor).to(u.arcsec)


def _seeing_factor(airmass, wavelength_nm):
    """Compute the growth of the seeing FWHM over that at the zenith and 500 nm, on plain floats."""
    return airmass**0.6 * (wavelength_nm / 500.0) ** -0.2


@check_units
def fried_parameter(seeing_fwhm: u.Quantity[u.arcsec], *, wavelength: u.Quantity[u.nm]) -> u.Quantity[u.m]:
    """Return r0 [m, broadcast shape] of a Kolmogorov seeing FWHM [arcsec] at its own wavelength [nm]."""
    return (KOLMOGOROV_FWHM * wavelength / seeing_fwhm.to_value(u.rad)).to(u.m)


@check_units
def seeing_from_fried(r0: u.Quantity[u.m], *, wavelength: u.Quantity[u.nm]) -> u.Quantity[u.arcsec]:
    """Return the Kolmogorov seeing FWHM [arcsec, broadcast shape] of r0 [m] at its own wavelength [nm]."""
    return ((KOLMOGOROV_FWHM * wavelength / r0).to_value(u.one) * u.rad).to(u.arcsec)


@check_units
def outer_scale_factor(r0: u.Quantity[u.m], outer_scale: u.Quantity[u.m]) -> u.Quantity[u.one]:
    r"""Return how much a finite outer scale narrows the seeing FWHM.

    .. math:: \sqrt{1 - 2.183\,(r_0 / L_0)^{0.356}}

    Parameters
    ----------
    r0, outer_scale : Quantity [m], shapes broadcast
        Fried's parameter; outer scale :math:`L_0`, commonly about 25 m.

    Returns
    -------
    Quantity [dimensionless], broadcast shape
        1 for an infinite outer scale; within 1.5 % of the von Karman profile for :math:`L_0 / r_0 > 20`, NaN below 9
        where the fit has no root.

    References
    ----------
    .. [T02] A. Tokovinin, PASP 114, 1156 (2002), eq. 19, doi:10.1086/342683.
    """
    square = 1 - 2.183 * (r0 / outer_scale).to_value(u.one) ** 0.356
    return np.sqrt(np.where(square < 0, np.nan, square)) * u.one
