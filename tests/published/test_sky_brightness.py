"""Brightness of the sky against published measurements, formulas and specsim's moonlight.
"""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose
from sky.lights import SB, dark_sky, moonlight_at, together, twilight_glow
from specsim.atmosphere import Moon, krisciunas_schaefer

from planner.sky import mean_surface_brightness, moonlight, sky_brightness
from planner.sky.dark_sky import DARK_SKIES
from planner.sky.extinction import extinction_kernel
from planner.sky.moonlight import _moon_dimming

# Effective wavelengths of U B V R I: Bessell, Castelli & Plez 1998, A&A 333, 231, table A2.
BAND_NM = np.array([366.0, 438.0, 545.0, 641.0, 798.0])


# Dark skies at the zenith, from their own V:
# Benn & Ellison 1998, La Palma Technical Note 115 (solar minimum).
# Patat 2003, A&A 400, 1183, abstract (Paranal, solar maximum).
# Day 0: Walker 1987, NOAO Newsletter 10, 16 (Cerro Tololo).
# One set of mean colours cannot serve all three to the 0.1 mag of each: they differ by 0.2 mag among themselves in
# B R I, by 0.6 mag in U.
@pytest.mark.parametrize("sky", [
    pytest.param((22.0, 22.7, 21.9, 21.0, 20.0), id="La Palma"),
    pytest.param((22.3, 22.6, 21.6, 20.9, 19.7), id="Paranal"),
    pytest.param((22.0, 22.7, 21.8, 20.9, 19.9), id="day 0"),
])
def test_dark_sky_in_all_bands(sky):
    found = dark_sky(sky[2] * SB, wavelength=BAND_NM * u.nm, airmass=1.0, extinction=0.1 * u.mag).value
    assert_allclose(found[1:], sky[1:], atol=0.15, rtol=0)
    assert_allclose(found[0], sky[0], atol=0.4, rtol=0)
    assert_allclose(found[2], sky[2], atol=1e-9, rtol=0)  # V comes back as given
    assert sky in DARK_SKIES.values()


# Walker 1987 (CTIO): the sky by days after new Moon, in B V R I. The newsletter gives neither the Moon's altitude
# nor its distance; a target at 60 deg, 80 deg from a Moon at 40 deg is taken. Age to phase angle: 180 deg (1 - day /
# 14.77). To the half Moon the tolerance is the 0.4 mag that a change of geometry makes, at 10 days 0.5.
# At full Moon the published formula in V is brighter than this table wherever the target is (17.9 to 19.5 against
# 20.0 for Moons 10 to 60 deg high and 20 to 125 deg away; the ESO sky model is brighter still, see below), hence 1
# mag. U is left out: 18.5 and 17.0 on days 10 and 14 are 2 mag brighter than moonlight whose B is 20.7 and 19.5 is.
@pytest.mark.parametrize(("day", "expected", "tolerance"), [
    pytest.param(3, (22.4, 21.7, 20.8, 19.9), 0.2, id="day 3"),
    pytest.param(7, (21.6, 21.4, 20.6, 19.7), 0.4, id="day 7"),
    pytest.param(10, (20.7, 20.7, 20.3, 19.5), 0.5, id="day 10"),
    pytest.param(14, (19.5, 20.0, 19.9, 19.2), 1.0, id="day 14"),
])
def test_sky_by_lunar_age(day, expected, tolerance):
    found = sky_brightness(
        zenith_brightness=21.8 * SB, wavelength=BAND_NM[1:] * u.nm, altitude=60 * u.deg, height=2200 * u.m,
        moon_altitude=40 * u.deg, moon_separation=80 * u.deg, moon_phase_angle=180 * (1 - day / 14.77) * u.deg)
    assert_allclose(found.value, expected, atol=tolerance, rtol=0)


