"""How sure: the draws, the odds they give, and the worth of a measurement acted on."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import FRICTION_MOUNT, GREEN, GUIDER, PERFECT_MOUNT, SITE, WORM_MOUNT, rig
from numpy.testing import assert_allclose

from planner.exposure import observing_scene
from planner.exposure.guide_need import guide_need
from planner.exposure.uncertainty import VERDICTS, _expected_best, certainty
from planner.rig import PeriodicTerm
from planner.tracking.even_draws import even_normals

WINDOW = np.linspace(-3, 3, 9) * u.hourangle


def sure_of(one, site=SITE, **more):
    scene = observing_scene(one, site, GREEN, declination=40 * u.deg, hour_angle=WINDOW)
    return certainty(scene, guide_need(scene), **more)


def test_draws_are_standard_normal():
    drawn = even_normals(64, 5)
    assert_allclose(drawn.mean(axis=0), 0, atol=1e-12)
    assert_allclose(drawn.std(axis=0), 1, atol=1e-12)
    assert_allclose(np.corrcoef(drawn.T), np.eye(5), atol=1e-9)


@pytest.mark.parametrize("mount", [WORM_MOUNT, FRICTION_MOUNT], ids=lambda mount: mount.name)
def test_odds_are_shares_and_repeat(mount):
    first, second = (sure_of(rig(mount=mount, guider=GUIDER), draws=16) for _ in range(2))
    assert set(first.odds) == set(VERDICTS)
    assert sum(first.odds.values()) == pytest.approx(1)
    assert first == second


def test_without_anything_uncertain_the_verdict_is_certain():
    sure = sure_of(rig(mount=PERFECT_MOUNT), replace(SITE, seeing_spread=0), draws=8)
    assert max(sure.odds.values()) == 1
    assert sure.close_share == 1
    assert sure.advice.startswith("Nothing that you could measure")


def test_a_rig_without_guider_and_a_large_periodic_error_wants_a_drift_log():
    # The best length goes inversely with the amplitude, which is known to a factor of 1.3 or so: worth knowing.
    mount = replace(WORM_MOUNT, periodic=(PeriodicTerm(period=480 * u.s, amplitude=30 * u.arcsec),))
    sure = sure_of(rig(mount=mount))
    assert sure.measure_next[0].measurement == "drift log"
    assert sure.at_risk < 0.2


def test_perfect_information_of_two_actions_has_its_closed_form():
    # Actions 0 and x, x standard normal: knowing x is worth E max(0, x) = 1/sqrt(2 pi), not knowing it nothing.
    x = even_normals(512, 1)[:, 0]
    speeds = np.stack([0 * x, x], axis=1)
    assert _expected_best(speeds, [x]) == pytest.approx(1 / np.sqrt(2 * np.pi), rel=0.01)
    other = np.random.default_rng(4).normal(size=512)  # says nothing of x
    assert _expected_best(speeds, [other]) < 0.06
