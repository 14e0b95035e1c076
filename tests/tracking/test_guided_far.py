"""A guide star far from the centre, near the pole: against rotations written here, solved for the axes that hold it."""

import numpy as np
import pytest
from astropy import units as u
from scipy.optimize import root

from planner.tracking import guided_track

ARCSEC = np.degrees(1) * 3600


def about_pole(angle):
    return np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])


def about_east(angle):
    return np.array([[np.cos(angle), 0, np.sin(angle)], [0, 1, 0], [-np.sin(angle), 0, np.cos(angle)]])


def held(latitude, declination, hour_angles, offset, altitude_error, azimuth_error):
    """Drift (n, 2) [rad] of the target while the two axes hold the guide star where it was, without air."""
    zenith = np.array([np.cos(latitude), 0, np.sin(latitude)])
    horizon = np.array([-np.sin(latitude), 0, np.cos(latitude)])
    side = np.sign(latitude)
    up = abs(latitude) + altitude_error  # the pole above the horizon: the southern one stands over the south
    pole = side * (np.sin(up) * zenith + np.cos(up) * (
        side * np.cos(azimuth_error) * horizon + np.sin(azimuth_error) * np.array([0, 1, 0])))
    east = np.array([0, 1, 0]) - pole[1] * pole
    east /= np.linalg.norm(east)
    frame = np.stack([np.cross(east, pole), east, pole], axis=1)

    def camera(axes):
        return frame @ about_pole(-axes[0]) @ about_east(-axes[1])

    def sky(hour_angle, away=(0, 0)):
        star = about_pole(-hour_angle) @ about_east(-declination)
        along = star @ np.array([1, np.tan(away[0]), np.tan(away[1])])
        return along / np.linalg.norm(along)

    def place(axes, direction):
        local = camera(axes).T @ direction
        return np.arctan2(local[1:], local[0])

    axes = root(lambda at: place(at, sky(hour_angles[0])), [hour_angles[0], declination], tol=1e-13).x
    goal = place(axes, sky(hour_angles[0], offset))
    drift = []
    for hour_angle in hour_angles:
        axes = root(lambda at, h=hour_angle: place(at, sky(h, offset)) - goal,
                    [hour_angle, axes[1]], tol=1e-13).x
        drift.append(place(axes, sky(hour_angle)))
    return np.array(drift)


@pytest.mark.parametrize("latitude_deg", [45, -35])
@pytest.mark.parametrize("distance_deg", [5, 10, 30])
@pytest.mark.parametrize("offset_deg", [(0.5, 0.3), (0, 1), (0.6, -0.6)])
def test_the_drift_of_the_centre(latitude_deg, distance_deg, offset_deg):
    dec = np.sign(latitude_deg) * (90 - distance_deg)
    hours = np.linspace(-10, 20, 13)
    theirs = ARCSEC * held(np.radians(latitude_deg), np.radians(dec), np.radians(hours), np.radians(offset_deg),
                           np.radians(4 / 60), np.radians(6 / 60))
    track = guided_track(latitude=latitude_deg * u.deg, declination=dec * u.deg, hour_angle=hours * u.deg,
                         guide_star_offset=offset_deg * u.deg, polar_altitude_error=4 * u.arcmin,
                         polar_azimuth_error=6 * u.arcmin, pressure=0 * u.hPa)
    ours = np.stack([track.ra.to_value(u.arcsec), track.dec.to_value(u.arcsec)], axis=-1)
    np.testing.assert_allclose(ours - ours[0], theirs - theirs[0], atol=0.02 * np.ptp(theirs))
