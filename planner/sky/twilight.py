"""Twilight: sunlight scattered by the high air, by depression of the Sun and wavelength, at the zenith.

The published fits are of the whole zenith sky at Paranal, night sky included; here the night sky is taken off. Away
from the zenith twilight is brighter towards the Sun: not modelled.
"""

from typing import Any

import numpy as np

from planner.sky.brightness import flux_of
from planner.sky.dark_sky import BAND_NM, DARK_SKIES
from planner.sky.extinction import within_range

# F. Patat, O. S. Ugolnikov and O. V. Postylyakov, A&A 455, 385 (2006), table 1,
# doi:10.1051/0004-6361:20064992, in U B V R I: brightness
# a0 + a1 x + a2 x^2 [mag/arcsec2], x = zenith distance of the Sun - 95 deg, and the linear slope gamma [mag/deg].
_A0 = np.array([11.78, 11.84, 11.84, 11.40, 10.93])
_A1 = np.array([1.376, 1.411, 1.518, 1.567, 1.470])
_A2 = np.array([-0.039, -0.041, -0.057, -0.064, -0.062])
_SLOPE = np.array([1.23, 1.24, 1.14, 1.09, 0.94])
_NIGHT = np.array(DARK_SKIES["Paranal"])
RANGE_DEG = (95.0, 105.0)


def _fit(x: float | np.ndarray, wavelength_nm: float | np.ndarray) -> Any:
    """Compute the published parabola, x deg after the start of its range, on plain floats."""
    a0, a1, a2 = (np.interp(wavelength_nm, BAND_NM, a) for a in (_A0, _A1, _A2))
    return a0 + x * (a1 + a2 * x)


def twilight_flux(sun_altitude_deg: float | np.ndarray, wavelength_nm: float | np.ndarray) -> Any:
    """Compute the flux of the scattered sunlight alone at the zenith, in units of magnitude 0, on plain floats.

    Between 5 and 15 deg of depression the fit (a wavelength between two bands is interpolated, U and I are held
    outside) less the dark sky of Paranal (Patat 2003). Deeper it fades with the published linear slope: under 4 % of a
    dark sky at 18 deg; the parabola would turn over at 18.3 deg. Above -5 deg the slope at -5 deg is carried on to
    sunrise, then held near 4 mag/arcsec2 (daylight): an order of magnitude, to keep sums finite.
    """
    wavelength_nm = within_range(wavelength_nm)
    x = np.maximum(90.0 - RANGE_DEG[0] - np.asarray(sun_altitude_deg), 90.0 - RANGE_DEG[0])
    inside = np.clip(x, 0.0, RANGE_DEG[1] - RANGE_DEG[0])
    glow = flux_of(_fit(inside, wavelength_nm)) - flux_of(np.interp(wavelength_nm, BAND_NM, _NIGHT))
    slope = np.where(x < 0, np.interp(wavelength_nm, BAND_NM, _A1), np.interp(wavelength_nm, BAND_NM, _SLOPE))
    return glow * flux_of(slope * (x - inside))
