r"""Dispersion: the air is a prism that draws a star out into a short spectrum along the vertical.

Blue light stands higher than red by the difference of their refractions; through a filter of some width that is a trail
which no mount removes. East and north components follow the direction of the zenith seen from the star, in which
:math:`q` is the parallactic angle:

.. math:: \cos h\,(\sin q, \cos q) = (\cos\varphi \sin H,\; \sin\varphi \cos\delta - \cos\varphi \sin\delta \cos H)
"""

import numpy as np
from astropy import units as u

from planner.checks import check_units
from planner.sky.altitude import sine_of_altitude
from planner.sky.refraction import refraction_constants

NODES, WEIGHTS = np.polynomial.legendre.leggauss(8)  # wavelengths over the filter, of even light


@check_units
def dispersion(altitude: u.Quantity[u.deg], *, shortest: u.Quantity[u.nm], longest: u.Quantity[u.nm],
               pressure: u.Quantity[u.hPa], temperature: u.Quantity) -> u.Quantity[u.arcsec]:
    """Return by how much light of one wavelength stands above that of another.

    Parameters
    ----------
    altitude : Quantity [deg], any shape
        Apparent.
    shortest, longest : Quantity [nm], broadcast
    pressure, temperature : Quantity [hPa], [deg_C or K], scalar
        At the site.

    Returns
    -------
    Quantity [arcsec], shape of the broadcast
        Positive for shorter waves first. Within 0.03 arcsec of the tables in [F82]_ at airmasses to 2.

    References
    ----------
    .. [F82] A. V. Filippenko, PASP 94, 715 (1982), doi:10.1086/131052.
    """
    above, below = (refraction_constants(pressure=pressure, temperature=temperature, wavelength=wavelength)
                    for wavelength in (shortest, longest))
    return above.refraction(altitude) - below.refraction(altitude)


@check_units
def dispersion_covariance(
    hour_angle: u.Quantity[u.deg], *, latitude: u.Quantity[u.deg], declination: u.Quantity[u.deg],
    centre: u.Quantity[u.nm], width: u.Quantity[u.nm], pressure: u.Quantity[u.hPa], temperature: u.Quantity,
) -> u.Quantity[u.arcsec**2]:
    """Return how far the air draws a star out within a filter, as a covariance on the sky.

    `hour_angle` (h,). `centre` and `width`: of the filter; its light is taken as even. `pressure` and `temperature`:
    at the site.
    Returns (3, h): East-east, north-north and east-north. Below 5 deg of altitude it stands still.
    """
    phi, delta, h = (angle.to_value(u.rad) for angle in (latitude, declination, hour_angle))
    east, north = np.cos(phi) * np.sin(h), np.sin(phi) * np.cos(delta) - np.cos(phi) * np.sin(delta) * np.cos(h)
    flat = np.maximum(east**2 + north**2, 1e-12)  # cos² of the altitude
    altitude = np.arcsin(np.clip(sine_of_altitude(phi, delta, h), np.sin(np.radians(5)), 1)) * u.rad
    waves = centre + width / 2 * NODES[:, np.newaxis]
    lifted = dispersion(altitude, shortest=waves, longest=centre, pressure=pressure, temperature=temperature)
    mean = (WEIGHTS / 2) @ lifted
    variance = (WEIGHTS / 2) @ (lifted - mean) ** 2
    return variance * np.stack([east**2, north**2, east * north]) / flat
