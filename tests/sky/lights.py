"""The lights of the sky one by one, with units, from the kernels that `sky_brightness` adds up."""

from astropy import units as u

from planner.sky.airmass import scattering_airmass_kernel
from planner.sky.brightness import flux_of, magnitude_of
from planner.sky.dark_sky import dark_sky_flux
from planner.sky.moonlight import moonlight_flux_at
from planner.sky.twilight import twilight_flux

SB = u.mag / u.arcsec**2


def dark_sky(zenith_brightness, *, wavelength, airmass, extinction):
    """Return the sky without Moon and twilight."""
    return magnitude_of(dark_sky_flux(zenith_brightness.to_value(SB), wavelength.to_value(u.nm), airmass,
                                      extinction.to_value(u.mag))) * SB


def moonlight_at(wavelength, *, moon_altitude, altitude, separation, phase_angle, height):
    """Return the scattered moonlight at a wavelength."""
    airmass = scattering_airmass_kernel(altitude.to_value(u.deg))
    angles = (angle.to_value(u.deg) for angle in (separation, phase_angle))
    return magnitude_of(moonlight_flux_at(wavelength.to_value(u.nm), height.to_value(u.m),
                                          moon_altitude.to_value(u.deg),
                                          airmass, *angles)) * SB


def twilight_glow(sun_altitude, *, wavelength):
    """Return the scattered sunlight."""
    return magnitude_of(twilight_flux(sun_altitude.to_value(u.deg), wavelength.to_value(u.nm))) * SB


def together(*brightnesses):
    """Return the brightness of several lights: the sum of their fluxes."""
    return magnitude_of(sum(flux_of(one.to_value(SB)) for one in brightnesses)) * SB
