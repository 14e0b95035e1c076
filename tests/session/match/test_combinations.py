"""Every combination on a still mount: scale and width by outside routes, times by the CCD equation."""

from dataclasses import replace

import galsim
import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import CAMERA, GREEN, SITE
from numpy.testing import assert_allclose
from session.owned import LARGE_PIXELS, LONG, OWNED, REDUCER, RIG, SHORT, SMALL, WIDE, only, weigh

from planner.errors import InvalidInputError
from planner.rig import Reducer
from planner.session.advice.answer import Goal
from planner.session.match.combinations import usual_period
from planner.session.match.set_ups import set_ups
from planner.session.match.text import limited_by, limits, time_text

FAINT = Goal(brightness=26 * u.mag / u.arcsec**2)
# No read noise, no dark current, no lost time and no gust: only photons count.
IDEAL = replace(CAMERA, read_noise=0 * u.electron, gain=1e-3 * u.electron / u.adu, bit_depth=32,
                dark_current=0 * u.electron / u.s, download=0 * u.s)
POINT = replace(SMALL, size_major=None, size_minor=None)
IDEAL_SITE = replace(SITE, disturbance_interval=1e9 * u.h)
IDEAL_RIG = replace(RIG, mount=replace(RIG.mount, settling_time=0 * u.s))


def ideal(telescope, **more):
    """Judge one telescope with the ideal camera."""
    return rows_of(only(telescope, IDEAL), rig=IDEAL_RIG, site=IDEAL_SITE,
                   **{"goal": FAINT, "binnings": (1,), "target": POINT, **more})[0]


def rows_of(*owned, **more):
    """Judge what is owned."""
    return set_ups(weigh(*owned, **more))


def by_name(rows):
    """Return the rows by their names."""
    return {row.name: row for row in rows}


@pytest.fixture(scope="module")
def overhead():
    return {binning: rows_of(goal=FAINT, binnings=(binning,)) for binning in (1, 3)}


def test_every_combination_is_there_once(overhead):
    # Three optical trains (the reducer fits one telescope), two cameras.
    rows = overhead[1]
    assert len(rows) == len(by_name(rows)) == 3 * 2
    assert not any(row.choice.reducer and row.choice.telescope is SHORT for row in rows)


@pytest.mark.parametrize(("factor", "binning", "scale"), [
    # 3.8 um at 400 mm, 206.2648 p/f, exact arctan 1.959516.
    pytest.param(1.0, 1, 1.959516, id="N01"),
    (1.0, 2, 2 * 1.959516), (0.5, 1, 2 * 1.959516), (2.0, 1, 1.959516 / 2),
])
def test_image_scale(factor, binning, scale):
    lens = Reducer(name="lens", factor=factor)
    rows = rows_of(only(reducers=(lens,)), binnings=(binning,), goal=FAINT)
    found = {row.choice.reducer: row.choice.image_scale.to_value(u.arcsec / u.pix) for row in rows}
    # 1e-5: the arctangent against the small angle, at the largest of these pixels.
    assert_allclose(found[lens], scale, rtol=1e-5)


def test_delivered_width_against_galsim(overhead):
    for choice in [row.choice for rows in overhead.values() for row in rows[::2]]:
        train = choice.train
        star = galsim.Convolve([
            galsim.Kolmogorov(fwhm=choice.seeing_fwhm.value), galsim.Pixel(choice.image_scale.value),
            galsim.Airy(lam=GREEN.centre.value, diam=train.aperture.to_value(u.m), obscuration=train.obstruction,
                        scale_unit=galsim.arcsec),
            galsim.Gaussian(fwhm=max(train.optical_blur.value, 1e-3)),
        ], gsparams=galsim.GSParams(maximum_fft_size=16384))
        drawn = star.drawImage(nx=301, ny=301, scale=choice.picture_fwhm.value / 80, method="no_pixel", dtype=float)
        # 1 %: the design's tolerance of the star image. 6 %: a pixel much wider than the seeing has a direction, over
        # which `still_star` takes the mean.
        wide = choice.image_scale.value > 1.5 * choice.seeing_fwhm.value
        assert_allclose(choice.picture_fwhm.value, drawn.calculateFWHM(), rtol=0.06 if wide else 0.01)
        before = galsim.Convolve([part for part in star.obj_list if not isinstance(part, galsim.Pixel)])
        drawn = before.drawImage(nx=301, ny=301, scale=choice.picture_fwhm.value / 80, method="no_pixel", dtype=float)
        assert_allclose(choice.resolution_lost, 1 - drawn.calculateFWHM() / choice.picture_fwhm.value, atol=0.01)
        assert_allclose(choice.fwhm_pixels, choice.fwhm.value / choice.image_scale.value, rtol=1e-12)


def test_large_pixels_cost_resolution_and_small_ones_do_not(overhead):
    assert by_name(overhead[1])["long, middle"].choice.resolution_lost < 0.02
    assert by_name(overhead[3])["short, large pixels"].choice.resolution_lost > 0.5


