"""The whole sky: dark sky, moonlight and twilight added in flux, for a wavelength, a direction and a moment."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import check_units
from planner.errors import InvalidInputError
from planner.sky.airmass import scattering_airmass_kernel
from planner.sky.brightness import SURFACE_MAG, magnitude_of
from planner.sky.dark_sky import dark_sky_flux
from planner.sky.extinction import extinction_kernel
from planner.sky.moonlight import moonlight_flux_at
from planner.sky.twilight import twilight_flux


@check_units
def sky_brightness(
    *,
    zenith_brightness: u.Quantity[u.mag / u.arcsec**2],
    wavelength: u.Quantity[u.nm],
    altitude: u.Quantity[u.deg],
    height: u.Quantity[u.m],
    moon_altitude: u.Quantity[u.deg] | None = None,
    moon_separation: u.Quantity[u.deg] | None = None,
    moon_phase_angle: u.Quantity[u.deg] | None = None,
    sun_altitude: u.Quantity[u.deg] | None = None,
) -> u.Quantity[u.mag / u.arcsec**2]:
    """Return the brightness of the sky: dark sky, moonlight and twilight added in flux.

    Parameters
    ----------
    zenith_brightness : Quantity [mag/arcsec2], any shape
        V at the zenith without Moon and twilight.
    wavelength, altitude, height : Quantity [nm], [deg], [m], shapes broadcast
        300 to 1100 nm; apparent altitude of the target; height of the site, which sets the extinction.
    moon_altitude, moon_separation, moon_phase_angle : Quantity [deg], shapes broadcast, optional
        All three, or none for no Moon. Phase angle 0 deg is full, 180 deg new.
    sun_altitude : Quantity [deg], shapes broadcast, optional
        None for night.

    Returns
    -------
    Quantity [mag/arcsec2], broadcast shape
        Vega magnitude at the wavelength, as seen from the ground. NaN for a target below the horizon and outside 300
        to 1100 nm.

    Raises
    ------
    InvalidInputError
        If only some of the Moon's three angles are given.
    """
    degrees = [None if angle is None else angle.to_value(u.deg)
               for angle in (moon_altitude, moon_separation, moon_phase_angle, sun_altitude)]
    _require_whole_moon(degrees[:3])
    return _sky_brightness(
        zenith_brightness.to_value(SURFACE_MAG), wavelength.to_value(u.nm), altitude.to_value(u.deg),
        height.to_value(u.m), *degrees) * SURFACE_MAG


def _require_whole_moon(angles: Sequence[Any]) -> None:
    """Raise `InvalidInputError` if the Moon is given in part."""
    if any(angle is None for angle in angles) and any(angle is not None for angle in angles):
        given = [name for name, angle in zip(("altitude", "separation", "phase angle"), angles, strict=True)
                 if angle is not None]
        raise InvalidInputError("moon", f"{', '.join(given)} only", "needs altitude, separation and phase angle",
                                "Give all three, or none for no Moon.")


def _sky_brightness(zenith_brightness: float | np.ndarray, wavelength_nm: float | np.ndarray,
                    altitude_deg: float | np.ndarray, height_m: float | np.ndarray,
                    moon_altitude_deg: float | np.ndarray | None = None,
                    moon_separation_deg: Any = None, moon_phase_angle_deg: Any = None,
                    sun_altitude_deg: float | np.ndarray | None = None) -> Any:
    """Compute `sky_brightness` in mag/arcsec2 on plain floats, for grids: keep wavelength and height scalar there."""
    airmass = scattering_airmass_kernel(altitude_deg)
    flux = dark_sky_flux(zenith_brightness, wavelength_nm, airmass, extinction_kernel(wavelength_nm, height_m))
    if moon_altitude_deg is not None:
        flux = flux + moonlight_flux_at(
            wavelength_nm, height_m, moon_altitude_deg, airmass, moon_separation_deg, moon_phase_angle_deg)
    if sun_altitude_deg is not None:
        flux = flux + twilight_flux(sun_altitude_deg, wavelength_nm)
    return magnitude_of(flux)
