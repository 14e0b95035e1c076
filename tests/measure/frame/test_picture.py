"""A frame as a picture: averages, stretch and rings by hand; widths over the frame against stars that GalSim drew."""

import numpy as np
import pytest
from measure.frame_sim import Sky, draw, true_fwhm

from planner.measure.frame.picture import WIDEST, ringed, stretched, width_map
from planner.measure.stars.plane import Counts
from planner.measure.stars.star_field import measure_frame


def test_a_picture_averages_and_keeps_the_order_of_light():
    rng = np.random.default_rng(3)
    ramp = np.maximum(np.linspace(-36000, 4000, 1400), 0) + rng.normal(100, 5, (301, 1400))  # dark but for a tenth
    picture = stretched(ramp)
    assert picture.shape == (301 // 3, 1400 // 3)  # the fewest pixels averaged that fit
    assert picture.shape[1] <= WIDEST
    along = np.median(picture.astype(int), axis=0)[-46:]
    assert (np.diff(along) >= 0).all()
    assert along[-1] > 250
    # The inverse hyperbolic sine gives faint light more than its share: its slope is steepest at black.
    assert along[12] - along[0] > 2 * (along[-1] - along[-13])


@pytest.mark.parametrize("image", [np.full((40, 50), 7.0), np.full((40, 50), np.nan)])
def test_a_frame_without_light_is_a_picture_too(image):
    assert len(np.unique(stretched(image))) == 1


def test_pixels_that_hold_nothing_are_black_and_files_are_read_in_strips():
    raw = np.full((64, 64), 1000, dtype=np.int16)
    raw[10:20] = -1
    raw[30, 30] = 3000
    picture = stretched(Counts(raw, blank=-1))
    assert (picture[10:20] == 0).all()
    assert picture[30, 30] == 255
    assert 0 < picture[40, 40] < 200


def test_stars_are_ringed_where_they_are_with_high_rows_on_top():
    frame, truth = draw(Sky(fwhm=4.0, stars=40, flux=(3e4, 1e5), seed=5))
    field = measure_frame(frame)
    seen = ringed(stretched(frame), field).astype(int)
    orange = (seen[..., 0] > 200) & (seen[..., 2] < 60)
    rows, columns = np.nonzero(orange)
    rows = 511 - rows
    for x, y in zip(field.stars.x, field.stars.y, strict=True):
        distance = np.hypot(columns - x, rows - y)
        assert abs(distance - 2 * field.fwhm.value).min() < 1  # two widths away
    assert field.used > 20
    assert len(truth) == 40


def test_widths_over_the_frame_are_those_that_were_drawn():
    left, right = Sky(fwhm=3.0, stars=160, seed=1), Sky(fwhm=4.0, stars=160, seed=2)
    frame = np.where(np.arange(512) < 256, draw(left)[0], draw(right)[0])
    drawn = width_map(measure_frame(frame))
    assert len(drawn.fwhm) > 8
    for sky, inside in ((left, drawn.x1 <= 257), (right, drawn.x0 >= 255)):
        assert np.median(drawn.fwhm[inside]) == pytest.approx(true_fwhm(sky), rel=0.06)
    assert drawn.colours[0] < drawn.fwhm.min() + 1e-9
    assert drawn.colours[2] > drawn.fwhm.max() - 1e-9


def test_too_few_stars_leave_the_map_empty():
    frame, _ = draw(Sky(fwhm=3.0, stars=2, seed=1))
    assert width_map(measure_frame(frame)).fwhm.size == 0
