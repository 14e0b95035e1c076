"""Blur in the middle and in the corner: the mean over a picture, and what the advice makes of it."""

import datetime
from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.rig import Reducer
from planner.session.advice.answer import advise
from planner.session.advice.star_strip import recommended_stars
from planner.session.advice.text import place_lines

DEMO = load_equipment(packaged_data("equipment.toml"))


@pytest.mark.parametrize("shape", [(3, 2), (1, 1), (16, 9)])
def test_the_mean_over_a_picture_is_that_of_its_pixels(shape):
    # Independent route: a blur whose square grows with r², averaged over a grid of places.
    middle, corner = 0.8, 2.4
    x, y = np.meshgrid(*(np.linspace(-side / 2, side / 2, 401) for side in shape))
    square = middle**2 + (corner**2 - middle**2) * (x**2 + y**2) / (np.hypot(*shape) / 2)**2
    telescope = replace(DEMO.telescopes[0], optical_blur=middle * u.arcsec, corner_blur=corner * u.arcsec)
    assert_allclose(telescope.field_blur.to_value(u.arcsec), np.sqrt(square.mean()), rtol=3e-3)


def test_one_blur_holds_everywhere():
    telescope = DEMO.telescopes[0]
    assert telescope.field_blur == telescope.optical_blur
    same = replace(telescope, corner_blur=telescope.optical_blur)
    assert_allclose(same.field_blur.value, telescope.optical_blur.value)


def test_a_reducer_blurs_the_corner_too():
    telescope = replace(DEMO.telescopes[0], optical_blur=0.3 * u.arcsec, corner_blur=1.2 * u.arcsec)
    lens = Reducer(name="lens", factor=0.8, optical_blur=0.5 * u.arcsec)
    assert_allclose(lens.behind(telescope).corner_blur.value, 1.3)  # 5, 12, 13


def test_the_advice_shows_the_corner_and_counts_it():
    rig = DEMO.rig("nebulae")
    blurred = replace(rig, telescope=replace(rig.telescope, corner_blur=3 * u.arcsec))
    plain, corner = (advise(find_target("M 31"), one, DEMO.site("hill"), datetime.date(2026, 11, 10),
                            with_changes=False) for one in (rig, blurred))
    assert plain.corner_fwhm is None
    assert plain.star_fwhm < corner.star_fwhm < corner.corner_fwhm
    # A star that is wide already suffers less from the same motion: unguided subs lose less of their light.
    assert corner.need.unguided.speed > plain.need.unguided.speed
    words = {label: more for label, _, more in place_lines(corner)}
    assert f"{corner.corner_fwhm.value:.1f}″ in the corners" in words["Stars"]
    for advice, wider in ((plain, False), (corner, True)):
        middle, edge = recommended_stars(advice.scene, advice.need, advice.star)
        assert (edge.fwhm > 1.2 * middle.fwhm) == wider
        assert edge.elongation >= middle.elongation - 0.02


def test_a_corner_star_circles_as_the_field_turns():
    # A guided sub holds its guide star: with an axis one degree off the field turns about it, and the corner trails.
    rig = DEMO.rig("nebulae")
    off = replace(rig, mount=replace(rig.mount, polar_azimuth_error=60 * u.arcmin))
    advice = advise(find_target("M 81"), off, DEMO.site("hill"), datetime.date(2026, 11, 10), with_changes=False)
    need = replace(advice.need, unguided=replace(advice.need.unguided, speed=0.0))
    middle, edge = recommended_stars(advice.scene, need, advice.star)
    assert middle.method == "guided"
    assert edge.elongation > middle.elongation + 0.004
