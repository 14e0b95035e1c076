"""Frames to a drift log: star matching through drift, loss, false stars and a turned or mirrored camera."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.measure.drift.position_series import drift_from_positions
from planner.measure.drift.report import analyse_drift

FRAMES, WIDTH, HEIGHT = 90, 1500, 1000
TIME = np.arange(FRAMES) * 10.0
SHIFT = np.column_stack([0.05 * TIME + 5 * np.sin(TIME / 80), -0.25 * TIME])
SCALE = 1.2 * u.arcsec / u.pix


def series(seed, stars=300, false=8, shift=SHIFT):
    """Return stars of a drifting field, brightest first, with errors, losses and false stars in each frame."""
    rng = np.random.default_rng(seed)
    world = rng.uniform(-300, 2000, (stars, 2))
    frames = []
    for step in shift:
        places = world + step + 0.15 * rng.normal(size=world.shape)
        inside = np.all((places > 0) & (places < [WIDTH, HEIGHT]), axis=1) & (rng.random(stars) < 0.85)
        frames.append(np.insert(places[inside], rng.integers(0, inside.sum(), false),
                                rng.uniform(0, 1000, (false, 2)), axis=0))
    return frames


def test_a_drifting_field_is_followed_past_its_own_width():
    far = np.column_stack([12.0 * np.arange(FRAMES), -8.0 * np.arange(FRAMES)])
    found = drift_from_positions(series(1, shift=far), TIME * u.s, image_scale=SCALE)
    assert found.lost == ()
    # About 240 stars, 0.15 pixels each: a step errs by 0.15 sqrt(2/240) = 0.014 pixels, and 90 steps, whose fields end
    # with no star in common, add up to 0.13 pixels rms at the end: three times that.
    assert_allclose(-found.log.ra.to_value(u.arcsec) / 1.2, far[:, 0], atol=0.4)
    assert_allclose(found.log.dec.to_value(u.arcsec) / 1.2, far[:, 1], atol=0.4)


def test_lost_frames_are_named_and_left_out():
    frames = series(2)
    frames[7] = np.empty((0, 2))
    frames[9] = np.random.default_rng(0).uniform(0, 1000, (40, 2))
    found = drift_from_positions(frames, TIME * u.s, image_scale=SCALE)
    assert found.lost == (7, 9)
    keep = np.delete(np.arange(FRAMES), [7, 9])
    assert_allclose(found.log.dec.to_value(u.arcsec) / 1.2, SHIFT[keep, 1], atol=0.15)


@pytest.mark.parametrize(("angle", "mirrored", "sky"), [
    (0, False, (-1, 0)), (0, True, (1, 0)), (90, False, (0, 1)), (180, False, (1, 0)),
])
def test_a_step_to_the_right_on_the_sky(angle, mirrored, sky):
    # North up, east left on a true image; position angle from north through east.
    frames = [np.array([[500.0 + step, 400.0]]) for step in range(3)]
    log = drift_from_positions(frames, [0, 1, 2] * u.s, image_scale=1 * u.arcsec / u.pix, camera_angle=angle * u.deg,
                               mirrored=mirrored).log
    assert_allclose([log.ra.value[1], log.dec.value[1]], sky, atol=1e-12)


def test_frames_become_a_log_that_tells_the_rate():
    order = np.random.default_rng(5).permutation(FRAMES)
    frames = series(3)
    found = drift_from_positions([frames[i] for i in order], TIME[order] * u.s, image_scale=SCALE,
                                 declination=10 * u.deg)
    report = analyse_drift(found.log)
    assert report.dec.rate.to_value(u.arcsec / u.min) == pytest.approx(-0.25 * 60 * 1.2, rel=0.01)
    assert report.ra.periodic[0].period.to_value(u.s) == pytest.approx(2 * np.pi * 80, rel=0.02)
    assert found.log.declination == 10 * u.deg


def test_one_star_is_enough():
    frames = [np.array([[500.0, 400.0]]) + step for step in SHIFT * 0.1]
    found = drift_from_positions(frames, TIME * u.s, image_scale=SCALE)
    assert found.log.time.size == FRAMES


@pytest.mark.parametrize(("frames", "time", "match"), [
    ([np.ones((3, 2))], [1, 2], "one time for each frame"), ([np.empty((0, 2))] * 3, [1, 2, 3], "share their stars"),
])
def test_series_that_tell_nothing_are_refused(frames, time, match):
    with pytest.raises(InvalidInputError, match=match):
        drift_from_positions(frames, time * u.s, image_scale=SCALE)
