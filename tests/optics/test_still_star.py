"""The fast still star against the full image, an independent route: fine grid, square pixel with its direction."""

import numpy as np
import pytest
from astropy import units as u

from planner.errors import InvalidInputError
from planner.optics import motion_response, star_image, still_star


def some_star(rng, pixels_per_width):
    seeing = rng.uniform(1, 5)
    return {"seeing_fwhm": seeing * u.arcsec, "wavelength": rng.uniform(400, 900) * u.nm,
            "aperture": rng.uniform(60, 400) * u.mm, "obstruction": rng.choice([0.0, rng.uniform(0.1, 0.45)]),
            "image_scale": seeing * pixels_per_width * u.arcsec / u.pix,
            "focus_blur_fwhm": rng.choice([0.0, 1.5]) * u.arcsec}


# Widths: the fast star's pixel has no direction, which matters from pixels as wide as the star on.
@pytest.mark.parametrize(("pixels_per_width", "of_width", "of_area"), [(0.1, 2.5e-3, 1e-3), (0.5, 3e-3, 1e-3),
                                                                       (1.0, 6e-3, 1e-3), (2.0, 0.04, 3e-3)])
@pytest.mark.parametrize("seed", range(6))
def test_agrees_with_the_full_image(pixels_per_width, of_width, of_area, seed):
    star = some_star(np.random.default_rng(seed), pixels_per_width)
    full, fast = star_image(**star), still_star(**star)
    assert fast.fwhm.value == pytest.approx(full.fwhm.value, rel=of_width)
    assert fast.noise_equivalent_area.value == pytest.approx(full.noise_equivalent_area.value, rel=of_area)
    assert fast.central_pixel_fraction == pytest.approx(full.central_pixel_fraction, rel=1e-3)


def test_is_the_still_star_of_the_motion_response():
    star = some_star(np.random.default_rng(7), 0.4)
    fast, still = still_star(**star), motion_response(**star).still
    assert fast.fwhm.value == pytest.approx(still.fwhm.value, rel=2e-3)
    assert fast.noise_equivalent_area.value == pytest.approx(still.noise_equivalent_area.value, rel=1e-6)


def test_a_huge_pixel_holds_all_light_and_no_more():
    star = some_star(np.random.default_rng(3), 60.0)
    assert 0.97 < still_star(**star).central_pixel_fraction <= 1


def test_what_is_no_star_is_refused():
    star = some_star(np.random.default_rng(0), 0.5)
    with pytest.raises(InvalidInputError, match="seeing_fwhm"):
        still_star(**{**star, "seeing_fwhm": -1 * u.arcsec})
