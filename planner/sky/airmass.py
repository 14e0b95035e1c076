"""Airmass: how much more air a slanted line of sight crosses than the zenith.

Altitudes are apparent (refraction included) unless the name says true. All formulas hold at any height as
relative airmass; `absolute_airmass` scales one with pressure.
"""

import numpy as np
from astropy import units as u

from planner.checks import check_units

SEA_LEVEL_PRESSURE = 1013.25 * u.hPa  # ISO 2533:1975


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


def airmass_kernel(altitude_deg):
    """Compute `airmass` on plain floats."""
    h = np.where(altitude_deg < 0, np.nan, altitude_deg)
    return 1 / (np.sin(np.radians(h)) + 0.50572 * (h + 6.07995) ** -1.6364)


@check_units
def airmass_from_true(altitude: u.Quantity[u.deg]) -> u.Quantity[u.one]:
    """Return the relative airmass at a true (geometric) altitude.

    Parameters
    ----------
    altitude : Quantity [deg], any shape
        True altitude: without refraction.

    Returns
    -------
    Quantity [dimensionless], same shape
        1 at the zenith, 31.7 where the true altitude is zero, NaN below.

    References
    ----------
    .. [Y94] A. T. Young, Appl. Opt. 33, 1108 (1994), doi:10.1364/AO.33.001108.
    """
    return _airmass_from_true(altitude.to_value(u.deg)) * u.one


def _airmass_from_true(altitude_deg):
    """Compute `airmass_from_true` on plain floats."""
    c = np.sin(np.radians(np.where(altitude_deg < 0, np.nan, altitude_deg)))
    numerator = (1.002432 * c + 0.148386) * c + 0.0096467
    return numerator / (((c + 0.149864) * c + 0.0102963) * c + 0.000303978)


@check_units
def scattering_airmass(altitude: u.Quantity[u.deg]) -> u.Quantity[u.one]:
    r"""Return the path through a thin high layer, for light that the air itself emits or scatters.

    .. math:: X = (1 - 0.96 \cos^2 h)^{-1/2}

    Parameters
    ----------
    altitude : Quantity [deg], any shape
        Apparent altitude :math:`h`.

    Returns
    -------
    Quantity [dimensionless], same shape
        1 at the zenith, 5 on the horizon, NaN below it.

    References
    ----------
    .. [KS91] K. Krisciunas and B. E. Schaefer, PASP 103, 1033 (1991), eq. 3, doi:10.1086/132921.
    """
    return scattering_airmass_kernel(altitude.to_value(u.deg)) * u.one


def scattering_airmass_kernel(altitude_deg):
    """Compute `scattering_airmass` on plain floats."""
    sine = np.sin(np.radians(altitude_deg))
    return 1 / np.sqrt(np.where(sine < 0, np.nan, 0.04 + 0.96 * sine * sine))


@check_units
def airmass_pickering(altitude: u.Quantity[u.deg]) -> u.Quantity[u.one]:
    """Return the relative airmass [any shape] at an apparent altitude by Pickering (2002); NaN below the horizon.

    References
    ----------
    .. [P02] K. A. Pickering, DIO 12(1), 20 (2002): X = 1/sin(h + 244/(165 + 47 h^1.1)), h in deg.
    """
    h = np.where(altitude.to_value(u.deg) < 0, np.nan, altitude.to_value(u.deg))
    return 1 / np.sin(np.radians(h + 244 / (165 + 47 * h**1.1))) * u.one


@check_units
def airmass_hardie(altitude: u.Quantity[u.deg]) -> u.Quantity[u.one]:
    """Return the relative airmass [any shape] at an apparent altitude by Hardie (1962); NaN below 5 deg.

    The polynomial fails near the horizon: it turns negative at 1 deg.

    References
    ----------
    .. [H62] R. H. Hardie, in Astronomical Techniques, ed. W. A. Hiltner (1962), p. 180.
    """
    h = np.where(altitude.to_value(u.deg) < 5, np.nan, altitude.to_value(u.deg))
    s = 1 / np.sin(np.radians(h)) - 1
    return (1 + s * (1 - 0.0018167 - s * (0.002875 + 0.0008083 * s))) * u.one


@check_units
def airmass_rozenberg(altitude: u.Quantity[u.deg]) -> u.Quantity[u.one]:
    """Return the relative airmass [any shape] at an apparent altitude by Rozenberg (1966): 40 on the horizon.

    NaN below the horizon. The constants are from memory.

    References
    ----------
    .. [R66] G. V. Rozenberg, Twilight (1966), p. 160: X = 1/(sin h + 0.025 exp(-11 sin h)).
    """
    sine = np.sin(np.radians(np.where(altitude.to_value(u.deg) < 0, np.nan, altitude.to_value(u.deg))))
    return 1 / (sine + 0.025 * np.exp(-11 * sine)) * u.one


@check_units
def absolute_airmass(airmass: u.Quantity[u.one], pressure: u.Quantity[u.hPa]) -> u.Quantity[u.one]:
    """Return the airmass in units of the zenith at sea level: relative airmass times pressure over 1013.25 hPa.

    Parameters
    ----------
    airmass, pressure : Quantity [dimensionless], [hPa], shapes broadcast
        Relative airmass; pressure at the site itself.

    References
    ----------
    .. [G93] C. Gueymard, Solar Energy 51, 121 (1993).
    """
    return (airmass * pressure / SEA_LEVEL_PRESSURE).to(u.one)
