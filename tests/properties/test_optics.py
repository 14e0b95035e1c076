"""What must hold for every star, whatever the telescope and the night."""

import numpy as np
import pytest
from astropy import units as u
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.errors import InvalidInputError
from planner.optics import field_of_view, image_scale, motion_response, refocus_interval, share_inside, star_image

EXAMPLES = settings(max_examples=40)


def values(low, high):
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


@st.composite
def still_stars(draw, widest_pixel=4.0):
    seeing = draw(values(1, 5))
    return {"seeing_fwhm": seeing * u.arcsec, "wavelength": draw(values(400, 900)) * u.nm,
            "aperture": draw(values(60, 400)) * u.mm, "obstruction": draw(values(0, 0.45)),
            "image_scale": draw(values(0.3, min(4, widest_pixel * seeing))) * u.arcsec / u.pix,
            "focus_blur_fwhm": draw(values(0, 3)) * u.arcsec}


LENGTHS, ANGLES = values(0, 10), values(-360, 360)


@EXAMPLES
@given(still_stars(widest_pixel=1.0), LENGTHS, ANGLES)
def test_a_trail_never_narrows_either_axis(still, trail, angle):
    # Pixels up to one seeing width: a wider square is longer along its diagonal than along its side.
    # The cut across a diffraction disc (60 mm, 614 nm, 1 arcsec of seeing and pixel) narrows by 1.1 % under a trail of
    # 3 arcsec in GalSim too: the disc falls faster beside its centre than over it. Up to 3 % at 900 nm.
    before = star_image(**still)
    after = star_image(**still, trail=trail * u.arcsec, trail_position_angle=angle * u.deg)
    assert after.fwhm_major >= before.fwhm_major * (1 - 1e-2)
    assert after.fwhm_minor >= before.fwhm_minor * (1 - 4e-2)
    assert after.elongation >= -1e-9


@EXAMPLES
@given(still_stars(), LENGTHS, ANGLES, values(0, 5))
def test_motion_never_makes_the_noise_area_smaller_nor_the_pixel_brighter(still, trail, angle, jitter):
    before = star_image(**still)
    trailed = star_image(**still, trail=trail * u.arcsec, trail_position_angle=angle * u.deg)
    both = star_image(**still, trail=trail * u.arcsec, trail_position_angle=angle * u.deg,
                      jitter_rms=jitter * u.arcsec)
    areas = [star.noise_equivalent_area.value for star in (before, trailed, both)]
    assert areas[1] >= areas[0] * (1 - 1e-4)
    assert areas[2] >= areas[1] * (1 - 1e-4)
    for star in (before, trailed, both):
        assert 0 < star.central_pixel_fraction <= 1
    assert both.central_pixel_fraction <= before.central_pixel_fraction * (1 + 1e-4)


@EXAMPLES
@given(still_stars(widest_pixel=1.0), values(0.5, 8), ANGLES)
def test_turning_the_trail_turns_the_star_and_nothing_else(still, trail, angle):
    # 5e-3: a pixel of one seeing width is not round.
    north = star_image(**still, trail=trail * u.arcsec)
    turned = star_image(**still, trail=trail * u.arcsec, trail_position_angle=angle * u.deg)
    assert turned.elongation == pytest.approx(north.elongation, abs=5e-3)
    if north.elongation > 0.02:
        assert abs((turned.position_angle.value - angle + 90) % 180 - 90) < 2


@settings(max_examples=25)
@given(still_stars(), LENGTHS, ANGLES)
def test_the_drawing_holds_the_light(still, trail, angle):
    star = star_image(**still, trail=trail * u.arcsec, trail_position_angle=angle * u.deg)
    pixel = still["image_scale"].value
    size = int(np.ceil((10 * star.fwhm_major.value + 10) / pixel)) | 1
    image = star.render((size, size))
    assert np.all(image >= 0)
    # Air and aperture scatter a few percent beyond ten widths.
    assert 0.94 < image.sum() < 1.001
    assert image.max() == pytest.approx(star.central_pixel_fraction, rel=2e-3)
    np.testing.assert_allclose(image, image[::-1, ::-1], atol=1e-9)


