"""What motion adds to the width of a star: variances from `exposure_motion` on a Gaussian star."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.constants import FWHM_PER_SIGMA
from planner.tracking import exposure_motion, motion_budget, sidereal_rate, smooth_track

EXPOSURE = 600 * u.s
STILL = {"latitude": 45 * u.deg, "declination": 0 * u.deg, "pressure": 0 * u.hPa}


def still_track(**errors):
    return smooth_track(**STILL, hour_angle=np.linspace(0, 5, 11) * u.deg, **errors)


def motion(track, **drive):
    return exposure_motion(track, duration=[EXPOSURE.value] * u.s, hour_angle=[1] * u.deg, **drive)


def sigma(fwhm, variance):
    return np.sqrt((fwhm / FWHM_PER_SIGMA) ** 2 + np.squeeze(variance.to_value(u.arcsec**2)))


@pytest.mark.parametrize(("length", "expected"), [pytest.param(1, 1.3063), pytest.param(3, 1.5405)])
def test_uniform_trail(length, expected):
    # Variance of a uniform line L^2/12 added to sigma^2; tolerance of the rows.
    speed = (length * u.arcsec / EXPOSURE / sidereal_rate()).to_value(u.one)
    moved = motion(still_track(rate_error_ppm=speed * 1e6), phases=1)
    assert_allclose(sigma(3, moved.variance_major), expected, atol=5e-4)
    assert_allclose(moved.excess_kurtosis, -1.2, atol=1e-3)  # of a uniform distribution


def test_periodic_error_over_whole_turns():
    # time average of A^2 sin^2 is A^2/2: FWHM 3, A 1, many whole turns. Tolerance of the row.
    moved = motion(still_track(), periods=[EXPOSURE.value / 12] * u.s, amplitudes=[1] * u.arcsec)
    assert_allclose(sigma(3, moved.variance_major), 1.4571, atol=5e-4)
    assert_allclose(moved.excess_kurtosis, -1.5, atol=1e-6)  # of a sinusoid


def test_rms_of_a_periodic_error():
    # 20 arcsec peak to peak is 7.0711 rms. Tolerance of the row.
    budget = motion_budget(**STILL, hour_angle=[0] * u.deg, duration=EXPOSURE, periods=[60] * u.s,
                           amplitudes=[10] * u.arcsec)
    rms = {(term.term, term.axis): term.rms.to_value(u.arcsec) for term in budget}
    assert_allclose(rms["periodic error", "ra"], 7.0711, atol=1e-4)
    assert rms["periodic error", "dec"] == 0


def test_jitter_widens():
    # sqrt(F0^2 + (2.3548 rms)^2), F0 2.5, rms 0.8 per axis. Tolerance of the row (a Monte Carlo).
    moved = motion(still_track(), jitter=0.8 * u.arcsec)
    assert_allclose(FWHM_PER_SIGMA * sigma(2.5, moved.variance_major), 3.1309, atol=6e-3)
    assert_allclose(FWHM_PER_SIGMA * sigma(2.5, moved.variance_minor), 3.1309, atol=6e-3)


def test_unequal_axes():
    # axis ratio of combined sigmas, RA rms 1.2, Dec rms 0.5, F0 2.5. Tolerance of the row.
    moved = motion(still_track(), jitter=[1.2, 0.5] * u.arcsec)
    ratio = sigma(2.5, moved.variance_minor) / sigma(2.5, moved.variance_major)
    assert_allclose(ratio, 0.7324, atol=2e-3)
    assert_allclose(moved.position_angle.to_value(u.deg), 90)
