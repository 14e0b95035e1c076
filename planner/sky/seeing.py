"""Seeing: how wide the air draws a star, by airmass and wavelength, before the outer scale of turbulence acts.

Kolmogorov turbulence: FWHM = 0.976 wavelength / r0 of a long exposure through a large aperture, r0 growing as
wavelength^(6/5) and shrinking as airmass^(-3/5) (D. L. Fried, JOSA 56, 1372, 1966).
"""

from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import check_units


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


def _seeing_factor(airmass: float | np.ndarray, wavelength_nm: float | np.ndarray) -> Any:
    """Compute the growth of the seeing FWHM over that at the zenith and 500 nm, on plain floats."""
    return airmass**0.6 * (wavelength_nm / 500.0) ** -0.2
