"""The star image at its edges: limits, symmetries, refusals."""

import numpy as np
import pytest
from astropy import units as u
from optics.one_star import adaptive_moments

from planner.errors import InvalidInputError
from planner.optics import star_image

STILL = {"seeing_fwhm": 2.5 * u.arcsec, "wavelength": 550 * u.nm, "aperture": 200 * u.mm, "obstruction": 0.35,
         "image_scale": 0.8 * u.arcsec / u.pix}


def test_a_still_star_is_round_and_says_no_direction():
    star = star_image(**STILL)
    assert star.elongation == pytest.approx(0, abs=1e-9)
    assert star.fwhm_major.value == pytest.approx(star.fwhm_minor.value, rel=1e-9)
    assert star.position_angle == 0 * u.deg


def test_a_sampled_line_is_a_trail():
    place = 4 * (np.arange(400) + 0.5 - 200) / 400
    angle = np.radians(70)
    track = np.outer(place, (np.sin(angle), np.cos(angle))) * u.arcsec
    line, trail = star_image(**STILL, track=track), star_image(**STILL, trail=4 * u.arcsec,
                                                               trail_position_angle=70 * u.deg)
    assert line.elongation == pytest.approx(trail.elongation, abs=1e-4)
    assert line.position_angle.value == pytest.approx(trail.position_angle.value, abs=0.05)
    for name in ("fwhm_major", "fwhm_minor", "noise_equivalent_area"):
        assert getattr(line, name).value == pytest.approx(getattr(trail, name).value, rel=1e-3)
    np.testing.assert_allclose(line.render((31, 31)), trail.render((31, 31)), atol=1e-6)


def test_trail_and_track_multiply():
    both = star_image(**STILL, trail=2 * u.arcsec, track=np.array([[-1.0, 0], [1, 0]]) * u.arcsec)
    line = 2 * (np.arange(200) + 0.5 - 100) / 200
    spots = [[-1, y] for y in line] + [[1, y] for y in line]
    drawn = star_image(**STILL, track=np.array(spots) * u.arcsec)
    assert both.elongation == pytest.approx(drawn.elongation, abs=2e-3)
    np.testing.assert_allclose(both.render((31, 31)), drawn.render((31, 31)), atol=1e-5)


def test_a_lopsided_track_agrees_with_its_drawing():
    """An independent route: moments of the finely drawn pixels instead of those of the transfer function."""
    t = np.linspace(0, 1, 60)
    star = star_image(**STILL, track=np.column_stack([6 * t**3, 2 * t]) * u.arcsec)
    drawn = adaptive_moments(star.render((241, 241), oversampling=8))
    assert float(drawn.elongation) == pytest.approx(star.elongation, abs=1e-4)
    # Columns run east and rows north: the angle from +x is 90 deg less the position angle.
    assert 90 - drawn.angle.value == pytest.approx(star.position_angle.value, abs=0.05)


def test_a_lopsided_track_has_its_brightest_point_elsewhere():
    t = np.linspace(0, 1, 60)
    star = star_image(**STILL, track=np.column_stack([8 * t**4, 0 * t]) * u.arcsec)
    image = star.render((41, 41), oversampling=1)
    assert star.central_pixel_fraction >= image.max()
    assert star.central_pixel_fraction == pytest.approx(star.render((321, 321), oversampling=8).max() * 64, rel=5e-3)


def test_two_far_places_are_measured_at_their_outer_ends():
    star = star_image(**STILL, track=np.array([[-3.0, 0], [3, 0]]) * u.arcsec)
    assert star.position_angle.value == pytest.approx(90)
    # Each spot is 2.8 arcsec wide; the outermost half-maximum crossings lie half of that beyond its place.
    assert star.fwhm_major.value == pytest.approx(6 + 2.79, abs=0.15)


def test_one_place_anywhere_is_the_still_star():
    star = star_image(**STILL, track=np.array([[100.0, -50]]) * u.arcsec)
    assert star.fwhm_major.value == pytest.approx(star_image(**STILL).fwhm_major.value, rel=1e-6)


def test_render_takes_any_shape():
    star = star_image(**STILL)
    assert star.render((3, 8)).shape == (3, 8)
    np.testing.assert_allclose(star.render((31, 31))[10:21, 10:21], star.render((11, 11)), atol=1e-6)
    # Twice the samples per side, a quarter of the light in each.
    assert star.render((81, 81), 2).sum() == pytest.approx(star.render((41, 41)).sum(), abs=2e-3)


def test_rows_run_north_and_columns_east():
    north_east = star_image(**STILL, trail=6 * u.arcsec, trail_position_angle=45 * u.deg).render((11, 11))
    assert north_east[8, 8] > 2 * north_east[8, 2]


def test_a_very_long_trail_is_still_measured():
    star = star_image(**STILL, trail=200 * u.arcsec, trail_position_angle=33 * u.deg)
    assert star.fwhm_major.value == pytest.approx(200, rel=1e-3)
    assert star.position_angle.value == pytest.approx(33)


@pytest.mark.parametrize(("change", "text"), [
    ({"trail": 1e6 * u.arcsec}, "trail = .*too long"),
    ({"track": np.zeros((3, 3)) * u.arcsec}, "track = shape"),
    ({"track": np.zeros((0, 2)) * u.arcsec}, "track = shape"),
    ({"track": np.zeros((3, 2))}, "track = "),
    ({"track": np.full((3, 2), np.nan) * u.arcsec}, "track = "),
    ({"outer_scale": -5 * u.m}, "outer_scale = "),
    ({"obstruction": 1.0}, "obstruction = 1.0: must be less than 1"),
    ({"obstruction": -0.1}, "obstruction = "),
    ({"aperture": 0 * u.mm}, "aperture = 0.0 mm: must be more than 0"),
    ({"wavelength": 550 * u.kg}, "wavelength = "),
    ({"image_scale": 1 * u.arcsec}, "image_scale = "),
    ({"trail_position_angle": 1 * u.arcsec / u.s}, "trail_position_angle = ")])
def test_wrong_values_are_refused(change, text):
    with pytest.raises(InvalidInputError, match=text):
        star_image(**(STILL | change))


@pytest.mark.parametrize("bad", [(0, 5), (5, 2.5), (5, 9999)])
def test_wrong_shapes_are_refused(bad):
    with pytest.raises(InvalidInputError, match="shape = "):
        star_image(**STILL).render(bad)
