"""Rates: units, shapes, edges, independent routes."""

import numpy as np
import pytest
from astropy import units as u
from exposure.parts import photon_zero_point
from exposure.rigs import GREEN, HYDROGEN, SITE, light_path, rig
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.exposure import PIXEL_RATE
from planner.rig import Filter
from planner.sky import extinction, sky_brightness

MAG = u.mag / u.arcsec**2
RATE = u.electron / u.s
LUMINANCE = Filter(name="luminance", centre=550 * u.nm, width=300 * u.nm, transmission=0.95)


@pytest.mark.parametrize("band", [GREEN, HYDROGEN, LUMINANCE], ids=lambda band: band.name)
@pytest.mark.parametrize("airmass", [0.0, 1.5])
def test_star_rate_is_the_integral_over_the_box(band, airmass):
    # Independent route: a fine trapezoid over the box, factor by factor.
    one = rig()
    edges = band.centre + np.linspace(-0.5, 0.5, 20001) * band.width
    air = 10 ** (-0.4 * airmass * extinction(edges, height=SITE.height).to_value(u.mag))
    photons = np.trapezoid(photon_zero_point(edges) * air, edges)
    expected = (photons * np.pi / 4 * (20 * u.cm) ** 2 * (1 - 0.3**2) * 0.85 * band.transmission * 0.8
                * 10 ** (-0.4 * 10)).to_value(u.photon / u.s)
    rate = light_path(one, band).star(10 * u.mag, airmass=airmass)
    # 0.1 %: 7 Gauss-Legendre nodes across 300 nm, where the ozone band is a broken line.
    assert_allclose(rate.to_value(RATE), expected, rtol=1e-3)


def test_zero_point_beyond_the_bands_is_smooth_and_falls():
    flux = photon_zero_point(np.linspace(300, 1100, 801) * u.nm).value
    assert_allclose(flux[:61], 756.1)  # held below U
    assert np.all(np.diff(flux[140:]) < 0)
    assert np.abs(np.diff(np.log(flux))).max() < 0.02  # no jump from one nanometre to the next


def test_line_rate_of_one_rayleigh():
    # 1 R = 1e6/4pi photon / (s cm2 sr) (definition), by hand: area x pixel x efficiency.
    one = rig()
    steradian = (3.8e-3 / 1000) ** 2
    expected = 1e6 / (4 * np.pi) * steradian * np.pi / 4 * 20**2 * (1 - 0.09) * 0.85 * 0.9 * 0.8
    assert_allclose(light_path(one, HYDROGEN).line(1 * u.R).to_value(PIXEL_RATE), expected, rtol=1e-9)


def test_line_rate_in_rayleigh_and_in_erg_agree():
    # 1 R at H alpha is 5.67e-18 erg/s/cm2/arcsec2 (standard conversion of H alpha surveys, from memory).
    one = rig()
    in_erg = light_path(one, HYDROGEN).line(5.67e-18 * u.erg / (u.s * u.cm**2 * u.arcsec**2))
    assert_allclose(in_erg.value, light_path(one, HYDROGEN).line(1 * u.R).value, rtol=3e-3)


def test_line_outside_the_box_brings_nothing():
    assert light_path(rig(), HYDROGEN).line(100 * u.R, wavelength=500.7 * u.nm).value == 0
    assert light_path(rig(), HYDROGEN).line(100 * u.R, wavelength=658.4 * u.nm).value > 0


def test_line_of_the_wrong_kind_is_refused():
    with pytest.raises(InvalidInputError, match=r"line intensity = 3.0 mag: must be in rayleigh"):
        light_path(rig(), HYDROGEN).line(3 * u.mag)


def test_bare_number_is_refused():
    with pytest.raises(TypeError):
        light_path().star(10)


def test_binning_collects_area():
    assert_allclose((light_path(rig(binning=3)).pixel_area / light_path().pixel_area).value, 9)
    ratio = light_path(rig(binning=2)).surface(21 * MAG) / light_path().surface(21 * MAG)
    assert_allclose(ratio.value, 4)


def test_shapes_broadcast():
    rates = light_path().star(np.array([8, 9, 10]) * u.mag, airmass=np.array([[1.0], [2.0]]))
    assert rates.shape == (2, 3)
    assert np.all(rates[1] < rates[0])


def test_sky_rate_is_the_sky_brightness_through_the_filter():
    one = rig()
    altitude = np.array([30, 60, 90]) * u.deg
    moon = {"moon_altitude": 40 * u.deg, "moon_separation": 60 * u.deg, "moon_phase_angle": 30 * u.deg}
    rate = light_path(one, HYDROGEN).sky(altitude=altitude, **moon)
    brightness = sky_brightness(zenith_brightness=SITE.sky_brightness, wavelength=HYDROGEN.centre, altitude=altitude,
                                height=SITE.height, **moon)
    # A narrow filter: its centre stands for the box; no extinction again, the sky is seen from the ground.
    assert_allclose(rate.value, light_path(one, HYDROGEN).surface(brightness).value, rtol=5e-3)


def test_moon_down_is_no_moon():
    down = light_path().sky(altitude=60 * u.deg, moon_altitude=-5 * u.deg, moon_separation=90 * u.deg,
                             moon_phase_angle=0 * u.deg)
    assert_allclose(down.value, light_path().sky(altitude=60 * u.deg).value)


def test_narrow_band_hides_the_full_moon():
    def loss(band):
        moon = {"moon_altitude": 50 * u.deg, "moon_separation": 60 * u.deg, "moon_phase_angle": 5 * u.deg}
        dark = light_path(rig(), band).sky(altitude=60 * u.deg)
        return (light_path(rig(), band).sky(altitude=60 * u.deg, **moon) - dark).value
    assert loss(HYDROGEN) < 0.06 * loss(LUMINANCE)


def test_box_beyond_the_tables_still_answers():
    infrared = Filter(name="infrared", centre=1050 * u.nm, width=300 * u.nm)
    assert light_path(rig(), infrared).star(10 * u.mag, airmass=1.0).value > 0
    assert light_path(rig(), infrared).sky(altitude=60 * u.deg).value > 0