def test_same_pixel_at_half_the_ratio_is_four_times_as_fast():
    # f/4 against f/8, same pixel: 1/N^2 = 4. The same focal length, twice the aperture.
    slow, fast = (ideal(replace(LONG, aperture=aperture * u.mm, focal_length=1600 * u.mm)) for aperture in (200, 400))
    # 2 %: ties of the sub's length within 1 %, and whole frames.
    assert_allclose((slow.surface_time / fast.surface_time).value, 4, rtol=0.02)


def test_one_pixel_at_half_the_ratio_is_four_times_as_fast():
    # With the same aperture and twice the focal length: one pixel of the short one sees four times the sky.
    times = []
    for focal_length in (800, 1600):
        telescope = replace(LONG, aperture=200 * u.mm, focal_length=focal_length * u.mm)
        pixel = ideal(telescope).choice.image_scale**2 * u.pix**2
        times.append(ideal(telescope, goal=replace(FAINT, area=pixel)).surface_time.value)
    assert_allclose(times[1] / times[0], 4, rtol=0.02)


def test_a_fixed_area_of_sky_does_not_care_for_the_focal_length():
    times = [ideal(replace(LONG, focal_length=focal_length * u.mm)).surface_time.value
             for focal_length in (1200, 2400)]
    assert_allclose(times[0], times[1], rtol=0.01)


def test_binning_gains_nothing_on_a_fixed_area_without_read_noise():
    # 2x2 binning gains sqrt(4) per pixel, sky limited: nothing on the same sky.
    times = [ideal(LONG, binnings=(binning,)).surface_time.value for binning in (1, 2)]
    assert_allclose(times[0], times[1], rtol=0.01)
    per_pixel = {}
    for binning in (1, 2):
        area = ideal(LONG, binnings=(binning,)).choice.image_scale**2 * u.pix**2
        per_pixel[binning] = ideal(LONG, binnings=(binning,), goal=replace(FAINT, area=area)).surface_time.value
    assert_allclose((per_pixel[1] / per_pixel[2]) ** 0.5, 2, rtol=0.01)


def test_time_goes_with_the_square_of_the_ratio_wanted():
    times = [ideal(LONG, goal=replace(FAINT, signal_to_noise=ratio)).surface_time.value for ratio in (20.0, 40.0)]
    assert_allclose(times[1] / times[0], 4, rtol=0.01)


def test_no_time_is_shorter_than_one_sub():
    for row in rows_of(goal=Goal(brightness=12 * u.mag / u.arcsec**2)):
        assert row.surface_time * row.choice.field_area.value >= row.sub_exposure


def test_a_colour_sensor_takes_longer():
    mono, colour = (rows_of(only(camera=replace(CAMERA, colour=colour)), goal=FAINT)[0].surface_time
                    for colour in ("mono", "bayer"))
    assert colour > 1.9 * mono  # half of its pixels see green


def test_seeing_widens_the_star_and_the_time_for_detail():
    calm, rough = (rows_of(only(LONG), site=replace(SITE, seeing=seeing * u.arcsec), goal=FAINT)[0]
                   for seeing in (1.5, 3.0))
    assert rough.choice.fwhm > 1.7 * calm.choice.fwhm
    assert rough.detail_time > 2.5 * calm.detail_time
    assert_allclose(rough.surface_time.value, calm.surface_time.value, rtol=0.02)


def test_the_pixel_forbids_fine_detail_and_drizzling_lifts_it():
    # 6 um at 400 mm: 3.09 arcsec, two pixels are 6.19.
    owned = only(SHORT, LARGE_PIXELS)
    for drizzled, period, shown in ((False, 6, False), (True, 6, True), (False, 6.3, True), (True, 3, False)):
        asked = weigh(owned, target=SMALL, goal=FAINT, period=period * u.arcsec, drizzled=drizzled)
        row, = set_ups(asked)
        assert bool(np.isfinite(row.detail_time.value)) is shown
        assert ("the pixel forbids it" in limits(asked, row)[0].sentence) is not shown


def test_beside_the_pixels_limit_the_usual_detail_fades_and_it_is_said():
    # Two pixels of 6 um at f: 6.19 arcsec at 400 mm. Of 6 arcsec as usual, 5.45 to 6.6 does as well: evenly in
    # logarithms the part above 6.19 is ln(6.6 / 6.188) / ln(1.21) = 0.338, its middle sqrt(6.6 x 6.188) = 6.391.
    usual, = rows_of(only(SHORT, LARGE_PIXELS), target=SMALL, goal=FAINT)
    middle, = rows_of(only(SHORT, LARGE_PIXELS), target=SMALL, goal=FAINT, period=6.391 * u.arcsec)
    assert_allclose(usual.detail_time.value, middle.detail_time.value / 0.338, rtol=0.01)
    # From held whole to not at all, 6.6 arcsec at 375 mm to 5.45 at 454: no step anywhere, and never unsaid.
    rate = []
    for focal_length in np.linspace(370, 460, 19):
        owned = only(replace(SHORT, focal_length=focal_length * u.mm), LARGE_PIXELS)
        asked = weigh(owned, target=SMALL, goal=FAINT, binnings=(1,))
        row, = set_ups(asked)
        rate.append(float((1 / row.detail_time).value))
        forbidden = 2 * 206.265 * 6 / focal_length
        said = any("6″" in limit.sentence for limit in limits(asked, row))
        assert said == (forbidden > 6 / 1.1), focal_length
    assert rate[0] == 0
    assert np.all(np.diff(rate) > -1e-12)
    assert np.max(np.diff(rate)) < 0.12 * rate[-1]


