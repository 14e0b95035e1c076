"""The guide star: a real one where the guider's field holds a catalogue star, else the one to expect."""

from dataclasses import dataclass

import erfa
import numpy as np
from astropy import units as u

from planner.exposure.guide_star import GuideStar, expected_star
from planner.optics import field_of_view
from planner.rig import Guider, Rig
from planner.visibility.target import Target


@dataclass(frozen=True, kw_only=True)
class NearbyStars:
    """Catalogue stars around a target, any order."""

    east: u.Quantity[u.deg]  # (n,), on the sky from the target
    north: u.Quantity[u.deg]  # (n,)
    magnitude: u.Quantity[u.mag]  # (n,), Gaia G


def guider_field(guider: Guider) -> u.Quantity[u.deg]:
    """Return width and height of the guider's field, shape (2,)."""
    field = field_of_view(guider.pixel_pitch, guider.columns, guider.rows, guider.focal_length)
    return u.Quantity([field.width, field.height])


def guider_centre(guider: Guider) -> u.Quantity[u.deg]:
    """Return the centre of the guider's field, east and north of the target: a pick-off sits north of it."""
    return u.Quantity([0, guider.off_axis_offset.to_value(u.deg) if guider.off_axis else 0.0], u.deg)


def stars_reach(rig: Rig) -> u.Quantity[u.deg]:
    """Return the radius around the target that holds the camera's field and the guider's."""
    camera = rig.camera
    field = field_of_view(camera.pixel_pitch, camera.columns, camera.rows, rig.telescope.focal_length)
    if rig.guider is None:
        return field.diagonal / 2
    corner = (np.abs(guider_centre(rig.guider)) + guider_field(rig.guider) / 2).to_value(u.deg)
    return max(float(np.hypot(*corner)), field.diagonal.to_value(u.deg) / 2) * u.deg


def in_camera(rig: Rig, stars: NearbyStars) -> u.Quantity[u.mag]:
    """Return the magnitudes of the stars in the camera's field, its columns along right ascension, shape (m,)."""
    camera = rig.camera
    field = field_of_view(camera.pixel_pitch, camera.columns, camera.rows, rig.telescope.focal_length)
    return stars.magnitude[(np.abs(stars.east) <= field.width / 2) & (np.abs(stars.north) <= field.height / 2)]


def guide_star(rig: Rig, target: Target, stars: NearbyStars | None = None) -> GuideStar | None:
    """Return the brightest catalogue star in the guider's field, else the one to expect there.

    `rig`: its guider's columns lie along right ascension, a pick-off sits to the north. `stars`: from the catalogue;
    none at all if absent.
    None if the rig has no guider.
    """
    guider = rig.guider
    if guider is None:
        return None
    if stars is not None:
        centre, field = guider_centre(guider), guider_field(guider)
        inside = (np.abs(stars.east - centre[0]) <= field[0] / 2) & (np.abs(stars.north - centre[1]) <= field[1] / 2)
        if inside.any():
            brightest = np.flatnonzero(inside)[np.argmin(stars.magnitude[inside])]
            offset = u.Quantity([stars.east[brightest], stars.north[brightest]], u.deg)
            return GuideStar(magnitude=stars.magnitude[brightest], offset=offset, source="in the catalogue")
    latitude = erfa.icrs2g(target.ra.to_value(u.rad), target.dec.to_value(u.rad))[1] * u.rad
    return expected_star(guider, latitude.to(u.deg))
