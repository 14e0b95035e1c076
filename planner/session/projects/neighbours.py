"""Neighbours in one field are one job: a frame of the larger shows the smaller too.

A neighbour lies whole in the field of the larger, however the camera is turned. Of each filter the job wants the most
that one of them wants, and has what both have had.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from astropy import units as u

from planner.optics import field_of_view
from planner.rig import Rig
from planner.session.projects.request import Need, Request
from planner.visibility.target import Target


def one_job(requests: Sequence[Request], rig: Rig) -> tuple[tuple[Request, ...], dict[str, str]]:
    """Return requests with those of neighbours joined to the larger's, and whose field each neighbour is in.

    `rig`: whose field counts.
    Returns them in their order, nothing left to do of a neighbour, and by the names of neighbours that of the target
    whose frames show them. Targets that move, panels of a mosaic, and those wanted to a signal-to-noise ratio stand
    alone.
    """
    camera = rig.camera
    field = field_of_view(camera.pixel_pitch, camera.columns, camera.rows, rig.telescope.focal_length)
    reach = min(field.width, field.height).to_value(u.arcmin) / 2
    size = np.array([_size(request.target) for request in requests])
    places = np.array([[getattr(request.target, name).to_value(u.rad) for name in ("ra", "dec")]
                       for request in requests])
    found, joined = list(requests), np.zeros(len(requests), bool)
    main: dict[str, str] = {}
    for row in np.argsort(-size, kind="stable").tolist():
        if joined[row] or not _fixed(requests[row]):
            continue
        apart = _apart(places[row], places)
        for other in np.flatnonzero((apart + size / 2 <= reach) & (size < size[row]) & ~joined).tolist():
            if _fixed(requests[other]):
                found[row], found[other] = _together(found[row], found[other])
                joined[other], main[found[other].target.name] = True, found[row].target.name
    return tuple(found), main


def neighbour_notes(main: dict[str, str]) -> tuple[str, ...]:
    """Return which targets are one job, as sentences."""
    return tuple(f"{name} lies in the field of {larger}: one job, the hours of one count for the other."
                 for name, larger in main.items())


def _size(target: Target) -> float:
    """Return the larger diameter [arcmin], 0 if not known."""
    return 0.0 if target.size_major is None else float(target.size_major.to_value(u.arcmin))


def _fixed(request: Request) -> bool:
    target = request.target
    return (target.orbit is None and target.camera_angle is None and not np.any(target.motion.value)
            and all(need.hours is not None for need in request.needs))


def _apart(place: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Return the distances of places (n, 2) from one (2,) [rad], in arcmin, by the chord between unit vectors."""
    ra, dec = (places - place).T / 2
    half = np.sqrt(np.sin(dec) ** 2 + np.cos(places[:, 1]) * np.cos(place[1]) * np.sin(ra) ** 2)
    return np.degrees(2 * np.arcsin(np.minimum(half, 1.0))) * 60


def _together(larger: Request, smaller: Request) -> tuple[Request, Request]:
    """Return the joint request of two neighbours, and that of the smaller with nothing left."""
    needs = {need.band.name: need for need in larger.needs}
    for need in smaller.needs:
        needs[need.band.name] = _joint(needs.get(need.band.name), need)
    met = tuple(need if need.hours is None else replace(need, done=max(need.done, need.hours))
                for need in smaller.needs)
    return (replace(larger, needs=tuple(needs.values()), priority=max(larger.priority, smaller.priority)),
            replace(smaller, needs=met))


def _joint(one: Need | None, other: Need) -> Need:
    if one is None or one.hours is None or other.hours is None:
        return other
    return replace(one, hours=max(one.hours, other.hours), done=one.done + other.done)
