"""Total time and its inverses against each other and against the CCD equation written out."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.parts import recommend_sub_exposure, signal_to_noise_after
from exposure.rigs import GREEN, HYDROGEN, PERFECT_MOUNT, SHAKEN_MOUNT, SITE, rig
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.exposure import faintest_brightness, faintest_line, integration_time, observing_scene

MAG = u.mag / u.arcsec**2
MOUNT = replace(PERFECT_MOUNT, rate="model")


def plan_of(one=None, band=GREEN, **source):
    scene = observing_scene(one or rig(mount=MOUNT), SITE, band, declination=40 * u.deg,
                            hour_angle=np.linspace(-3, 3, 13) * u.hourangle, **source)
    return scene, recommend_sub_exposure(scene)


def test_time_for_a_surface_written_out():
    scene, sub = plan_of(brightness=24 * MAG)
    plan = integration_time(scene, sub, signal_to_noise=5)
    t = sub.recommended.value
    signal, background = scene.signal_rate.value * t, (scene.sky_rate + scene.dark_rate).value * t
    one = signal / np.sqrt(signal + background + 1.5**2 + 0.8**2 / 12)
    good = (5 / one) ** 2
    survives = np.exp(-t / 10800)
    assert plan.frames == int(np.ceil(good / survives))
    assert_allclose(plan.clock_time.to_value(u.s), plan.frames * (t + 2) * (1 + 10 / 600))
    assert_allclose(plan.integration_time.to_value(u.s), plan.frames * t)
    assert 5 <= plan.signal_to_noise < 5 * np.sqrt((plan.frames + 1) / plan.frames)


def test_time_for_a_star_written_out():
    # Horne (1986), PASP 98, 609: a star weighted by its profile has the noise of its noise-equivalent area of sky.
    scene, sub = plan_of(brightness=24 * MAG)
    light, spread = 25 * u.arcsec**2, 12 * u.arcsec**2
    plan = integration_time(scene, sub, signal_to_noise=5, area=light, spread=spread)
    t, pixel = sub.recommended.value, scene.light.pixel_area.value
    signal = scene.signal_rate.value * t * light.value / pixel
    noise = (scene.sky_rate + scene.dark_rate).value * t + 1.5**2 + 0.8**2 / 12
    one = signal / np.sqrt(signal + noise * spread.value / pixel)
    assert plan.frames == int(np.ceil((5 / one) ** 2 / np.exp(-t / 10800)))


def test_one_frame_less_is_not_enough():
    scene, sub = plan_of(brightness=25 * MAG)
    plan = integration_time(scene, sub, signal_to_noise=10)
    shorter = plan.clock_time - (sub.recommended + scene.rig.overhead(sub.recommended))
    assert signal_to_noise_after(scene, sub, clock_time=plan.clock_time).signal_to_noise >= 10
    assert signal_to_noise_after(scene, sub, clock_time=shorter).signal_to_noise < 10


@pytest.mark.parametrize("area", [None, 25 * u.arcsec**2])
def test_faintest_surface_inverts(area):
    scene, sub = plan_of()
    faintest = faintest_brightness(scene, sub, signal_to_noise=3, clock_time=4 * u.h, area=area)
    again, _ = plan_of(brightness=faintest)
    reached = signal_to_noise_after(again, sub, clock_time=4 * u.h, area=area)
    assert_allclose(reached.signal_to_noise, 3, rtol=1e-9)


def test_faintest_line_inverts():
    scene, sub = plan_of(band=HYDROGEN)
    faintest = faintest_line(scene, sub, signal_to_noise=5, clock_time=2 * u.h, wavelength=656.28 * u.nm)
    again, _ = plan_of(band=HYDROGEN, line=faintest, line_wavelength=656.28 * u.nm)
    assert_allclose(signal_to_noise_after(again, sub, clock_time=2 * u.h).signal_to_noise, 5, rtol=1e-9)
    assert faintest_line(scene, sub, signal_to_noise=5, clock_time=2 * u.h, wavelength=500.7 * u.nm).value == np.inf


def test_an_area_averages_its_pixels():
    scene, sub = plan_of(brightness=25 * MAG)
    area = 100 * scene.light.pixel_area * u.pix
    one = signal_to_noise_after(scene, sub, clock_time=1 * u.h)
    many = signal_to_noise_after(scene, sub, clock_time=1 * u.h, area=area)
    assert_allclose(many.signal_to_noise / one.signal_to_noise, 10)


def test_an_area_on_a_colour_sensor_counts_its_own_pixels():
    mono, sub = plan_of(brightness=25 * MAG)
    colour, _ = plan_of(rig(mount=MOUNT, camera__colour="bayer"), brightness=25 * MAG)
    area = 100 * u.arcsec**2
    half = (signal_to_noise_after(colour, sub, clock_time=1 * u.h, area=area).signal_to_noise
            / signal_to_noise_after(mono, sub, clock_time=1 * u.h, area=area).signal_to_noise)
    # By hand: half of the pixels are green, and the dye takes a fifth of this filter's box (501 to 589 nm); what blue
    # and red pixels see of it brings less than a tenth more.
    assert np.sqrt(0.5 * 0.75) < half < np.sqrt(0.6 * 0.9)


def test_four_times_the_time_is_twice_the_ratio():
    scene, sub = plan_of(brightness=26 * MAG)
    cycle = sub.recommended + scene.rig.overhead(sub.recommended)
    one, four = (signal_to_noise_after(scene, sub, clock_time=n * cycle).signal_to_noise for n in (10, 40))
    assert_allclose(four / one, 2)


def test_line_and_continuum_add():
    both, _ = plan_of(band=HYDROGEN, line=20 * u.R, brightness=24 * MAG)
    line, _ = plan_of(band=HYDROGEN, line=20 * u.R)
    surface, _ = plan_of(band=HYDROGEN, brightness=24 * MAG)
    assert_allclose(both.signal_rate.value, (line.signal_rate + surface.signal_rate).value)


def test_time_too_short_for_a_frame_is_an_answer():
    scene, sub = plan_of(brightness=20 * MAG)
    assert signal_to_noise_after(scene, sub, clock_time=1 * u.s).signal_to_noise == 0
    assert faintest_brightness(scene, sub, signal_to_noise=3, clock_time=1 * u.s).value == -np.inf


def test_what_cannot_be_answered_is_refused_in_one_line():
    scene, sub = plan_of()
    with pytest.raises(InvalidInputError, match="must be more than 0 for an integration time"):
        integration_time(scene, sub, signal_to_noise=5)
    with pytest.raises(InvalidInputError, match=r"signal_to_noise = -1: must be more than 0"):
        faintest_brightness(scene, sub, signal_to_noise=-1, clock_time=1 * u.h)
    lost, none = plan_of(rig(mount=SHAKEN_MOUNT), brightness=20 * MAG)
    with pytest.raises(InvalidInputError, match="no sub-exposure of this rig stays round"):
        integration_time(lost, none, signal_to_noise=5)
