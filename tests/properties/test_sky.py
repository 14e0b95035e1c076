"""What must hold for any air, any Moon and any target."""

import numpy as np
from astropy import units as u
from hypothesis import given
from hypothesis import strategies as st
from sky.lights import twilight_glow

from planner.sky import airmass, extinction, moonlight, refraction_constants, seeing
from planner.sky.refraction import density_factor, refraction_kernel
from planner.sky.total import _sky_brightness

SB = u.mag / u.arcsec**2
altitudes = st.floats(0.0, 90.0)
angles = st.floats(0.0, 180.0)
depressions = st.floats(-90.0, 90.0)
wavelengths = st.floats(300.0, 1100.0)
heights = st.floats(-400.0, 6500.0)
zeniths = st.floats(14.0, 22.5)


@given(zeniths, wavelengths, altitudes, heights, depressions, angles, angles, depressions)
def test_light_never_makes_the_sky_darker(zenith, wavelength, altitude, height, moon_altitude, separation, phase, sun):
    place = (zenith, wavelength, altitude, height)
    dark = _sky_brightness(*place)
    moon = _sky_brightness(*place, moon_altitude, separation, phase)
    both = _sky_brightness(*place, moon_altitude, separation, phase, sun)
    assert np.isfinite([dark, moon, both]).all()
    assert both <= moon <= dark


@given(zeniths, zeniths, wavelengths, altitudes, heights, st.floats(0.1, 90.0), angles, angles)
def test_a_darker_site_is_darker_under_any_moon(one, other, wavelength, altitude, height, moon_altitude, rho, phase):
    first, second = (_sky_brightness(zenith, wavelength, altitude, height, moon_altitude, rho, phase)
                     for zenith in (min(one, other), max(one, other)))
    assert first <= second + 1e-12


@given(altitudes, angles, angles, st.floats(-90.0, 0.0), st.floats(0.01, 1.0))
def test_no_moonlight_from_below_the_horizon(altitude, separation, phase, moon_altitude, k):
    moon = moonlight(moon_altitude=moon_altitude * u.deg, altitude=altitude * u.deg, separation=separation * u.deg,
                     phase_angle=phase * u.deg, extinction=k * u.mag)
    assert moon == np.inf * SB


@given(st.floats(1.0, 90.0), altitudes, angles, angles, angles, st.floats(0.01, 1.0))
def test_a_fuller_moon_is_brighter(moon_altitude, altitude, separation, one, other, k):
    phase = sorted((one, other)) * u.deg
    moon = moonlight(moon_altitude=moon_altitude * u.deg, altitude=altitude * u.deg, separation=separation * u.deg,
                     phase_angle=phase, extinction=k * u.mag)
    assert moon[0] <= moon[1]


@given(st.floats(1.0, 90.0), altitudes, st.floats(0.0, 90.0), st.floats(0.0, 90.0), angles, st.floats(0.01, 1.0))
def test_moonlight_falls_with_separation_up_to_90_deg(moon_altitude, altitude, one, other, phase, k):
    # Beyond 90 deg the published scattering by molecules, 1.06 + cos^2, grows again: no such claim there.
    separation = sorted((one, other)) * u.deg
    moon = moonlight(moon_altitude=moon_altitude * u.deg, altitude=altitude * u.deg, separation=separation,
                     phase_angle=phase * u.deg, extinction=k * u.mag)
    assert moon[0] <= moon[1] + 1e-12 * SB


@given(depressions, depressions, wavelengths)
def test_twilight_fades_as_the_sun_sinks(one, other, wavelength):
    glow = twilight_glow(sorted((one, other)) * u.deg, wavelength=wavelength * u.nm)
    assert glow[0] >= glow[1] - 1e-9 * SB


@given(altitudes, altitudes)
def test_airmass_falls_with_altitude(one, other):
    altitude = sorted((one, other)) * u.deg
    found = airmass(altitude)
    assert found[0] >= found[1] - 1e-12


@given(st.floats(25, 89), st.floats(600, 1050), st.floats(-20, 35))
def test_formula_and_constants_agree_on_refraction(altitude, pressure, temperature):
    constants = refraction_constants(pressure=pressure * u.hPa, temperature=temperature * u.deg_C,
                                     wavelength=574 * u.nm)
    formula = refraction_kernel(altitude) * density_factor(pressure, temperature)
    assert abs(formula - constants.refraction(altitude * u.deg).to_value(u.arcsec)) < 0.09 * 60


@given(wavelengths, heights, heights)
def test_higher_is_clearer(wavelength, one, other):
    found = extinction(wavelength * u.nm, height=sorted((one, other)) * u.m)
    assert found[0] >= found[1]


@given(st.floats(0.3, 10), st.floats(1, 38), wavelengths)
def test_seeing_grows_with_airmass(zenith_seeing, x, wavelength):
    found = seeing(zenith_seeing * u.arcsec, airmass=[1, x] * u.one, wavelength=wavelength * u.nm)
    assert found[1] >= found[0] > 0
