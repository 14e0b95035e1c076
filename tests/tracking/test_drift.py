"""Smooth tracks: limits, signs, hemispheres, the pole, guided fields, and refusals."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.tracking import (
    PointingTerms,
    encoder_step,
    guided_track,
    polar_error,
    refracted_pole,
    sidereal_rate,
    smooth_track,
    step_rms,
)
from planner.tracking.flexure import flexure_track_kernel

HOURS = np.linspace(-60, 60, 121) * u.deg
AIRLESS = {"pressure": 0 * u.hPa}
NORTH = {"latitude": 45 * u.deg, "declination": 30 * u.deg, "hour_angle": HOURS}


def arcsec(track):
    return np.array([track.ra.to_value(u.arcsec), track.dec.to_value(u.arcsec)])


def test_a_perfect_mount_without_air_does_not_drift():
    track = smooth_track(**NORTH, **AIRLESS)
    assert_allclose(arcsec(track), 0, atol=1e-9)
    assert_allclose(track.rotation.value, 0, atol=1e-10)
    assert_allclose(track.field_map, np.eye(2) * np.ones((121, 1, 1)), atol=1e-10)


def test_small_polar_errors_drift_as_the_textbook_says():
    # Independent route: dDec = a cos H - z sin H, dHA = (a sin H + z cos H) tan dec; the star stands east of the mount
    # by the growth of the true-minus-displayed hour angle (Wallace 2002, first order).
    a, z, dec = 30.0, -20.0, np.radians(30)
    track = smooth_track(**NORTH, **AIRLESS, polar_altitude_error=a * u.arcsec,
                         polar_azimuth_error=z / np.cos(np.radians(45)) * u.arcsec)
    h = HOURS.to_value(u.rad)
    north = a * np.cos(h) - z * np.sin(h)
    west = (a * np.sin(h) + z * np.cos(h)) * np.sin(dec)
    # Second order: 30 arcsec x 30 arcsec in radians is 0.004 arcsec.
    assert_allclose(track.dec.value, north - north[0], atol=1e-2)
    assert_allclose(track.ra.value, -(west - west[0]), atol=1e-2)


@pytest.mark.parametrize("dec", [-20, 0, 45, 89, 90])
def test_the_southern_hemisphere_is_the_mirror_of_the_northern(dec):
    errors = {"polar_altitude_error": 7 * u.arcmin, "polar_azimuth_error": -12 * u.arcmin, "hour_angle": HOURS}
    north = smooth_track(latitude=40 * u.deg, declination=dec * u.deg, **errors)
    south = smooth_track(latitude=-40 * u.deg, declination=-dec * u.deg, **errors)
    assert_allclose(south.ra, north.ra, atol=1e-8 * u.arcsec)
    assert_allclose(south.dec, -north.dec, atol=1e-8 * u.arcsec)
    assert_allclose(south.rotation, -north.rotation, atol=1e-9 * u.deg)


def test_a_star_at_the_pole_circles_the_mounts_pole():
    # The camera turns about an axis 5 arcmin off: the star stays 5 arcmin from it, so in the camera it runs on a circle
    # of that radius, 120 deg of it.
    track = smooth_track(latitude=45 * u.deg, declination=90 * u.deg, hour_angle=HOURS, **AIRLESS,
                         polar_altitude_error=5 * u.arcmin)
    chord = np.hypot(track.ra[-1], track.dec[-1]).to_value(u.arcmin)
    assert_allclose(chord, 2 * 5 * np.sin(np.radians(60)), rtol=1e-4)


@pytest.mark.parametrize("latitude", [90, -90])
def test_at_a_pole_of_the_earth_azimuth_error_means_nothing(latitude):
    track = smooth_track(latitude=latitude * u.deg, declination=30 * u.deg, hour_angle=HOURS, **AIRLESS,
                         polar_azimuth_error=30 * u.arcmin)
    assert_allclose(arcsec(track), 0, atol=1e-7)


def test_a_fast_drive_leaves_the_star_behind_to_the_east():
    track = smooth_track(**NORTH, **AIRLESS, rate_error_ppm=100)
    turned = (HOURS[-1] - HOURS[0]).to_value(u.arcsec)
    assert_allclose(track.ra[-1].value, 1e-4 * turned * np.cos(np.radians(30)), rtol=1e-6)


@pytest.mark.parametrize("latitude", [45, -30, 60])
@pytest.mark.parametrize("dec", [-10, 20, 50])
def test_king_rate_at_the_refracted_pole_leaves_no_drift_in_right_ascension(latitude, dec):
    at = {"latitude": latitude * u.deg, "declination": np.copysign(dec, latitude * dec) * u.deg,
          "hour_angle": np.linspace(-30, 30, 61) * u.deg,
          "polar_altitude_error": refracted_pole(latitude=latitude * u.deg)}
    king, sidereal = smooth_track(**at, rate="king"), smooth_track(**at, rate="sidereal")
    # Left over: the field's turn of some arcsec times the declination drift of some arcsec; 0.01 arcsec in four hours.
    assert np.ptp(king.ra.value) < 0.01
    assert np.ptp(king.ra.value) < 0.01 * np.ptp(sidereal.ra.value)


def test_a_model_that_knows_the_mount_leaves_only_the_turn_of_the_field():
    terms = PointingTerms(collimation=100 * u.arcsec, axes_not_square=-80 * u.arcsec, polar_altitude=300 * u.arcsec,
                          polar_azimuth=200 * u.arcsec, tube_flexure=60 * u.arcsec)
    track = smooth_track(**NORTH, rate="model", pointing_terms=terms)
    assert_allclose(arcsec(track), 0, atol=1e-8)
    assert np.ptp(track.rotation.to_value(u.arcsec)) > 100
    assert np.ptp(smooth_track(**NORTH, pointing_terms=terms).dec.value) > 100


@pytest.mark.parametrize("side", ["east", "west"])
def test_terms_that_only_hold_a_pole_drift_as_the_polar_errors_they_mean(side):
    terms = PointingTerms(polar_altitude=300 * u.arcsec, polar_azimuth=-200 * u.arcsec, hour_angle_zero=500 * u.arcsec)
    error = polar_error(terms, latitude=45 * u.deg)
    by_terms = smooth_track(**NORTH, pointing_terms=terms, pier_side=side)
    by_error = smooth_track(**NORTH, polar_altitude_error=error.altitude_error,
                            polar_azimuth_error=error.azimuth_error)
    assert_allclose(arcsec(by_terms), arcsec(by_error), atol=1e-7)


def test_flexure_adds_its_creep():
    rate = 6 * u.arcsec / u.h
    track = smooth_track(**NORTH, **AIRLESS, flexure_ra=rate, flexure_dec=-rate)
    hours = ((HOURS[-1] - HOURS[0]) / sidereal_rate()).to_value(u.h)
    assert_allclose([track.ra[-1].value, track.dec[-1].value], [6 * hours, -6 * hours], rtol=1e-9)
    # A rate that grows linearly from 0 to 12 has crept as far as its mean.
    growing = np.linspace(0, 12, HOURS.size) / 3600
    assert_allclose(flexure_track_kernel(growing, HOURS.to_value(u.rad))[-1], 6 * hours, rtol=1e-9)


def test_guiding_holds_the_guide_star_and_the_field_turns_about_it():
    at = {**NORTH, **AIRLESS, "polar_altitude_error": 10 * u.arcmin}
    star = np.array([0.5, -0.25])
    track = guided_track(**at, guide_star_offset=star * u.deg)
    moved = arcsec(track).T + (track.field_map - np.eye(2)) @ (star * 3600)
    assert_allclose(moved, 0, atol=1e-3)  # of minutes of arc: the turn is first order
    turn = track.rotation.to_value(u.rad)
    assert_allclose(np.hypot(*arcsec(track)), np.abs(turn) * np.hypot(*star) * 3600, rtol=1e-3, atol=1e-9)


def test_guided_field_rotation_is_that_of_the_first_order():
    # Independent route: integral of -omega beta cos(H - psi)/cos dec, psi = 0 for an axis too high.
    track = guided_track(**NORTH, **AIRLESS, polar_altitude_error=1 * u.arcmin, guide_star_offset=[0, 0] * u.deg)
    h = HOURS.to_value(u.rad)
    expected = -1 / np.cos(np.radians(30)) * (np.sin(h) - np.sin(h[0]))
    assert_allclose(track.rotation.to_value(u.arcmin), expected, atol=1e-3)
    assert_allclose(arcsec(track), 0, atol=1e-12)


def test_differential_refraction_squeezes_the_field():
    # dR/dz 2.017 arcsec per degree at z 45 and 8.43 at z 70 (SOFA A and B, 1010 hPa,
    # 10 deg C, 0.574 um), so a degree on the vertical shrinks by 6.41 arcsec between them. 0.9652 and 2.6321
    # arcmin of refraction there. 0.05: dry air against half humid, a degree of true for one of apparent sky.
    h = np.array([45.0 + 0.9652 / 60, 70.0 + 2.6321 / 60])
    track = smooth_track(latitude=0 * u.deg, declination=0 * u.deg, hour_angle=h * u.deg, wavelength=574 * u.nm)
    assert_allclose((track.field_map[-1, 0, 0] - 1) * 3600, -(8.43 - 2.017), atol=0.05)


def test_encoder_steps():
    # 360 deg over 2^24 counts; a uniform error one step wide has an rms of step/sqrt(12).
    step = encoder_step(2**24)
    assert_allclose(step.to_value(u.arcsec), 0.077, atol=5e-4)
    assert_allclose(step_rms(step).to_value(u.arcsec), 1296000 / 2**24 / 12**0.5)


@pytest.mark.parametrize(("changed", "message"), [
    ({"rate": "solar"}, r"rate = solar: must be sidereal, king or model\. Choose"),
    ({"hour_angle": [0] * u.deg}, r"hour_angle = .*must be two or more values that increase"),
    ({"hour_angle": [10, 0] * u.deg}, r"hour_angle = .*must be two or more values that increase"),
    ({"pier_side": "north"}, r"pier_side = north: must be east or west"),
    ({"flexure_ra": [1, 2, 3] * u.arcsec / u.h}, r"flexure = 3 rates: must be one rate or 121"),
    ({"pointing_terms": PointingTerms(polar_altitude=1 * u.arcsec), "polar_altitude_error": 1 * u.arcmin},
     r"pointing_terms = .*must not hold a polar axis beside polar errors\. Give the axis once"),
])
def test_refusals(changed, message):
    with pytest.raises(InvalidInputError, match=message):
        smooth_track(**{**NORTH, **changed})


def test_refuses_a_bare_number():
    with pytest.raises(TypeError, match="latitude"):
        smooth_track(**{**NORTH, "latitude": 45})


def test_refuses_an_encoder_without_counts():
    with pytest.raises(InvalidInputError, match=r"encoder_counts = 0: must be more than 0"):
        encoder_step(0)
