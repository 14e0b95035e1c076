"""Least squares under wander and jitter, against dense matrices and simulated noise."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from planner.measure.drift.fit.wander_noise import Differences, Regression, averaged, deletion_residuals

TIMES = np.sort(np.random.default_rng(4).uniform(0, 1000, 60))


def dense(ratio):
    """Return the differencing matrix and the covariance of differences, written out."""
    step = np.diff(np.eye(TIMES.size), axis=0)
    return step, step @ step.T + np.diag(ratio * np.diff(TIMES) / np.diff(TIMES).mean())


@pytest.mark.parametrize("ratio", [1e-3, 0.3, 50.0])
def test_fit_equals_dense_generalised_least_squares(ratio):
    rng = np.random.default_rng(1)
    y, columns = rng.normal(size=59), rng.normal(size=(59, 3))
    _, covariance = dense(ratio)
    inverse = np.linalg.inv(covariance)
    expected = np.linalg.solve(columns.T @ inverse @ columns, columns.T @ inverse @ y)
    fit = Regression(Differences(TIMES), y, columns).fit(ratio)
    assert_allclose(fit.coefficients, expected, rtol=1e-9)
    assert_allclose(fit.log_determinant, np.linalg.slogdet(covariance)[1], rtol=1e-12)
    rest = y - columns @ expected
    assert_allclose(fit.squares, rest @ inverse @ rest, rtol=1e-6)


@pytest.mark.parametrize("ratio", [1e-3, 0.3, 50.0])
def test_deletion_residuals_equal_dense_ones(ratio):
    step, covariance = dense(ratio)
    y = np.random.default_rng(2).normal(size=59)
    precision = step.T @ np.linalg.solve(covariance, step)
    expected = step.T @ np.linalg.solve(covariance, y) / np.sqrt(np.diag(precision))
    assert_allclose(deletion_residuals(Differences(TIMES), ratio, y), expected, rtol=1e-8)


@pytest.mark.parametrize(("jitter", "wander"), [(0.5, 0.14), (0.2, 0.45), (1.0, 0.05)])
def test_wander_and_jitter_are_told_apart(jitter, wander):
    # Means over 60 logs of 300 rows: the spread of one is about a tenth, so 5 % tests for bias; the weakest walk, whose
    # share is a tenth of the white noise over the log, may be overstated by a quarter (it cannot be negative).
    found = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        time = np.cumsum(rng.uniform(1, 3, 300))
        walk = np.cumsum(wander * np.sqrt(np.diff(time, prepend=time[0])) * rng.normal(size=300))
        fit = averaged(Differences(time), np.diff(walk + jitter * rng.normal(size=300)), np.diff(time)[:, None])
        found.append((fit.jitter_arcsec, fit.wander_arcsec_per_root_s))
    mean = np.mean(found, axis=0)
    assert mean[0] == pytest.approx(jitter, rel=0.05 if jitter > wander else 0.4)
    assert mean[1] == pytest.approx(wander, rel=0.05 if wander > 0.1 else 0.3)


def test_no_wander_reads_as_none():
    # White noise alone: zero lies within one error as often as an error holds, not one and a half errors away.
    found = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        fit = averaged(Differences(2.0 * np.arange(300)), np.diff(rng.normal(size=300)), np.full((299, 1), 2.0))
        found.append(fit.wander_arcsec_per_root_s < fit.wander_error_arcsec_per_root_s)
    assert 0.5 < np.mean(found) < 0.9


def test_a_hidden_wander_lies_below_its_bound():
    # Walks that add half of and one and a half times the white noise over a whole log: 95 % is what is stated.
    for walk in (0.02, 0.06):
        below = []
        for seed in range(60):
            rng = np.random.default_rng(seed)
            values = rng.normal(size=300) + walk * np.sqrt(2) * np.cumsum(rng.normal(size=300))
            fit = averaged(Differences(2.0 * np.arange(300)), np.diff(values), np.full((299, 1), 2.0))
            below.append(walk < fit.wander_bound_arcsec_per_root_s)
        assert np.mean(below) >= 0.88


def test_the_most_likely_ratio_is_that_of_all():
    # Trying every fourth ratio and then closer by is right only if the likelihood has one peak: logs of all kinds.
    rng = np.random.default_rng(8)
    for walk in (0.0, 0.01, 0.1, 1.0, 30.0):
        time = np.cumsum(rng.uniform(1, 5, 300))
        values = rng.normal(size=300) + np.cumsum(rng.normal(size=300)) * walk
        differences = Differences(time)
        line = Regression(differences, np.diff(values), np.diff(time)[:, None])
        likelihoods = [fit.likelihood(differences.count) for fit in line.all()]
        assert line.place() == np.argmax(likelihoods)
