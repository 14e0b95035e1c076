"""A trail on the sky and its causes, against small-angle formulas that the product does not use."""

import numpy as np
import pytest
from astropy import units as u

from planner.errors import InvalidInputError
from planner.measure.frame.sky_trail import Orientation, sky_trail
from planner.measure.stars.field_parts import Trail

NO_AIR = 0 * u.hPa
SCALE = 1.5 * u.arcsec / u.pix
SIDEREAL_ARCSEC_PER_S = 15.0410672  # IERS: 360 deg over 86164.0905 s


def trail(length, angle, error=0.05):
    return Trail(length=length * u.pix, error=error * u.pix, angle=angle * u.deg, angle_error=1 * u.deg,
                 significance=20.0, significant=True, upper_limit=length * u.pix, still_fwhm=3 * u.pix)


@pytest.mark.parametrize(("camera_angle", "mirrored", "angle", "position_angle"), [
    (0, False, 90, 0), (0, False, 0, 90), (0, False, 45, 135), (0, True, 45, 45), (30, False, 90, 30),
    (30, False, 0, 120), (30, True, 0, 120), (90, False, 90, 90), (-20, False, 90, 160),
])
def test_angles_in_the_image_and_on_the_sky(camera_angle, mirrored, angle, position_angle):
    # Rows grow north and columns west in an unturned image: up-right (45 deg) points north-west, position angle 135.
    lies = Orientation.from_angle(SCALE, camera_angle * u.deg, mirrored=mirrored)
    found = lies.position_angle(angle * u.deg).to_value(u.deg)
    assert (found - position_angle + 90) % 180 - 90 == pytest.approx(0, abs=1e-9)
    assert lies.image_scale.value == pytest.approx(1.5)


def test_steps_to_the_east_and_north():
    east, north = Orientation.from_angle(SCALE).sky(np.array([-2.0, 0.0]), np.array([0.0, 4.0]))
    assert east.value == pytest.approx([3, 0])
    assert north.value == pytest.approx([0, 6])


def test_length_and_rate():
    found = sky_trail(trail(4, 30), Orientation.from_angle(SCALE, 10 * u.deg), exposure=120 * u.s)
    assert found.length.value == pytest.approx(6)
    assert found.rate.to_value(u.arcsec / u.min) == pytest.approx(3)
    assert np.hypot(found.ra, found.dec).value == pytest.approx(6)
    assert found.dec.value > 0
    first, second = found.causes
    assert first.ra_rate == -second.ra_rate
    assert first.polar_altitude_error is None  # nobody said where the star was
    assert sky_trail(trail(4, 30), Orientation.from_angle(SCALE)).causes == ()


@pytest.mark.parametrize("sense", [0, 1])
@pytest.mark.parametrize(("latitude", "hour_angle"), [(47, 0), (47, -70), (-32, 20), (-32, 80)])
def test_polar_error_behind_a_trail_in_declination(latitude, hour_angle, sense):
    # A pole displaced by (altitude a, azimuth A) moves a star in declination at omega (a sin H + A cos phi cos H) in
    # size: the derivative of the displacement's projection (`published/test_polar_axis.py` holds it to rotations).
    length, seconds = 4.0, 120.0
    found = sky_trail(trail(length, 90), Orientation.from_angle(SCALE), exposure=seconds * u.s, declination=20 * u.deg,
                      hour_angle=hour_angle * u.deg, latitude=latitude * u.deg, pressure=NO_AIR).causes[sense]
    turned = np.radians(SIDEREAL_ARCSEC_PER_S * seconds / 3600)
    middle = np.radians(hour_angle) + turned / 2
    least = 1.5 * length / turned / 60  # arcmin
    assert found.polar_least.to_value(u.arcmin) == pytest.approx(least, rel=1e-3)
    if abs(np.sin(middle)) > 0.2:
        expected = least / abs(np.sin(middle))
        assert abs(found.polar_altitude_error.to_value(u.arcmin)) == pytest.approx(expected, rel=0.01)
    else:
        assert found.polar_altitude_error is None
    if abs(np.cos(middle)) > 0.2:
        expected = least / abs(np.cos(np.radians(latitude)) * np.cos(middle))
        assert abs(found.polar_azimuth_error.to_value(u.arcmin)) == pytest.approx(expected, rel=0.01)


def test_drive_behind_a_trail_in_right_ascension():
    # A drive fast by one part per million leaves the star 15.04e-6 arcsec east each second, times cos dec.
    found = sky_trail(trail(2, 0), Orientation.from_angle(SCALE), exposure=100 * u.s, declination=60 * u.deg,
                      hour_angle=0 * u.deg, latitude=47 * u.deg, pressure=NO_AIR)
    expected = 3.0 / (SIDEREAL_ARCSEC_PER_S * 100 * 0.5) * 1e6
    assert sorted(cause.rate_error_ppm for cause in found.causes) == pytest.approx([-expected, expected], rel=1e-3)
    east = next(cause for cause in found.causes if cause.ra_rate.value > 0)
    assert east.rate_error_ppm > 0
    alone = sky_trail(trail(2, 0), Orientation.from_angle(SCALE), exposure=100 * u.s, declination=60 * u.deg)
    assert alone.causes[0].rate_error_ppm == pytest.approx(found.causes[0].rate_error_ppm, rel=1e-3)


def test_refraction_is_not_blamed_on_the_mount():
    place = {"exposure": 300 * u.s, "declination": 10 * u.deg, "hour_angle": 60 * u.deg, "latitude": 47 * u.deg}
    lies = Orientation.from_angle(SCALE)
    with_air, without = (sky_trail(trail(3, 0), lies, pressure=p, **place) for p in (1000 * u.hPa, NO_AIR))
    # Both readings shift by what the air moves the star: their mean is no longer zero.
    assert abs(sum(cause.rate_error_ppm for cause in without.causes)) < 1
    assert abs(sum(cause.rate_error_ppm for cause in with_air.causes)) > 50


def test_orientation_is_checked():
    with pytest.raises(InvalidInputError, match=r"image_scale = 0\.0 arcsec / pix: must be more than 0"):
        Orientation.from_angle(0 * u.arcsec / u.pix)
    with pytest.raises(InvalidInputError, match="camera_angle"):
        Orientation.from_angle(SCALE, 4000 * u.deg)