# Krisciunas & Schaefer 1991, PASP 103, 1033, eqs. 3, 8/20, 15, 21. The first: documentation of specsim; others:
# specsim and the closed form.
@pytest.mark.parametrize(("zenith_distance", "moon_zenith_distance", "separation", "phase_angle", "k", "expected"), [
    pytest.param(20, 70, 50, 45, 0.15, 19.855), pytest.param(0, 45, 45, 0, 0.172, 18.33),
    pytest.param(60, 30, 90, 0, 0.172, 18.338),
])
def test_moonlight(zenith_distance, moon_zenith_distance, separation, phase_angle, k, expected):
    found = moonlight(
        moon_altitude=(90 - moon_zenith_distance) * u.deg, altitude=(90 - zenith_distance) * u.deg,
        separation=separation * u.deg, phase_angle=phase_angle * u.deg, extinction=k * u.mag)
    assert_allclose(found.to_value(SB), expected, atol=0.001, rtol=0)


def test_moonlight_against_specsim():
    # A second implementation of the same paper, on a random grid with the Moon up. 5e-4 mag: the printed 0.92104 is a
    # rounding of 0.4 ln 10.
    random = np.random.default_rng(1991)
    altitude, moon_altitude = random.uniform(5, 90, (2, 2000)) * u.deg
    separation, phase_angle = random.uniform(10, 180, 2000) * u.deg, random.uniform(0, 180, 2000) * u.deg
    k = random.uniform(0.08, 0.5, 2000)
    found = moonlight(moon_altitude=moon_altitude, altitude=altitude, separation=separation, phase_angle=phase_angle,
                      extinction=k * u.mag)
    expected = krisciunas_schaefer(90 * u.deg - altitude, 90 * u.deg - moon_altitude, separation,
                                   phase_angle.to_value(u.deg) / 180, k)
    assert_allclose(found.to_value(SB), expected.to_value(SB), atol=5e-4, rtol=0)


def test_colour_of_moonlight_against_specsim():
    # specsim scatters a spectrum of the Moon with one extinction law; a white Moon and our law show the air alone.
    # It lets ozone scatter, we do not: 0.25 mag at 600 nm, nothing in the blue.
    wavelength = np.arange(360.0, 801.0, 2.0)
    law = extinction_kernel(wavelength, 2200.0)
    moon = Moon(wavelength * u.nm, np.ones_like(wavelength) * u.erg / (u.s * u.cm**2 * u.Angstrom), law, 1.2,
                50 * u.deg, 60 * u.deg, 0.1)
    altitude = 90 * u.deg - moon.obs_zenith
    at = np.array([366.0, 438.0, 545.0, 641.0, 798.0])
    spectrum = np.interp(at, wavelength, moon.surface_brightness.value)
    expected = -2.5 * np.log10(spectrum / spectrum[2])
    found = moonlight_at(at * u.nm, moon_altitude=40 * u.deg, altitude=altitude, separation=60 * u.deg,
                         phase_angle=18 * u.deg, height=2200 * u.m).value
    air = found - found[2] - np.array([1.38, 0.92, 0.0, -0.53, -1.10])  # the Moon's own colours off
    assert_allclose(air, expected, atol=0.3, rtol=0)
    # Scattered light is bluer than its source: the Moon's B - V is 0.92 (Allen, from memory).
    assert found[1] - found[2] < 0.92


def test_full_moon_against_another_model():
    # Plausibility only: ESO advanced sky model (Noll 2012, A&A 543, A92; Jones 2013, A&A 560, A91), Moon at 45
    # deg, zenith, k 0.12, dark 21.83: V 18.01. The two models differ by 0.56 mag; the opposition surge explains half.
    moon = moonlight(moon_altitude=45 * u.deg, altitude=90 * u.deg, separation=45 * u.deg, phase_angle=0 * u.deg,
                     extinction=0.12 * u.mag)
    assert_allclose(together(moon, 21.83 * SB).value, 18.01, atol=0.6)


