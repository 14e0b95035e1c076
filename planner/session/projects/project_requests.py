"""From a project to what a night's plan wants of its target: hours by filter, and those already done."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from astropy import units as u

from planner.optics import field_of_view
from planner.rig import Rig
from planner.session.projects.framing import framing
from planner.session.projects.project import PANEL, Project
from planner.session.projects.request import Need, Request
from planner.visibility.target import Target


def project_requests(project: Project, target: Target, rig: Rig) -> tuple[Request, ...]:
    """Return the requests of a project for a rig: one, or one for each panel of a mosaic.

    `target`: what the project's name stands for. `rig`: wanted filters that it lacks are left out.
    None where the rig has none of the wanted filters. Hours done are those that the nights counted for. The
    panels of a mosaic share the priority, and each is to have all of the hours: as worth grows with their root, those
    that lag come first and the depth stays even.
    """
    bands = {band.name.lower(): band for band in rig.filters}
    wanted = {bands[name.lower()]: project.wanted_time(name).to(u.h)
              for name in project.wanted if name.lower() in bands}
    if not wanted:
        return ()
    panels = panel_targets(target, rig) if project.mosaic else ()
    parts = project.by_panel(len(panels))
    return tuple(Request(
        target=place, priority=project.priority / len(parts), completion=project.completion,
        needs=tuple(Need(band=band, hours=hours, done=part.counted_time(band.name)) for band, hours in wanted.items()))
        for part, place in zip(parts, panels if len(parts) > 1 else (target,), strict=True))


def panel_targets(target: Target, rig: Rig) -> tuple[Target, ...]:
    """Return the panels of a mosaic of a target in a rig's field, as targets; their `camera_angle` is the same.

    The order is that of the rows, from one end of the target to the other.
    """
    camera = rig.camera
    field = field_of_view(camera.pixel_pitch, camera.columns, camera.rows, rig.telescope.focal_length)
    found = framing(field, target)
    angle = 0 * u.deg if found.camera_angle is None else found.camera_angle
    places = [_beside(target, *_east_north(place, angle)) for row in found.rows for place in row]
    return tuple(replace(target, name=PANEL.format(target.name, number), ra=ra, dec=dec, size_major=None,
                         size_minor=None, camera_angle=angle % (180 * u.deg))
                 for number, (ra, dec) in enumerate(places, start=1))


def mosaic_of(target: Target) -> str | None:
    """Return the name of the mosaic that a target is a panel of; None if it is none."""
    return None if target.camera_angle is None else target.name.rsplit(" panel ", 1)[0]


def panel_notes(targets: Iterable[Target]) -> tuple[str, ...]:
    """Return how the camera stands for the panels of each mosaic, as sentences."""
    angles = {mosaic_of(target): target.camera_angle for target in targets if target.camera_angle is not None}
    return tuple(f"Panels of {name}: the frame's height at position angle {angle.to_value(u.deg):.0f}° for all of "
                 "them, on both sides of the pier: a flip turns the picture by 180°, and the frame stays the same."
                 for name, angle in angles.items())


def _east_north(place: tuple[float, float], angle: u.Quantity[u.deg]) -> tuple[float, float]:
    """Return a place along a field's width and height [arcmin] as east and north [rad]; its height at an angle."""
    across, up = np.tan(np.radians(np.array(place) / 60))
    sine, cosine = float(np.sin(angle)), float(np.cos(angle))
    return up * sine + across * cosine, up * cosine - across * sine


def _beside(target: Target, east: float, north: float) -> tuple[u.Quantity[u.deg], u.Quantity[u.deg]]:
    """Return the place at offsets on the plane that touches the sky at a target."""
    ra, dec = target.ra.to_value(u.rad), target.dec.to_value(u.rad)
    along, up = np.cos(dec) - north * np.sin(dec), np.sin(dec) + north * np.cos(dec)
    return (np.degrees(ra + np.arctan2(east, along)) % 360 * u.deg,
            np.degrees(np.arctan2(up, np.hypot(east, along))) * u.deg)
