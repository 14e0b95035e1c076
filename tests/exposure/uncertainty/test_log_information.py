"""What a log can tell, against logs made and fitted here."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import PERFECT_MOUNT, WORM_MOUNT

from planner.exposure.uncertainty.log_information import log_errors
from planner.rig import PeriodicTerm

TERM = PeriodicTerm(period=300 * u.s, amplitude=4 * u.arcsec)
WHERE = {"hour_angle": 0 * u.deg, "latitude": 45 * u.deg}


def fitted(minutes, noise, walk, count=400):
    """Return fits of start, rate, cosine and sine to made rows of 2 s: (count, 4), generalised least squares."""
    random = np.random.default_rng(3)
    time = np.arange(1, minutes * 30 + 1) / 30.0  # min
    design = np.stack([np.ones_like(time), time, *(wave(2 * np.pi * time / 5) for wave in (np.cos, np.sin))], axis=1)
    covariance = noise**2 * np.eye(time.size) + walk**2 * np.minimum.outer(time, time)
    path = walk * np.cumsum(random.normal(0, np.sqrt(1 / 30), (count, time.size)), axis=1)
    rows = design @ [0, 0, 4, 0] + path + random.normal(0, noise, path.shape)
    shape = np.linalg.inv(np.linalg.cholesky(covariance))
    return np.linalg.lstsq(shape @ design, shape @ rows.T, rcond=None)[0].T


@pytest.mark.parametrize("minutes", [10, 20])
@pytest.mark.parametrize("walk", [0.0, 0.4])
def test_amplitude_and_drift_scatter_as_said(minutes, walk):
    mount = replace(PERFECT_MOUNT, periodic=(TERM,), jitter=0.4 * u.arcsec, wander=walk * u.arcsec / u.min**0.5)
    errors = log_errors(mount, minutes, air_rms=0.3 * u.arcsec, **WHERE)
    found = fitted(minutes, 0.5, walk)
    assert errors.amplitudes[0] * 4 == pytest.approx(np.sqrt(found[:, 2:].var(axis=0).mean()), rel=0.15)
    still = replace(mount, periodic=())
    assert log_errors(still, minutes, air_rms=0.3 * u.arcsec, **WHERE).drift <= found[:, 1].std() * 1.1


def test_a_log_much_shorter_than_a_period_tells_little_of_it():
    mount = replace(PERFECT_MOUNT, periodic=(replace(TERM, period=4000 * u.s),), jitter=0.5 * u.arcsec)
    short, long = (log_errors(mount, minutes, air_rms=0.3 * u.arcsec, **WHERE).amplitudes[0] for minutes in (10, 120))
    assert short > 5 * long


def test_noises_are_known_as_their_likelihood_says():
    # A walk alone, no air: the relative error of its size from n independent steps on two axes is 1/sqrt(4 n).
    mount = replace(PERFECT_MOUNT, wander=1 * u.arcsec / u.min**0.5)
    errors = log_errors(mount, 4, air_rms=1e-4 * u.arcsec, **WHERE)
    assert errors.wander == pytest.approx(1 / np.sqrt(4 * 120), rel=0.03)
    assert errors.jitter == np.inf


def test_the_airs_motion_hides_the_mounts_jitter():
    mount = replace(WORM_MOUNT, jitter=0.1 * u.arcsec)
    hidden, plain = (log_errors(mount, 60, air_rms=air * u.arcsec, **WHERE).jitter for air in (0.5, 0.02))
    assert hidden > 1 > plain


def test_the_drift_of_an_axis_off_in_azimuth_on_the_meridian():
    # Textbook: an axis 1 arcmin off in azimuth drifts a star on the meridian by 15.04"/s x 1' x cos(latitude).
    slopes = log_errors(PERFECT_MOUNT, 10, air_rms=0.3 * u.arcsec, **WHERE).drift_per_arcmin
    assert slopes[0] == pytest.approx(0, abs=1e-12)
    assert slopes[1] == pytest.approx(15.041 * 60 * np.radians(1 / 60) * np.cos(np.radians(45)), rel=1e-3)