@EXAMPLES
@given(st.lists(st.tuples(values(-5, 5), values(-5, 5)), min_size=1, max_size=40))
def test_a_track_is_where_the_star_was(places):
    # An independent route: the drawn image is the mean of still stars drawn at each place.
    still = {"seeing_fwhm": 2 * u.arcsec, "wavelength": 550 * u.nm, "aperture": 200 * u.mm,
             "image_scale": 1 * u.arcsec / u.pix}
    track = np.array(places) * u.arcsec
    image = star_image(**still, track=track).render((41, 41))
    centred = np.array(places) - np.mean(places, axis=0)
    flux = image.sum()
    assert 0.9 < flux < 1.001
    pixel = np.arange(41) - 20
    variance = (image.sum(axis=0) @ pixel**2 / flux, image.sum(axis=1) @ pixel**2 / flux)
    alone = star_image(**still).render((41, 41))
    ours = [found - alone.sum(axis=0) @ pixel**2 / alone.sum() for found in variance]
    # Unweighted variances of east and north add; 0.5: wings that leave the stamp.
    np.testing.assert_allclose(ours, centred.var(axis=0), atol=0.5)


@settings(max_examples=25)
@given(still_stars(widest_pixel=2.0), values(0, 30), values(0, 1), values(-2, 3))
def test_the_table_answers_everywhere(still, major, share, kurtosis):
    response = motion_response(**still)
    effect = response.at(major * u.arcsec**2, share * major * u.arcsec**2, kurtosis)
    assert 0 <= effect.elongation < 1
    assert effect.fwhm >= response.still.fwhm * 0.999
    assert effect.noise_equivalent_area >= response.still.noise_equivalent_area * 0.999


@EXAMPLES
@given(values(1, 300), values(1, 300), ANGLES, values(1, 600), values(1, 600))
def test_a_share_is_a_share(major, minor, angle, width, height):
    share = share_inside(width * u.arcmin, height * u.arcmin, major * u.arcmin, minor * u.arcmin,
                         position_angle=angle * u.deg)
    ellipse = np.pi / 4 * major * minor
    assert 0 <= share <= min(1, width * height / ellipse) + 1e-9
    if min(width, height) >= max(major, minor):
        assert share == pytest.approx(1)


@EXAMPLES
@given(values(1, 30), values(50, 5000))
def test_scale_and_field_agree(pitch, length):
    scale = image_scale(pitch * u.um, length * u.mm)
    field = field_of_view(pitch * u.um, 1, 1, length * u.mm)
    assert field.width.to_value(u.arcsec) == pytest.approx(scale.value, rel=1e-9)
    assert image_scale(pitch * u.um, length * u.mm, binning=2).value == pytest.approx(2 * scale.value, rel=1e-6)


@EXAMPLES
@given(values(1, 200), values(0.01, 10))
def test_a_steeper_slope_never_gives_more_time(tolerance, slope):
    tube = (23.1e-6 / u.K, 500 * u.mm)
    slow = refocus_interval(tolerance * u.um, *tube, slope * u.K / u.h)
    fast = refocus_interval(tolerance * u.um, *tube, -2 * slope * u.K / u.h)
    assert fast.value == pytest.approx(slow.value / 2)


WRONG = [3.0, 3 * u.kg, np.nan * u.arcsec, -1 * u.arcsec, "3 arcsec", None]


@pytest.mark.parametrize("name", ["seeing_fwhm", "focus_blur_fwhm", "trail", "jitter_rms"])
@pytest.mark.parametrize("bad", WRONG, ids=str)
def test_what_is_no_angle_is_refused(name, bad):
    good = {"seeing_fwhm": 2 * u.arcsec, "wavelength": 550 * u.nm, "aperture": 200 * u.mm,
            "image_scale": 1 * u.arcsec / u.pix}
    with pytest.raises(InvalidInputError, match=f"{name} = "):
        star_image(**(good | {name: bad}))
