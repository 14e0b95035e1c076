"""Field, focus and diffraction at their edges."""

import math

import numpy as np
import pytest
from astropy import units as u

from planner.errors import InvalidInputError
from planner.optics import (
    airy_fwhm,
    cutoff_frequency,
    depth_of_focus,
    field_of_view,
    focus_shift,
    focus_tolerance,
    image_scale,
    refocus_interval,
    seeing_limited_tolerance,
    share_inside,
)


def test_a_field_has_a_height_and_a_diagonal():
    field = field_of_view(3.8 * u.um, 6000, 4000, 400 * u.mm)
    tangents = [math.tan(angle.to_value(u.rad) / 2) for angle in (field.width, field.height, field.diagonal)]
    assert math.hypot(*tangents[:2]) == pytest.approx(tangents[2])
    assert field.height.to_value(u.deg) == pytest.approx(2 * math.degrees(math.atan(4000 * 3.8e-3 / 800)))


def test_binning_two_sees_twice_the_sky():
    one, two = (image_scale(3.8 * u.um, 400 * u.mm, binning=b) for b in (1, 2))
    assert (two / one).to_value(u.one) == pytest.approx(2)


def counted_share(width, height, major, minor, turn):
    """An independent route: points of the ellipse counted inside the rectangle."""
    y, x = (np.mgrid[-800:801, -800:801] / 800)
    inside = x**2 + y**2 <= 1
    along, across = y[inside] * major / 2, x[inside] * minor / 2
    up = along * np.cos(turn) - across * np.sin(turn)
    left = along * np.sin(turn) + across * np.cos(turn)
    return np.mean((abs(left) <= width / 2) & (abs(up) <= height / 2))


@pytest.mark.parametrize(("width", "height", "major", "minor", "angle", "camera"), [
    (60, 40, 100, 30, 0, 0), (60, 40, 100, 30, 90, 0), (60, 40, 100, 30, 35, 0), (60, 40, 100, 30, 35, 80),
    (60, 40, 70, 65, 10, 0), (20, 200, 100, 90, 45, 0), (10, 10, 100, 90, 45, 0), (60, 40, 30, 20, 17, 5)])
def test_share_of_an_ellipse(width, height, major, minor, angle, camera):
    share = share_inside(width * u.arcmin, height * u.arcmin, major * u.arcmin, minor * u.arcmin,
                         position_angle=angle * u.deg, camera_angle=camera * u.deg)
    # 0.002: the grid of the count.
    assert share == pytest.approx(counted_share(width, height, major, minor, np.radians(angle - camera)), abs=2e-3)


def test_a_point_is_inside_and_a_line_is_cut():
    assert share_inside(1 * u.deg, 1 * u.deg, 0 * u.arcmin, 0 * u.arcmin) == pytest.approx(1)
    # The middle half of an ellipse's axis: (2/pi)(asin h + h sqrt(1 - h^2)) with h = 1/2.
    share = share_inside(1 * u.deg, 1 * u.deg, 120 * u.arcmin, 1e-6 * u.arcmin)
    assert share == pytest.approx(2 / np.pi * (math.asin(0.5) + 0.5 * math.sqrt(0.75)), abs=1e-6)


def test_refocus_interval_is_the_time_to_leave_the_tolerance():
    tube = (23.1e-6 / u.K, 500 * u.mm)
    interval = refocus_interval(27.5 * u.um, *tube, -1.5 * u.K / u.h)
    # An independent route: the shift after that time is the tolerance.
    assert abs(focus_shift(*tube, -1.5 * u.K / u.h * interval)).to_value(u.um) == pytest.approx(27.5)
    assert refocus_interval(27.5 * u.um, *tube, 0 * u.K / u.h) == np.inf * u.h
    assert refocus_interval(27.5 * u.um, 0 / u.K, 500 * u.mm, 1 * u.K / u.h) == np.inf * u.h


def test_the_larger_tolerance_counts():
    fast, slow = ((4.0, 400 * u.mm), (15.0, 3000 * u.mm))
    assert focus_tolerance(550 * u.nm, *fast, blur=0.1 * u.arcsec) == depth_of_focus(550 * u.nm, 4.0)
    assert focus_tolerance(550 * u.nm, *slow, blur=2 * u.arcsec) == seeing_limited_tolerance(2 * u.arcsec, *slow)


def test_cutoff_and_width_are_reciprocal():
    product = cutoff_frequency(550 * u.nm, 80 * u.mm) * airy_fwhm(550 * u.nm, 80 * u.mm)
    assert product.to_value(u.one) == pytest.approx(1.029, abs=1e-3)


@pytest.mark.parametrize(("call", "name"), [
    (lambda: image_scale(3.8 * u.kg, 400 * u.mm), "pixel_pitch"),
    (lambda: image_scale(3.8 * u.um, -400 * u.mm), "focal_length"),
    (lambda: image_scale(3.8 * u.um, 400 * u.mm, binning=0), "binning"),
    (lambda: image_scale(3.8 * u.um, 400 * u.mm, binning=1.5), "binning"),
    (lambda: image_scale(3.8, 400 * u.mm), "pixel_pitch"),
    (lambda: field_of_view(3.8 * u.um, 0, 10, 400 * u.mm), "columns"),
    (lambda: share_inside(0 * u.deg, 1 * u.deg, 1 * u.arcmin, 1 * u.arcmin), "width"),
    (lambda: share_inside(1 * u.deg, 1 * u.deg, -1 * u.arcmin, 1 * u.arcmin), "size_major"),
    (lambda: depth_of_focus(550 * u.nm, 0.0), "focal_ratio"),
    (lambda: seeing_limited_tolerance(-1 * u.arcsec, 5.0, 1 * u.m), "blur"),
    (lambda: focus_shift(-1e-6 / u.K, 1 * u.m, 1 * u.K), "expansion"),
    (lambda: focus_shift(1e-6 / u.K, 1 * u.m, 1 * u.deg_C), "temperature_change"),
    (lambda: refocus_interval(0 * u.um, 1e-6 / u.K, 1 * u.m, 1 * u.K / u.h), "tolerance"),
    (lambda: refocus_interval(1 * u.um, 1e-6 / u.K, 1 * u.m, 1 * u.K), "temperature_slope"),
    (lambda: airy_fwhm(550 * u.nm, 0 * u.mm), "aperture")])
def test_wrong_values_are_refused(call, name):
    with pytest.raises(InvalidInputError, match=f"{name} = "):
        call()
