"""The dark sky: airglow, zodiacal light and faint stars without Moon and twilight, by colour and direction.

A site is described by one number, the V brightness at the zenith; other colours follow from the mean colours of three
published dark sites (in U they differ by 0.6 mag among themselves, in the other bands by 0.2 mag).

Limits: the colours are those of a natural sky. Town light has others (warm lamps brighten V and R, cool ones B) and
grows faster towards the horizon. The brightness is that of the broad band around the wavelength, airglow lines
included: a narrow band between the lines sees a darker sky than this (a few tenths of a magnitude around 500 and
656 nm, more than a magnitude beyond 700 nm: common practice, no source), one that holds a line (557.7, 589, 630 nm)
a brighter one.
"""

from typing import Any

import numpy as np

from planner.sky.brightness import LN_FLUX_PER_MAG, SURFACE_MAG, flux_of
from planner.sky.extinction import within_range

# Effective wavelengths of U B V R I: Bessell, Castelli & Plez 1998, A&A 333, 231, table A2.
BAND_NM = np.array([366.0, 438.0, 545.0, 641.0, 798.0])
# Zenith brightness [mag/arcsec2] in U B V R I.
DARK_SKIES = {
    "La Palma": (22.0, 22.7, 21.9, 21.0, 20.0),  # Benn & Ellison 1998, La Palma Technical Note 115, solar minimum
    "Paranal": (22.3, 22.6, 21.6, 20.9, 19.7),  # Patat 2003, A&A 400, 1183, abstract, solar maximum
    "Cerro Tololo": (22.0, 22.7, 21.8, 20.9, 19.9),  # Walker 1987, NOAO Newsletter 10, 16, day 0
}
DARKEST_SKY = 22.0 * SURFACE_MAG  # in V, at the zenith: none of these is darker by more than a tenth
AIRGLOW_SHARE = 0.6  # of the dark sky that brightens with airmass: Patat 2003, app. C, from memory


def _mean_colours() -> Any:
    """Compute band minus V, the mean over the published sites; the last entry carries R - I on to 1100 nm."""
    table = np.array(list(DARK_SKIES.values()))
    colours = (table - table[:, 2:3]).mean(axis=0)
    slope = (colours[4] - colours[3]) / (BAND_NM[4] - BAND_NM[3])
    return np.append(colours, colours[4] + slope * (1100 - BAND_NM[4]))


_COLOUR_NM = np.append(BAND_NM, 1100.0)
_COLOURS = _mean_colours()


def _dark_sky_colour(wavelength_nm: float | np.ndarray) -> Any:
    """Compute the magnitude of the dark sky at a wavelength minus that in V, on plain floats."""
    return np.interp(within_range(wavelength_nm), _COLOUR_NM, _COLOURS)


def _dark_sky_growth(airmass: float | np.ndarray, extinction_mag: float | np.ndarray) -> Any:
    """Compute the flux of the dark sky over that at the zenith, on plain floats."""
    emitted = 1 - AIRGLOW_SHARE + AIRGLOW_SHARE * airmass
    return emitted * np.exp(-LN_FLUX_PER_MAG * extinction_mag * (airmass - 1))


def dark_sky_flux(zenith_brightness: float | np.ndarray, wavelength_nm: float | np.ndarray,
                  airmass: float | np.ndarray, extinction_mag: float | np.ndarray) -> Any:
    r"""Compute the flux of the sky without Moon and twilight, in units of magnitude 0, on plain floats; they broadcast.

    .. math:: m = m_V + (m_\lambda - m_V) - 2.5 \log_{10}(1 - f + f X) + k\,(X - 1), \quad f = 0.6

    Parameters
    ----------
    zenith_brightness : float
        V at the zenith on a moonless night [mag/arcsec2].
    wavelength_nm, airmass, extinction_mag : float
        Airmass of the emitting layer (`scattering_airmass_kernel`; the ordinary airmass is as good above 20 deg);
        extinction per airmass at the wavelength.

    Returns
    -------
    float
        Blue of 366 nm the colour of U is held, red of 798 nm that from R to I is carried on to 1100 nm; NaN outside
        300 to 1100 nm.

    References
    ----------
    .. [P03] F. Patat, A&A 400, 1183 (2003), app. C, doi:10.1051/0004-6361:20030030 (formula and f from memory).
    """
    zenith = flux_of(zenith_brightness + _dark_sky_colour(wavelength_nm))
    return zenith * _dark_sky_growth(airmass, extinction_mag)
