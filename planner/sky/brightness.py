"""Surface brightness: magnitudes per square arcsec, nanolamberts and candela, and sums in flux.

A magnitude of inf is no light at all; it drops out of every sum.
"""

import numpy as np
from astropy import units as u

from planner.checks import check_units

SURFACE_MAG = u.mag / u.arcsec**2
NANOLAMBERT = u.def_unit("nanolambert", 1e-5 / np.pi * u.cd / u.m**2)
LN_FLUX_PER_MAG = 0.4 * np.log(10)

# Garstang (1986), PASP 98, 364, eq. 19: B = 34.08 exp(20.7233 - 0.92104 V), where 0.92104 is 0.4 ln 10 rounded.
NANOLAMBERT_OF_ZERO_MAG = 34.08 * np.exp(20.7233)
# Luminance of V = 0 per square arcsec: 2.54e-6 lx outside the air (Allen 1973) over 2.3504e-11 sr, rounded.
ZERO_MAG_LUMINANCE = 1.08e5 * u.cd / u.m**2

# Naked-eye limiting magnitude, faintest and brightest, by class of sky.
# Source: J. E. Bortle, Sky & Telescope 101(2), 126 (2001); classes 5 to 9 from memory.
BORTLE_NAKED_EYE = {1: (8.0, 7.6), 2: (7.5, 7.1), 3: (7.0, 6.6), 4: (6.5, 6.1), 5: (6.0, 5.6), 6: (5.5, 5.1),
                    7: (5.0, 4.6), 8: (4.5, 4.1), 9: (4.0, -np.inf)}


def flux_of(magnitude):
    """Compute the flux of a magnitude in units of magnitude 0, on plain floats."""
    return np.exp(-LN_FLUX_PER_MAG * magnitude)


def magnitude_of(flux):
    """Compute the magnitude of a flux in units of magnitude 0, on plain floats; inf without flux."""
    with np.errstate(divide="ignore"):
        return np.log(flux) / -LN_FLUX_PER_MAG


@check_units
def brightness_sum(*brightnesses: u.Quantity[u.mag / u.arcsec**2]) -> u.Quantity[u.mag / u.arcsec**2]:
    """Return the brightness of several lights together: the sum of their fluxes.

    Parameters
    ----------
    *brightnesses : Quantity [mag/arcsec2], shapes broadcast
        inf for a light that is not there.

    Returns
    -------
    Quantity [mag/arcsec2], broadcast shape
        inf if there is no light at all.
    """
    values = (brightness.to_value(SURFACE_MAG) for brightness in brightnesses)
    return magnitude_of(sum(flux_of(value) for value in values)) * SURFACE_MAG


@check_units
def contrast(difference: u.Quantity[u.mag]) -> u.Quantity[u.one]:
    """Return the ratio of fluxes [any shape] of an object this much fainter [mag] than another: 10^(-0.4 dm)."""
    return flux_of(difference.to_value(u.mag)) * u.one


@check_units
def nanolambert(brightness: u.Quantity[u.mag / u.arcsec**2]) -> u.Quantity:
    """Return the luminance [nanolambert, any shape] of a V brightness [mag/arcsec2].

    B = 34.08 exp(20.7233 - 0.92104 V): 54 nanolambert at 22.0 mag/arcsec2.

    References
    ----------
    .. [G86] R. H. Garstang, PASP 98, 364 (1986), eq. 19, doi:10.1086/131768.
    """
    return NANOLAMBERT_OF_ZERO_MAG * flux_of(brightness.to_value(SURFACE_MAG)) * NANOLAMBERT


@check_units
def brightness_from_nanolambert(luminance: u.Quantity[u.cd / u.m**2]) -> u.Quantity[u.mag / u.arcsec**2]:
    """Return the V brightness [mag/arcsec2, any shape] of a luminance, the inverse of `nanolambert`."""
    return magnitude_of(luminance.to_value(NANOLAMBERT) / NANOLAMBERT_OF_ZERO_MAG) * SURFACE_MAG


@check_units
def luminance(brightness: u.Quantity[u.mag / u.arcsec**2]) -> u.Quantity[u.cd / u.m**2]:
    """Return the luminance [cd/m2, any shape] of a V brightness [mag/arcsec2]: 108000 cd/m2 at magnitude 0.

    Photometry of stars; 0.4 % from `nanolambert`, which is an older conversion.

    References
    ----------
    .. [A73] C. W. Allen, Astrophysical Quantities, 3rd ed. (1973): magnitude 0 is 2.54e-6 lx outside the air.
    """
    return ZERO_MAG_LUMINANCE * flux_of(brightness.to_value(SURFACE_MAG))


@check_units
def naked_eye_limit(brightness: u.Quantity[u.mag / u.arcsec**2]) -> u.Quantity[u.mag]:
    """Return the faintest star [V mag, any shape] for the unaided eye under a sky brightness [V mag/arcsec2].

    6.6 mag at 22.0 mag/arcsec2; good eyes differ by half a magnitude and more.

    References
    ----------
    .. [S90] B. E. Schaefer, PASP 102, 212 (1990), as commonly quoted, the constants from memory:
       7.93 - 5 log10(10^(4.316 - B/5) + 1).
    """
    return (7.93 - 5 * np.log10(10 ** (4.316 - brightness.to_value(SURFACE_MAG) / 5) + 1)) * u.mag


def bortle_class(limit: u.Quantity[u.mag]) -> int:
    """Return the class 1 (darkest) to 9 of a sky by the faintest star [mag] seen by the unaided eye.

    See `BORTLE_NAKED_EYE` for the source.
    """
    return next(number for number, (_, brightest) in BORTLE_NAKED_EYE.items()
                if round(limit.to_value(u.mag), 1) >= brightest)


@check_units
def mean_surface_brightness(
    magnitude: u.Quantity[u.mag], *, size_major: u.Quantity[u.arcmin], size_minor: u.Quantity[u.arcmin]
) -> u.Quantity[u.mag / u.arcsec**2]:
    """Return the mean brightness of an object whose light is spread over an ellipse.

    Parameters
    ----------
    magnitude, size_major, size_minor : Quantity [mag], [arcmin], [arcmin], shapes broadcast
        Integrated magnitude; full axes of the ellipse.

    Returns
    -------
    Quantity [mag/arcsec2], broadcast shape
        m + 2.5 log10(area in arcsec2).
    """
    area = np.pi / 4 * size_major.to_value(u.arcsec) * size_minor.to_value(u.arcsec)
    return (magnitude.to_value(u.mag) + 2.5 * np.log10(area)) * SURFACE_MAG
