"""Surface brightness: magnitudes per square arcsec, and their fluxes for sums.

A magnitude of inf is no light at all; it drops out of every sum.
"""

from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import check_units

SURFACE_MAG = u.mag / u.arcsec**2
LN_FLUX_PER_MAG = 0.4 * np.log(10)

# Garstang (1986), PASP 98, 364, eq. 19: B = 34.08 exp(20.7233 - 0.92104 V), where 0.92104 is 0.4 ln 10 rounded.
NANOLAMBERT_OF_ZERO_MAG = 34.08 * np.exp(20.7233)


def flux_of(magnitude: float | np.ndarray) -> Any:
    """Compute the flux of a magnitude in units of magnitude 0, on plain floats."""
    return np.exp(-LN_FLUX_PER_MAG * magnitude)


def magnitude_of(flux: float | np.ndarray) -> Any:
    """Compute the magnitude of a flux in units of magnitude 0, on plain floats; inf without flux."""
    with np.errstate(divide="ignore"):
        return np.log(flux) / -LN_FLUX_PER_MAG


def spread_out(magnitude: u.Quantity[u.mag], area: u.Quantity[u.arcsec**2]) -> u.Quantity[u.mag / u.arcsec**2]:
    """Return the surface brightness of the light of a magnitude spread evenly over an area: m + 2.5 lg A."""
    return (magnitude.to_value(u.mag) + 2.5 * np.log10(area.to_value(u.arcsec**2))) * SURFACE_MAG


def gathered(brightness: u.Quantity[u.mag / u.arcsec**2], area: u.Quantity[u.arcsec**2]) -> u.Quantity[u.mag]:
    """Return the magnitude of all the light of an area: `spread_out` turned round."""
    return (brightness.to_value(SURFACE_MAG) - 2.5 * np.log10(area.to_value(u.arcsec**2))) * u.mag


@check_units
def mean_surface_brightness(
    magnitude: u.Quantity[u.mag], *, size_major: u.Quantity[u.arcmin], size_minor: u.Quantity[u.arcmin]
) -> u.Quantity[u.mag / u.arcsec**2]:
    """Return the mean brightness of an object whose light is spread over an ellipse.

    `magnitude`, `size_major` and `size_minor` (shapes broadcast): integrated magnitude; full axes of the ellipse.
    Returns (broadcast shape): m + 2.5 log10(area in arcsec2).
    """
    return spread_out(magnitude, np.pi / 4 * size_major * size_minor)
