"""Sky brightness and its parts: edges, shapes, joins, refusals."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose
from sky.lights import SB, dark_sky, moonlight_at, together, twilight_glow

from planner.errors import InvalidInputError
from planner.sky import extinction, moonlight, sky_brightness
from planner.sky.airmass import scattering_airmass_kernel
from planner.sky.total import _sky_brightness

NO_LIGHT = np.inf * SB
MOON = {"moon_altitude": 40 * u.deg, "separation": 60 * u.deg, "phase_angle": 20 * u.deg}
PLACE = {"zenith_brightness": 21.4 * SB, "altitude": 55 * u.deg, "height": 900 * u.m}


def whole_moon(altitude=40.0, separation=60.0, phase_angle=20.0):
    return {"moon_altitude": altitude * u.deg, "moon_separation": separation * u.deg,
            "moon_phase_angle": phase_angle * u.deg}


def test_nothing_adds_nothing():
    assert together(21.0 * SB, NO_LIGHT).value == pytest.approx(21.0)
    assert together(NO_LIGHT, NO_LIGHT) == NO_LIGHT
    assert together(21.0 * SB, [20, 21, 22] * SB).shape == (3,)


def test_the_sum_is_the_sum_of_its_parts():
    wavelength = [380, 450, 545, 656, 900] * u.nm
    dark = dark_sky(PLACE["zenith_brightness"], wavelength=wavelength, airmass=scattering_airmass_kernel(55.0),
                    extinction=extinction(wavelength, height=PLACE["height"]))
    moon = moonlight_at(wavelength, altitude=PLACE["altitude"], height=PLACE["height"], **MOON)
    glow = twilight_glow(-14 * u.deg, wavelength=wavelength)
    found = sky_brightness(**PLACE, wavelength=wavelength, **whole_moon(), sun_altitude=-14 * u.deg)
    assert_allclose(found.value, together(dark, moon, glow).value, rtol=1e-12)
    assert_allclose(sky_brightness(**PLACE, wavelength=wavelength).value, dark.value, rtol=1e-12)


def test_moonlight_in_v_is_the_published_formula():
    moon = moonlight(altitude=55 * u.deg, extinction=extinction(545 * u.nm, height=900 * u.m), **MOON)
    at_v = moonlight_at(545 * u.nm, altitude=55 * u.deg, height=900 * u.m, **MOON)
    assert_allclose(at_v.value, moon.value, rtol=1e-12)


def test_a_moon_that_is_down_gives_no_light():
    for altitude in (0, -0.001, -90):
        moon = moonlight(**MOON | {"moon_altitude": altitude * u.deg}, altitude=30 * u.deg, extinction=0.15 * u.mag)
        assert moon == NO_LIGHT
    without = sky_brightness(**PLACE, wavelength=545 * u.nm)
    assert sky_brightness(**PLACE, wavelength=545 * u.nm, **whole_moon(altitude=-1)) == without


def test_the_moons_own_airmass_counts():
    # A trap: with the target's airmass in its place a low Moon would be as bright as a high one.
    low, high = (moonlight(**MOON | {"moon_altitude": altitude * u.deg}, altitude=60 * u.deg, extinction=0.3 * u.mag)
                 for altitude in (5, 80))
    expected = 0.3 * (scattering_airmass_kernel(5.0) - scattering_airmass_kernel(80.0))
    assert_allclose((low - high).value, expected, rtol=1e-9)


def test_close_to_the_moon():
    separation = np.array([0, 0.26, 1, 5, 8.6, 9.99, 10, 10.01, 20])
    found = moonlight(**MOON | {"separation": separation * u.deg}, altitude=45 * u.deg, extinction=0.15 * u.mag).value
    assert np.isfinite(found).all()
    assert (np.diff(found) >= 0).all()
    assert found[7] - found[5] < 0.01  # the two laws join without a step


def test_below_the_horizon_is_not_a_sky():
    assert np.isnan(sky_brightness(**PLACE | {"altitude": -1 * u.deg}, wavelength=545 * u.nm).value)
    moon = moonlight(**MOON, altitude=-1 * u.deg, extinction=0.1 * u.mag)
    assert np.isnan(moon.value)
    assert np.isfinite(sky_brightness(**PLACE | {"altitude": 0 * u.deg}, wavelength=545 * u.nm).value)


@pytest.mark.parametrize("wavelength_nm", [299, 1101])
def test_outside_the_tables_is_not_a_number(wavelength_nm):
    for sky in (
        sky_brightness(**PLACE, wavelength=wavelength_nm * u.nm, **whole_moon(), sun_altitude=-8 * u.deg),
        twilight_glow(-8 * u.deg, wavelength=wavelength_nm * u.nm),
        dark_sky(21 * SB, wavelength=wavelength_nm * u.nm, airmass=1.0, extinction=0 * u.mag),
    ):
        assert np.isnan(sky.value)


def test_daylight_is_of_the_right_order():
    # Clear blue sky: some 2000 to 8000 cd/m2 (common practice, no source), 4.3 to 2.8 mag/arcsec2.
    assert 2.8 < twilight_glow(40 * u.deg, wavelength=545 * u.nm).value < 4.4
    assert twilight_glow(40 * u.deg, wavelength=545 * u.nm) == twilight_glow(0 * u.deg, wavelength=545 * u.nm)


def test_everything_broadcasts():
    found = sky_brightness(
        zenith_brightness=21 * SB, wavelength=np.array([450, 545.0])[:, None, None] * u.nm,
        altitude=np.linspace(20, 80, 3)[:, None] * u.deg, height=0 * u.m, **whole_moon(altitude=np.linspace(-5, 50, 4)),
        sun_altitude=np.linspace(-20, -12, 4) * u.deg)
    assert found.shape == (2, 3, 4)
    assert np.isfinite(found.value).all()


def test_the_kernel_is_the_public_function():
    found = _sky_brightness(21.4, 600.0, 55.0, 900.0, 40.0, 60.0, 20.0, -13.0)
    public = sky_brightness(**PLACE, wavelength=600 * u.nm, **whole_moon(), sun_altitude=-13 * u.deg)
    assert found == public.value


def test_part_of_a_moon_is_refused():
    with pytest.raises(InvalidInputError, match=r"moon = altitude only: needs altitude, separation and phase angle"):
        sky_brightness(**PLACE, wavelength=545 * u.nm, moon_altitude=30 * u.deg)


def test_a_bare_number_is_refused():
    with pytest.raises(TypeError, match="altitude"):
        sky_brightness(zenith_brightness=21 * SB, wavelength=545 * u.nm, altitude=40, height=0 * u.m)
