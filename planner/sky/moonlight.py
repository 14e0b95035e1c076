"""Moonlight scattered by the air into the line of sight.

The V formula is that of Krisciunas and Schaefer: 8 to 23 % against their data. It uses the Moon's own airmass for the
light that comes down and the target's for the light that is scattered. Other wavelengths follow from the colour of
the Moon and from how much more or less the air scatters and takes away there.
"""

from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import check_units
from planner.sky.airmass import scattering_airmass_kernel
from planner.sky.brightness import LN_FLUX_PER_MAG, NANOLAMBERT_OF_ZERO_MAG, SURFACE_MAG, flux_of, magnitude_of
from planner.sky.dark_sky import BAND_NM
from planner.sky.extinction import V_NM, extinction_kernel, scattering_extinction, within_range

_LN10 = np.log(10)
_MOON_RADIUS_DEG = 0.26  # nearer than this the line of sight ends on the Moon
# Colours of the Moon, magnitude minus V, in U B V R I. U - B 0.46, B - V 0.92: Allen's Astrophysical Quantities, from
# memory. V - R 0.53, V - I 1.1: the Sun's 0.35 and 0.70 (Ramirez et al. 2012, ApJ 752, 5, from memory) reddened by a
# lunar reflectance growing as the wavelength, 0.1 mag uncertain.
_MOON_COLOURS = np.array([1.38, 0.92, 0.0, -0.53, -1.10])


@check_units
def moonlight(
    *,
    moon_altitude: u.Quantity[u.deg],
    altitude: u.Quantity[u.deg],
    separation: u.Quantity[u.deg],
    phase_angle: u.Quantity[u.deg],
    extinction: u.Quantity[u.mag],
) -> u.Quantity[u.mag / u.arcsec**2]:
    r"""Return the V brightness of scattered moonlight.

    .. math:: B = f(\rho)\, I^*\, 10^{-0.4 k X_\mathrm{Moon}} (1 - 10^{-0.4 k X})

    Parameters
    ----------
    moon_altitude, altitude, separation, phase_angle : Quantity [deg], shapes broadcast
        Of the Moon; of the target; between the two; at the Moon between Sun and Earth (0 deg: full, 180 deg: new).
    extinction : Quantity [mag], shapes broadcast
        In V, per airmass.

    Returns
    -------
    Quantity [mag/arcsec2], broadcast shape
        inf while the Moon is on or below the horizon, NaN for a target below it.

    Notes
    -----
    Meant for separations over 10 deg; nearer, the steeper law of the paper's eq. 18 (from memory) takes over where it
    is brighter. The opposition surge is left out: within 7 deg of full Moon the sky can be 0.3 mag brighter.

    References
    ----------
    .. [KS91] K. Krisciunas and B. E. Schaefer, PASP 103, 1033 (1991), eqs. 3, 9, 15, 20, 21, doi:10.1086/132921.
    """
    flux = _moonlight_flux(
        moon_altitude.to_value(u.deg), scattering_airmass_kernel(altitude.to_value(u.deg)), separation.to_value(u.deg),
        phase_angle.to_value(u.deg), extinction.to_value(u.mag), extinction.to_value(u.mag))
    return magnitude_of(flux) * SURFACE_MAG


def moonlight_flux_at(wavelength_nm: float | np.ndarray, height_m: float | np.ndarray,
                      moon_altitude_deg: float | np.ndarray, airmass: float | np.ndarray,
                      separation_deg: float | np.ndarray, phase_angle_deg: float | np.ndarray) -> Any:
    """Compute the flux of scattered moonlight at any wavelength, in units of magnitude 0, for a height's mean air.

    Plain floats that broadcast; the airmass is the target's scattering airmass; zero while the Moon is down, NaN
    outside 300 to 1100 nm. `moonlight` at 545 nm. Elsewhere the Moon has its own colour, the light on its way down
    meets the extinction at that wavelength, and the air scatters as much as its molecules and aerosol do there (ozone
    does not scatter).

    With the dark sky added: within 0.5 mag of the means by lunar age in B V R I (Walker 1987, NOAO Newsletter 10, 16)
    up to 10 days; at full Moon 0.9 mag brighter than those in V and R, as the V formula itself is. In U those means
    are up to 2.7 mag brighter than this.
    """
    scattered = scattering_extinction(wavelength_nm, height_m) / scattering_extinction(V_NM, height_m)
    flux = _moonlight_flux(
        moon_altitude_deg, airmass, separation_deg, phase_angle_deg,
        extinction_kernel(wavelength_nm, height_m), extinction_kernel(V_NM, height_m) * scattered)
    return flux * flux_of(np.interp(within_range(wavelength_nm), BAND_NM, _MOON_COLOURS))


def _moonlight_flux(moon_altitude_deg: float | np.ndarray, airmass: float | np.ndarray,
                    separation_deg: float | np.ndarray, phase_angle_deg: float | np.ndarray,
                    extinction_mag: float | np.ndarray, scattering_mag: float | np.ndarray) -> Any:
    """Compute the flux of `moonlight` in units of magnitude 0, on plain floats; zero while the Moon is down."""
    down_path = extinction_mag * scattering_airmass_kernel(np.maximum(moon_altitude_deg, 0.0))
    arriving = flux_of(_moon_dimming(phase_angle_deg) + down_path)
    scattered = -np.expm1(-LN_FLUX_PER_MAG * scattering_mag * airmass)
    up = np.asarray(moon_altitude_deg) > 0
    return up * _scattering_function(separation_deg) * arriving * scattered / NANOLAMBERT_OF_ZERO_MAG


def _moon_dimming(phase_angle_deg: float | np.ndarray) -> Any:
    """Compute -2.5 log I* outside the air, [KS91] eq. 20: 3.84 + 0.026 |a| + 4e-9 a^4."""
    angle = np.abs(phase_angle_deg)
    square = angle * angle
    return 3.84 + 0.026 * angle + 4e-9 * square * square


def _scattering_function(separation_deg: float | np.ndarray) -> Any:
    """Compute f, [KS91] eq. 21; below 10 deg the aerosol part is 6.2e7 / separation^2 (eq. 18) where that is more."""
    separation = np.maximum(separation_deg, _MOON_RADIUS_DEG)
    cosine = np.cos(np.radians(separation))
    near = np.minimum(separation, 10.0)  # at 10 deg eq. 18 is below eq. 21 already: they cross at 8.6 deg
    steeper = np.maximum(6.2e7 / (near * near) * np.exp(_LN10 * (near / 40 - 6.15)), 1.0)
    return 10**5.36 * (1.06 + cosine * cosine) + np.exp(_LN10 * (6.15 - separation / 40)) * steeper