# Allen, Astrophysical Quantities, 2nd ed., against eq. 9 of Krisciunas & Schaefer: magnitudes fainter than full.
@pytest.mark.parametrize(("phase_angle", "expected", "tolerance"), [
    pytest.param(90, 2.63, 0.04), pytest.param(120, 3.93, 0.05),
])
def test_magnitude_of_the_moon(phase_angle, expected, tolerance):
    assert_allclose(_moon_dimming(phase_angle) - _moon_dimming(0), expected, atol=tolerance)


def twilight(sun_altitude, *, wavelength):
    """Return the whole sky that the paper measured: the glow and the dark sky of the same place."""
    night = np.interp(wavelength.to_value(u.nm), BAND_NM, DARK_SKIES["Paranal"]) * SB
    return together(twilight_glow(sun_altitude, wavelength=wavelength), night)


# Patat, Ugolnikov & Postylyakov 2006, A&A 455, 385, table 1.
@pytest.mark.parametrize(("sun_altitude", "expected"), [
    pytest.param(-5, 11.84), pytest.param(-10, 18.005),
])
def test_twilight(sun_altitude, expected):
    assert_allclose(twilight(sun_altitude * u.deg, wavelength=545 * u.nm).to_value(SB), expected, atol=0.001)


def test_twilight_in_every_band():
    # Table 1 as above: brightness at 95 and 100 deg of solar zenith distance, a0 and a0 + 5 a1 + 25 a2.
    found = twilight([[-5], [-10]] * u.deg, wavelength=BAND_NM * u.nm).to_value(SB)
    assert_allclose(found[0], [11.78, 11.84, 11.84, 11.40, 10.93], atol=1e-6)
    assert_allclose(found[1], [17.685, 17.870, 18.005, 17.635, 16.730], atol=1e-6)


def test_twilight_ends_before_its_parabola_turns():
    # the V parabola turns over at 108.32 deg; the fit is not for use beyond 105.
    depression = np.linspace(-10, 40, 501)
    assert (np.diff(twilight_glow(-depression * u.deg, wavelength=545 * u.nm).value) >= 0).all()


def test_twilight_slope():
    # table 1, gamma 1.14 mag/deg in V over 95 to 100 deg; the two published fits differ by 0.1.
    ends = twilight([-10, -5] * u.deg, wavelength=545 * u.nm).to_value(SB)
    assert_allclose((ends[0] - ends[1]) / 5, 1.14, atol=0.1)


def test_twilight_joins_the_night():
    # Astronomical twilight ends at 18 deg: the glow is then below 4 % of a dark sky.
    dark = dark_sky(21.9 * SB, wavelength=BAND_NM * u.nm, airmass=1.0, extinction=0 * u.mag)
    assert (10 ** (-0.4 * (twilight_glow(-18 * u.deg, wavelength=BAND_NM * u.nm) - dark).value) < 0.04).all()


def test_sum():
    # 22.0 + 21.0; as much light again is 0.7526 mag.
    assert_allclose(together(22.0 * SB, 21.0 * SB).value, 20.636, atol=0.001)
    assert_allclose((21.0 * SB - together(21.0 * SB, 21.0 * SB)).value, 0.7526, atol=0.0001)


def test_brightening_with_airmass():
    # Benn & Ellison, 0.25 mag brighter at X 1.5; the formula of Patat 2003, f = 0.6, is from memory.
    ends = dark_sky(21.9 * SB, wavelength=545 * u.nm, airmass=np.array([1.0, 1.5]), extinction=0.12 * u.mag).value
    assert_allclose(ends[0] - ends[1], 0.25, atol=0.04)


def test_mean_surface_brightness():
    # V 8.4 over an ellipse of 11 x 7 arcmin.
    found = mean_surface_brightness(8.4 * u.mag, size_major=11 * u.arcmin, size_minor=7 * u.arcmin)
    assert_allclose(found.to_value(SB), 21.745, atol=0.001)
