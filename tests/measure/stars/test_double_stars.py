"""Frames on which every star is double, or drawn out so far that none can be measured, from drawn stars."""

import numpy as np
import pytest
from measure.frame_sim import BACKGROUND, Sky, draw

from planner.measure.frame.grade import grades
from planner.measure.stars.star_field import measure_frame

TOLERANCE = {"tolerated_axis_ratio": 0.9, "tolerated_growth": 0.2}


def knocked(sky, step, share):
    """Return a frame on which a share of each star's light stands a step (x, y) away."""
    stars = draw(sky)[0] - BACKGROUND
    noise = np.random.default_rng(1).normal(0, 5, stars.shape)
    moved = np.roll(stars, step[::-1], axis=(0, 1))
    return (BACKGROUND + (1 - share) * stars + share * moved + noise).astype(np.float32)


@pytest.mark.parametrize(("fwhm", "step", "share"), [
    (2.4, (15, 0), 0.3), (2.4, (20, -6), 0.5), (3.0, (9, 5), 0.4), (1.7, (3, 2), 0.25), (3.0, (5, 3), 0.5)])
def test_every_star_is_double(fwhm, step, share):
    found = measure_frame(knocked(Sky(fwhm=fwhm, stars=120, size=420, seed=5), step, share))
    # Half a cell of the mean picture, 0.4 px, and a companion in the slope of its star.
    assert found.double.value == pytest.approx(np.hypot(*step), abs=0.8)
    [grade] = grades([found], **TOLERANCE)
    assert grade.verdict == "reject"
    assert f"every star is double, {found.double.value:.0f} px apart" in grade.reasons[0]
    assert grade.faults == {"double"}


def test_every_star_of_a_mosaic_is_double():
    image = knocked(Sky(fwhm=3.0, stars=120, size=420, seed=6), (4, 2), 0.5)
    found = measure_frame(image[::2, 1::2], pixel_step=2, second=(image[1::2, ::2], -1, 1))
    assert found.double.value == pytest.approx(4.5, abs=0.8)
    assert found.ring.value == 0


@pytest.mark.parametrize("sky", [
    {"fwhm": 1.2}, {"fwhm": 3.0}, {"fwhm": 3.0, "trail": 6.0, "angle": 30}, {"fwhm": 2.5, "coma": 0.3},
    {"fwhm": 3.0, "stars": 25}, {"fwhm": 3.0, "stars": 900}, {"fwhm": 6.0}])
def test_single_stars_are_not_double(sky):
    assert measure_frame(draw(Sky(**{"stars": 120, "size": 420, "seed": 7, **sky}))[0]).double.value == 0


def test_long_trails_beside_hot_pixels_are_no_sharp_stars():
    image = draw(Sky(fwhm=2.2, trail=25, angle=30, stars=150, size=420, flux=(1e4, 3e5), seed=8))[0]
    random = np.random.default_rng(8)
    image[tuple(random.integers(5, 415, (2, 108)))] += random.uniform(500, 20000, 108)
    found = measure_frame(image)
    [grade] = grades([found], **TOLERANCE)
    assert grade.verdict == "reject"
    assert "sharper" not in " ".join(grade.reasons)
