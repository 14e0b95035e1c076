"""The CCD equation at its edges."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import CAMERA
from numpy.testing import assert_allclose

from planner.exposure import PIXEL_RATE, dark_rate, signal_needed, signal_to_noise, total_read_noise

E = u.electron


def test_dark_current_doubles():
    warm = replace(CAMERA, sensor_temperature=8 * u.deg_C, dark_temperature=-10 * u.deg_C, dark_doubling=6 * u.K)
    assert_allclose(dark_rate(warm).to_value(PIXEL_RATE), 0.002 * 8)
    assert_allclose(dark_rate(CAMERA, binning=2).to_value(PIXEL_RATE), 0.002 * 4)


def test_read_noise_adds_per_pixel_when_binned():
    assert_allclose(total_read_noise(CAMERA, binning=3).value / total_read_noise(CAMERA).value, 3)


def test_charges_added_on_the_sensor_are_read_once():
    # Howell (2006), eq. 4.4, over four pixels: N*/sqrt(N* + n (N_S + N_D) + reads x N_R^2), one read instead of four.
    ccd = replace(CAMERA, read_noise=9 * E, full_well=40000 * E, register_well=90000 * E, gain=1e-3 * E / u.adu)
    star, sky, seconds = 120.0, 5.0, 600.0
    for camera, pixels, binning, reads in ((ccd.binned(2), 1, 1, 1), (ccd, 4, 1, 4), (ccd, 1, 2, 4)):
        background = 4 / pixels * sky * E + dark_rate(camera, binning=binning) * seconds * u.s * u.pix
        ours = signal_to_noise(star * E, background=background, pixels=pixels,
                               read_noise=total_read_noise(camera, binning=binning))
        assert_allclose(ours.value, star / np.sqrt(star + 4 * (sky + 0.002 * seconds) + reads * 81), rtol=1e-6)
    # Four wells of 40,000 do not fit into the register, nor two into a small one.
    assert [replace(ccd, register_well=well * E).binned(2).full_well.value for well in (9e4, 2e5)] == [9e4, 1.6e5]


def test_noise_of_a_simulated_stack():
    # Independent route: Poisson and Gaussian draws, the star's frames added up; 2 % for 40,000 stacks.
    rng = np.random.default_rng(5)
    frames, pixels, stacks = 4, 9, 40000
    signal, background, read = 90.0, 12.0, 3.0
    counts = rng.poisson(signal + pixels * background, (stacks, frames)).sum(axis=1)
    reads = rng.normal(0, read, (stacks, frames * pixels)).sum(axis=1)
    measured = (counts + reads - frames * pixels * background).mean() / np.std(counts + reads)
    ours = signal_to_noise(signal * E, background=background * E, read_noise=read * E, pixels=pixels, frames=frames)
    assert_allclose(ours.value, measured, rtol=0.02)


def test_background_measured_in_few_pixels_costs():
    few = signal_to_noise(50 * E, background=100 * E, read_noise=5 * E, pixels=10, background_pixels=10)
    known = signal_to_noise(50 * E, background=100 * E, read_noise=5 * E, pixels=10)
    assert_allclose((known / few).value, np.sqrt((50 + 20 * 125) / (50 + 10 * 125)))


def test_no_signal_is_zero_and_no_noise_is_not_an_error():
    assert signal_to_noise(0 * E, background=0 * E, read_noise=0 * E).value == 0


@pytest.mark.parametrize("wanted", [0.1, 5, 300])
def test_signal_needed_inverts(wanted):
    signal = signal_needed(wanted, background=70 * E, read_noise=4 * E, pixels=12, background_pixels=90)
    back = signal_to_noise(signal, background=70 * E, read_noise=4 * E, pixels=12, background_pixels=90)
    assert_allclose(back.value, wanted)


def test_wrong_unit_is_refused():
    with pytest.raises(u.UnitsError):
        signal_to_noise(5 * u.s, background=1 * E, read_noise=1 * E)
