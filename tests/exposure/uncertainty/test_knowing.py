"""The worth of a measurement against closed forms, and against following it in draws of its own."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import GREEN, SITE, WORM_MOUNT, rig
from numpy.testing import assert_allclose

from planner.exposure import observing_scene
from planner.exposure.guide_need import guide_need
from planner.exposure.uncertainty.drawn import Ways
from planner.exposure.uncertainty.inputs import Draw, open_inputs
from planner.exposure.uncertainty.knowing import Knowledge, found_by
from planner.exposure.uncertainty.odds import certainty
from planner.rig import PeriodicTerm
from planner.tracking.moments.even_draws import even_normals


def two_actions(extra=0):
    """Return the knowledge of two actions that bring 0 and x, with inputs that say nothing beside."""
    off = even_normals(256, 1 + extra)
    return Knowledge(np.stack([0 * off[:, 0], off[:, 0]], axis=1), off)


def test_perfect_information_of_two_actions_has_its_closed_form():
    # Knowing x, standard normal, is worth E max(0, x) = 1/sqrt(2 pi); not knowing it nothing.
    assert two_actions().expected_best(np.eye(1)) == pytest.approx(1 / np.sqrt(2 * np.pi), rel=0.01)
    assert two_actions().unknown == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("error", [0.5, 1.0, 3.0])
def test_sample_information_of_two_actions_has_its_closed_form(error):
    # A measurement with error e moves the mean of what is believed with a standard deviation of 1/sqrt(1 + e^2).
    known = found_by(np.eye(1), np.array([error]))
    assert_allclose(known, 1 / (1 + error**2))
    expected = 1 / np.sqrt(2 * np.pi) / np.sqrt(1 + error**2)
    assert two_actions().expected_best(known) == pytest.approx(expected, rel=0.01)


def test_what_says_nothing_of_the_choice_is_worth_nothing():
    known = np.diag([0.0, 1.0, 1.0])
    assert two_actions(extra=2).expected_best(known) == pytest.approx(0, abs=1e-9)


def test_a_sum_of_two_inputs_measured_leaves_their_difference():
    known = found_by(np.array([[1.0, 1.0]]), np.array([1e-6]))
    assert_allclose(known, np.full((2, 2), 0.5), atol=1e-6)


def test_a_measurement_followed_brings_what_was_said():
    # Drawn anew: mounts, then a length chosen for the amplitude as it is and everything else unknown.
    mount = replace(WORM_MOUNT, periodic=(PeriodicTerm(period=480 * u.s, amplitude=30 * u.arcsec),), drive_class="worn")
    scene = observing_scene(rig(mount=mount), SITE, GREEN, declination=40 * u.deg,
                            hour_angle=np.linspace(-3, 3, 9) * u.hourangle)
    need = guide_need(scene)
    inputs = open_inputs(scene, need.loop)
    about = next(place for place, item in enumerate(inputs) if item.figure == "periodic error")
    random = np.random.default_rng(5)
    off = random.normal(size=(12, 12, len(inputs)))  # amplitudes, and others beside each
    off[:, :, about] = random.permutation(even_normals(12, 1)[:, 0])[:, np.newaxis]
    ways = Ways(scene, need)
    speeds = np.array([[ways.at(Draw(inputs, row)).speeds[0] for row in block] for block in off])
    given, unknown = speeds.mean(axis=1).max(axis=1).mean(), speeds.mean(axis=(0, 1)).max()
    brought = float(scene.length.to_value(u.h) * (1 - unknown / given))
    said = certainty(scene, need).measure_next[0]
    assert said.measurement == "drift log"
    assert said.hours_per_night.to_value(u.h) == pytest.approx(brought, rel=0.35)