def test_the_usual_period_grows_with_the_target():
    assert usual_period(None) == usual_period(SMALL) == 6 * u.arcsec
    assert_allclose(usual_period(WIDE).value, 180 * 60 / 1000)


def test_the_lit_circle_cuts_the_field():
    # Sensor 22.8 x 15.2 mm, diagonal 27.40 mm; a circle of half of it lights half of each side.
    asked = weigh(only(replace(SHORT, image_circle=13.701 * u.mm)))
    row, = set_ups(asked)
    whole, cut = rows_of(only())[0].choice, row.choice
    assert whole.lit == 1
    assert_allclose(cut.lit, 0.5, rtol=1e-3)
    assert_allclose((whole.field.width / cut.field.width).value, 2, rtol=2e-3)
    assert "image circle" in limited_by(asked, row)


def test_a_reducer_changes_what_it_should():
    train = REDUCER.behind(LONG)
    assert train.focal_length == 0.7 * LONG.focal_length
    assert_allclose(train.focal_ratio, 4.9)
    assert_allclose(train.transmission, 0.9 * LONG.transmission)
    assert train.aperture == LONG.aperture
    assert_allclose(train.optical_blur.value, 0.5)
    assert REDUCER.fits(LONG)
    assert not REDUCER.fits(SHORT)
    both = replace(REDUCER, image_circle=30 * u.mm).behind(replace(LONG, image_circle=40 * u.mm))
    assert_allclose(both.image_circle.value, 28)  # the telescope's own circle shrinks to 0.7 of 40 mm


def test_what_limits_is_said():
    def judged(*owned, **more):
        asked = weigh(*owned, **more)
        return asked, by_name(set_ups(asked))

    asked, rows = judged(target=WIDE, binnings=(3,))
    assert limited_by(asked, rows["short, large pixels"]).endswith("pixel")
    asked, rows = judged(target=WIDE)
    long = rows["long, middle"]
    assert "field" in limited_by(asked, long)
    assert any(f"{long.choice.framing.panels} panels" in limit.sentence for limit in limits(asked, long))
    for worse, cause in ((replace(CAMERA, dark_current=50 * u.electron / u.s), "dark current"),
                         (replace(CAMERA, read_noise=300 * u.electron), "read noise")):
        asked, rows = judged(only(camera=worse), goal=FAINT)
        assert limited_by(asked, rows["short, middle"]).endswith(cause)
    asked, rows = judged(only(replace(SHORT, mass=30 * u.kg)),
                         rig=replace(RIG, mount=replace(RIG.mount, payload=20 * u.kg)))
    assert limits(asked, rows["short, middle"])[-1].cause == "load"


def test_shares_of_the_noise_add_up(overhead):
    for row in overhead[1]:
        assert_allclose(sum(vars(row.noise).values()), 1, rtol=1e-12)


def test_the_goal_is_the_usual_one_of_the_filter_and_not_the_catalogues_mean():
    for target in (SMALL, replace(SMALL, surface_brightness=None)):
        assert weigh(target=target).goal.brightness == 26.5 * u.mag / u.arcsec**2


@pytest.mark.parametrize(("more", "line"), [
    ({"ranking": "beauty"}, "rank = beauty: must be one of detail, surface, sharpness, field"),
    ({"binnings": (0,)}, "binning = 0: must be at least 1"),
    ({"overlap": 0.95, "target": SMALL}, "overlap = 0.95: must be at most 0.8"),
    ({"goal": Goal(line=5 * u.R, signal_to_noise=10.0), "owned": OWNED}, None),
    ({"owned": replace(OWNED, cameras=())}, "camera = none: must be in the equipment file"),
    ({"owned": replace(OWNED, telescopes=())}, "telescope = none: must be in the equipment file"),
])
def test_bad_input_is_named(more, line):
    if line is None:
        assert set_ups(weigh(**more))
        return
    with pytest.raises(InvalidInputError, match=line):
        weigh(**more)


@pytest.mark.parametrize(("hours", "text"), [(0.01, "36 s"), (0.2, "12 min"), (0.999, "1.0 h"), (3.14, "3.1 h"),
                                             (9.97, "10 h"), (144.2, "140 h"), (1234, "1\u202f200 h"),
                                             (1.5e7, "over 100\u202f000 h"), (1 / 60, "60 s")])
def test_times_for_a_person(hours, text):
    assert time_text(hours * u.h) == text
