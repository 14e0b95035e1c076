"""Refraction: how much the air lifts a star.

Refraction is positive: apparent altitude = true altitude + refraction. Two closed formulas reach the horizon
(0.1 arcmin against the almanac); two constants from the air's own properties are better than 0.1 arcsec above 20 deg
and give the rate at which refraction changes, down to 5 deg.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import check_units

DEPTH = 6  # of the continued fraction: 7e-4 of the slope at 5 deg
LOWEST = -1.0  # deg; the closed formulas turn over a little below


def refraction_kernel(altitude_deg: float | np.ndarray) -> Any:
    r"""Compute the refraction at an apparent altitude, in arcsec, on plain floats: subtract it for the true altitude.

    .. math:: R = \cot\left(h + \frac{7.31}{h + 4.4}\right)\ \mathrm{arcmin}

    At 1010 hPa and 10 deg C in visual light; `density_factor` scales it. 34.5 arcmin on the horizon, zero at the zenith
    (where the formula gives -0.08 arcsec), NaN below -1 deg. Within 0.1 arcmin of rigorous integration above 5 deg, 0.7
    arcmin on the horizon; real air on the horizon differs by more than that from night to night.

    G. G. Bennett, J. Navigation 35, 255 (1982), doi:10.1017/S0373463300022037.
    """
    h = np.where(altitude_deg < LOWEST, np.nan, altitude_deg)
    return np.maximum(60 / np.tan(np.radians(h + 7.31 / (h + 4.4))), 0)


@check_units
def refraction_from_true(
    altitude: u.Quantity[u.deg], *, pressure: u.Quantity[u.hPa], temperature: u.Quantity[u.deg_C]
) -> u.Quantity[u.arcsec]:
    r"""Return the refraction at a true altitude: add it to get the apparent altitude.

    .. math:: R = 1.02 \cot\left(h + \frac{10.3}{h + 5.11}\right) \frac{P}{1010} \frac{283}{273 + T}\ \mathrm{arcmin}

    Parameters
    ----------
    altitude : Quantity [deg], any shape
        True altitude :math:`h`, without refraction.
    pressure, temperature : Quantity [hPa], [deg_C or K], shapes broadcast
        At the site itself, not reduced to sea level.

    Returns
    -------
    Quantity [arcsec], broadcast shape
        29.0 arcmin at zero, zero at the zenith, NaN below -1 deg.

    Notes
    -----
    The inverse of `refraction_kernel` within 0.1 arcmin.

    References
    ----------
    .. [S86] T. Saemundsson, Sky & Telescope 72, 70 (1986).
    .. [M98] J. Meeus, Astronomical Algorithms, 2nd ed. (1998), ch. 16.
    """
    factor = density_factor(pressure.to_value(u.hPa), temperature.to_value(u.deg_C, u.temperature()))
    return _refraction_from_true(altitude.to_value(u.deg)) * factor * u.arcsec


def _refraction_from_true(altitude_deg: float | np.ndarray) -> Any:
    """Compute `refraction_from_true` in arcsec on plain floats, at 1010 hPa and 10 deg C."""
    h = np.where(altitude_deg < LOWEST, np.nan, altitude_deg)
    return np.maximum(61.2 / np.tan(np.radians(h + 10.3 / (h + 5.11))), 0)


def density_factor(pressure_hpa: float | np.ndarray, temperature_c: float | np.ndarray) -> Any:
    """Compute the factor for pressure and temperature: 1 at 1010 hPa and 10 deg C (J. Meeus, ch. 16 as above)."""
    return pressure_hpa / 1010 * 283 / (273 + temperature_c)


@dataclass(frozen=True)
class RefractionConstants:
    """Constants a and b of the refraction R = a tan z + b tan^3 z + ..., z the *apparent* zenith distance.

    Summed as for an exponential atmosphere (`refraction_of_tangent`): within 0.1 arcsec of rigorous integration above
    20 deg of altitude, 1 arcsec at 8 deg, 4 arcsec at 5 deg; its slope within 1 % at 8 deg and 2 % at 5 deg.
    """

    a: u.Quantity[u.rad]
    b: u.Quantity[u.rad]

    def refraction(self, altitude: u.Quantity[u.deg]) -> u.Quantity[u.arcsec]:
        """Return the refraction at an apparent altitude, shapes broadcast."""
        lift, _ = refraction_of_tangent(1 / np.tan(altitude.to_value(u.rad)), self.a.value, self.b.value)
        return (lift * u.rad).to(u.arcsec)

    def gradient(self, altitude: u.Quantity[u.deg]) -> u.Quantity[u.arcsec / u.deg]:
        """Return dR/dz: how fast refraction grows away from the zenith.

        Tracking runs slow by this share along the vertical; two stars apart in altitude close up by it.
        """
        t = 1 / np.tan(altitude.to_value(u.rad))
        _, slope = refraction_of_tangent(t, self.a.value, self.b.value)
        return (slope * (1 + t**2) * u.one).to(u.arcsec / u.deg, u.dimensionless_angles())


def refraction_of_tangent(tangent: float | np.ndarray, a: float | np.ndarray, b: float | np.ndarray) -> Any:
    r"""Compute the refraction of an exponential atmosphere and its derivative by tan z, on plain floats in radians.

    .. math:: R = a\,t\,(1 - x + 3x^2 - 15x^3 + \ldots)
                = \cfrac{a\,t}{1 + \cfrac{x}{1 + \cfrac{2x}{1 + \cfrac{3x}{\ddots}}}}, \quad x = -b\,t^2/a,\ t = \tan z

    Two terms of the series are the usual a tan z + b tan^3 z, whose slope is 3 % off at 8 deg of altitude and 22 % at
    5 deg. The series diverges, Laplace's continued fraction for it does not (Mecanique celeste, book X; M. Abramowitz &
    I. Stegun, Handbook of Mathematical Functions, 7.1.14); here down to 6x.
    """
    x = tangent**2 * (-b / np.where(a == 0, 1.0, a))
    rest: float | np.ndarray = 1.0
    for order in range(DEPTH, 1, -1):
        rest = 1 + order * x / rest
    whole = 1 + x / rest
    return a * tangent / whole, a / (whole * rest)


@check_units
def refraction_constants(
    *,
    pressure: u.Quantity[u.hPa],
    temperature: u.Quantity[u.deg_C],
    humidity: float = 0.5,
    wavelength: u.Quantity[u.nm],
) -> RefractionConstants:
    """Return the two constants of refraction for the air at the site.

    Parameters
    ----------
    pressure, temperature, wavelength : Quantity [hPa], [deg_C or K], [nm], shapes broadcast
        At the site itself.
    humidity : float
        Relative, 0 to 1.

    Returns
    -------
    RefractionConstants
        Each constant a Quantity [rad] of the broadcast shape.

    References
    ----------
    .. [SOFA] IAU Standards of Fundamental Astronomy, routine refco, through pyerfa.
    """
    import erfa

    a, b = erfa.refco(
        pressure.to_value(u.hPa), temperature.to_value(u.deg_C, u.temperature()), humidity, wavelength.to_value(u.um)
    )
    return RefractionConstants(a * u.rad, b * u.rad)
