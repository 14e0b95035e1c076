"""Airmass: how much more air a slanted line of sight crosses than the zenith.

Altitudes are apparent: refraction included. The airmass is relative and holds at any height.
"""

from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import check_units


@check_units
def airmass(altitude: u.Quantity[u.deg]) -> u.Quantity[u.one]:
    r"""Return the relative airmass at an apparent altitude.

    .. math:: X = \left[\sin h + 0.50572\,(h + 6.07995)^{-1.6364}\right]^{-1}

    Parameters
    ----------
    altitude : Quantity [deg], any shape
        Apparent altitude :math:`h`: refraction included.

    Returns
    -------
    Quantity [dimensionless], same shape
        0.9997 at the zenith (a fit), 37.9 on the horizon, NaN below it.

    Notes
    -----
    Sea level. Within 0.2 % of a ray traced through the standard atmosphere up to 10 airmasses, 0.6 % at the horizon.

    References
    ----------
    .. [KY89] F. Kasten and A. T. Young, Appl. Opt. 28, 4735 (1989), doi:10.1364/AO.28.004735.
    """
    return airmass_kernel(altitude.to_value(u.deg)) * u.one


def airmass_kernel(altitude_deg: float | np.ndarray) -> Any:
    """Compute `airmass` on plain floats."""
    h = np.where(altitude_deg < 0, np.nan, altitude_deg)
    return 1 / (np.sin(np.radians(h)) + 0.50572 * (h + 6.07995) ** -1.6364)


def scattering_airmass_kernel(altitude_deg: float | np.ndarray) -> Any:
    r"""Compute the path through a thin high layer, for light that the air itself emits or scatters, on plain floats.

    .. math:: X = (1 - 0.96 \cos^2 h)^{-1/2}

    1 at the zenith, 5 on the horizon, NaN below it: K. Krisciunas and B. E. Schaefer, PASP 103, 1033 (1991), eq. 3,
    doi:10.1086/132921.
    """
    sine = np.sin(np.radians(altitude_deg))
    return 1 / np.sqrt(np.where(sine < 0, np.nan, 0.04 + 0.96 * sine * sine))
