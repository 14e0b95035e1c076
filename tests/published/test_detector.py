"""The CCD equation against worked examples."""

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import CAMERA
from numpy.testing import assert_allclose

from planner.exposure import signal_needed, signal_to_noise, total_read_noise

E = u.electron


def test_howell_worked_example():
    # Howell, Handbook of CCD Astronomy, sec. 4.4: SNR 152.9 +- 0.3; example and inputs from memory.
    ratio = signal_to_noise(24013 * E, background=(620 + 1.8) * E, read_noise=5 * E, pixels=1)
    assert_allclose(ratio.value, 152.9, atol=0.3)


def test_five_sigma_depth_of_a_survey():
    # LSST LSE-40 eq. 45, SMTN-002, lsst/pipe_tasks tests: 24.90 +- 0.01 mag in g at 0.87 arcsec, 30 s.
    pixels = 2.266 * (0.87 / 0.2) ** 2
    signal = signal_needed(5, background=463.6 * E, read_noise=12.73 * E, pixels=pixels)
    assert_allclose(28.508375 - 2.5 * np.log10(signal.value / 30), 24.90, atol=0.01)
    # and back again through the equation itself
    assert_allclose(signal_to_noise(signal, background=463.6 * E, read_noise=12.73 * E, pixels=pixels).value, 5)


def test_quantisation_noise():
    # Merline & Howell (1995), Exp. Astron. 6, 163: rounding error 0.289 ADU (printed value from memory).
    from dataclasses import replace

    coarse = replace(CAMERA, read_noise=0 * E, gain=10 * E / u.adu)
    assert_allclose(total_read_noise(coarse).to_value(E) / 10, 0.2887, atol=1e-4)
    # An independent route: the rms of a uniform ramp after rounding.
    ramp = np.linspace(0, 100, 1_000_001)
    assert_allclose(total_read_noise(coarse).to_value(E) / 10, np.std(np.round(ramp) - ramp), rtol=1e-3)


def test_stack_gain():
    # 36 equal frames: 6 times one frame.
    one = signal_to_noise(10 * E, background=50 * E, read_noise=3 * E)
    stack = signal_to_noise(10 * E, background=50 * E, read_noise=3 * E, frames=36)
    assert_allclose((stack / one).value, 6, rtol=1e-12)


@pytest.mark.parametrize(("fwhm", "area", "share"), [
    # noise-equivalent area [pix] of a pixel-integrated Gaussian, 4 pi (sigma2 + 1/12), and its
    # background-limited SNR relative to ideal sampling.
    pytest.param(1.0, 3.31337762211, 0.820),
    pytest.param(1.5, 6.146102710752, 0.909),
    pytest.param(3.0, 21.44281818942, 0.975),
])
def test_background_limited_loss_by_coarse_pixels(fwhm, area, share):
    faint, sky = 1e-3 * E, 1e4 * E
    ideal = signal_to_noise(faint, background=sky, read_noise=0 * E, pixels=2.266 * fwhm**2)
    sampled = signal_to_noise(faint, background=sky, read_noise=0 * E, pixels=area)
    assert_allclose((sampled / ideal).value, share, atol=0.015)


def test_best_aperture_of_a_gaussian_star():
    # background-limited, the best aperture is 0.673 FWHM in radius, encloses 0.715 of the light, and reaches
    # 0.903 of the optimal fit (noise-equivalent area 2.266 FWHM2, King 1983, PASP 95, 163).
    radius = np.linspace(0.3, 1.5, 4001)
    enclosed = 1 - np.exp(-(radius**2) / 2 * 2.354820045**2)
    faint, sky = 1e-4, 1e6 * E
    ratio = signal_to_noise(faint * enclosed * E, background=sky, read_noise=0 * E, pixels=np.pi * radius**2 * 100)
    best = np.argmax(ratio)
    assert_allclose(radius[best], 0.673, atol=0.001)
    assert_allclose(enclosed[best], 0.715, atol=0.001)
    optimal = signal_to_noise(faint * E, background=sky, read_noise=0 * E, pixels=2.266 * 100)
    assert_allclose((ratio[best] / optimal).value, 0.903, atol=0.001)
