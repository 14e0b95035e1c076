"""Whether tube and camera pass the column, or the legs, when the mount changes sides.

The origin is the crossing of the axes; x east, y towards the pole, z up. South of the equator the picture is mirrored.
Parts are cylinders along the tube, of their length and width about their centres.
"""

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.fields import told
from planner.pier.balance.model import Assembly, TubePart, signed
from planner.pier.column.footing import Footing
from planner.pier.column.model import Column
from planner.rig.choices import PierSide

LOWEST = 10.0  # degrees: lower nobody points (common practice, no source)
FARTHEST = 45.0  # degrees past the meridian: farther nobody tracks (common practice, no source)
LEG = 50.0  # mm, diameter of a tripod's leg (common practice, no source)
STEP, SPACING, AROUND = 2.5, 50.0, 16  # degrees on the sky, mm along a part, points around it


@dataclass(frozen=True, kw_only=True)
class Clearance:
    """What is left between the tube's parts and what carries the mount, on one side of the pier."""

    pier_side: Annotated[PierSide, "of the telescope"]
    at_meridian: Annotated[u.Quantity[u.mm], "the least of all declinations; 0 if something is hit"]
    part: Annotated[str, "that comes nearest"]
    declination: Annotated[u.Quantity[u.deg], "at which it does"]
    past_meridian: Annotated[u.Quantity[u.deg] | None, "hour angle past the meridian where it hits; null: nowhere"]
    touching: str  # the part that hits first, "" if none
    touching_declination: u.Quantity[u.deg]
    hits = told(str | None, "part that hits first", lambda one: one.touching or None, key="touching")


def clearances(assembly: Assembly, column: Column, footing: Footing, *, latitude: u.Quantity[u.deg]
               ) -> tuple[Clearance, ...]:
    """Return the clearance with the telescope east and west of the pier; empty without an axis height.

    `column` and `footing`: what stands below; a tripod has one leg towards the pole.
    To about 10 mm. Looked for from the horizon's haze (10 deg) up, from the meridian to 45 deg past it.
    """
    if assembly.axis_height is None:
        return ()
    found = [_on_side(assembly, column, footing, abs(latitude.to_value(u.rad)), side) for side in (1, -1)]
    # The south is the north in a mirror: what was reckoned towards its pole are negative declinations.
    sign = -1 if latitude.value < 0 else 1
    return tuple(replace(one, declination=sign * one.declination, touching_declination=sign * one.touching_declination)
                 for one in found)


def clearance_words(found: tuple[Clearance, ...], assembly: Assembly, footing: Footing) -> tuple[str, ...]:
    """Return what passes and what touches, in words."""
    if not found:
        return ("Give the axis height of the mount, and length and width of the parts, to hear whether they pass the "
                "column at the flip.",)
    bodies: dict[str, list[str]] = {}
    for one in found:
        bodies.setdefault(_side_words(one), []).append(one.pier_side)
    words = [f"Telescope {' or '.join(sides)} of the pier: {body}" for body, sides in bodies.items()]
    points = [part.name for part in assembly.parts if part.length == 0 or part.width == 0]
    if points:
        words.append(f"Without length or width, and so as thin as a rod or a point: {', '.join(points)}.")
    if footing.kind == "tripod":
        words.append(f"Legs are taken as {LEG:.0f} mm thick, one of them towards the pole.")
    return (*words, "Try it slowly by hand before a motor does, power off, cables on, one hand on the tube.")


def _side_words(it: Clearance) -> str:
    if it.at_meridian == 0:
        return (f"on the meridian the {it.part} hits the column or a leg at declination "
                f"{signed(it.declination.value)}.")
    room = (f"on the meridian the least room is {_tens(it.at_meridian.value)}, of the {it.part} at declination "
            f"{signed(it.declination.value)}; ")
    if it.past_meridian is None:
        return f"{room}it passes to {FARTHEST:.0f}° beyond it."
    past = it.past_meridian.value
    return (f"{room}the {it.touching} hits {past:.0f}° beyond it ({4 * past:.0f} minutes) at declination "
            f"{signed(it.touching_declination.value)}: stop the mount earlier.")


def _tens(length: float) -> str:
    return "less than 10 mm" if length < 10 else f"about {10 * round(length / 10):.0f} mm"


def _on_side(assembly: Assembly, column: Column, footing: Footing, latitude: float, side: int) -> Clearance:
    names = [part.name for part in assembly.parts]
    past, declinations = np.arange(0, FARTHEST + STEP, STEP), np.arange(-90, 90 + STEP, STEP)
    room = _room(assembly, column, footing,
                 [[attitude(-side * hour, declination, latitude, side) for declination in np.radians(declinations)]
                  for hour in np.radians(past)])  # hour, declination, part
    at_meridian = np.unravel_index(np.argmin(room[0]), room[0].shape)
    first = next((hour for hour in range(len(past)) if room[hour].min() <= 0), None)
    touching = (0, 0) if first is None else np.unravel_index(np.argmin(room[first]), room[first].shape)
    return Clearance(
        pier_side="east" if side > 0 else "west", at_meridian=max(0.0, float(room[0][at_meridian])) * u.mm,
        part=names[at_meridian[1]], declination=declinations[at_meridian[0]] * u.deg,
        past_meridian=None if first is None else past[first] * u.deg,
        touching="" if first is None else names[touching[1]], touching_declination=declinations[touching[0]] * u.deg)


def _room(assembly: Assembly, column: Column, footing: Footing, attitudes: list[list[np.ndarray]]) -> np.ndarray:
    """Return the least distance of each part from column and legs [mm]; infinite for what is too low to point at."""
    clouds = [_surface(part, assembly.saddle_distance.value) for part in assembly.parts]
    starts = np.cumsum([0, *(len(cloud) for cloud in clouds[:-1])])
    points, nowhere = np.concatenate(clouds), np.full(len(clouds), np.inf)
    return np.array([[
        np.minimum.reduceat(_distance(points @ frame, assembly, column, footing), starts)
        if frame[0, 2] >= np.sin(np.radians(LOWEST)) else nowhere for frame in row] for row in attitudes])


def _surface(part: TubePart, saddle: float) -> np.ndarray:
    """Return points of a part's surface: along, across, outwards from the axes' crossing [mm]."""
    rings = int(part.length.value / SPACING) + 2 if part.length > 0 else 1
    along, angle = np.meshgrid(np.linspace(-0.5, 0.5, rings) * part.length.value,
                               np.linspace(0, 2 * np.pi, AROUND if part.width > 0 else 1, endpoint=False))
    radius = part.width.value / 2
    return np.stack([part.along.value + along, part.across.value + radius * np.cos(angle),
                     saddle + part.height.value + radius * np.sin(angle)], axis=-1).reshape(-1, 3)


def attitude(hour: float, declination: float, latitude: float, side: int) -> np.ndarray:
    """Return the directions (x, y, z) of along, across and outwards, one a row, for a target.

    `hour`, `declination` and `latitude`: of the target, positive west, and of the site [rad]; latitude positive.
    `side`: 1 with the telescope east of the pier, -1 west.
    """
    pole = np.array([0.0, np.cos(latitude), np.sin(latitude)])
    meridian, west = np.array([0.0, -np.sin(latitude), np.cos(latitude)]), np.array([-1.0, 0.0, 0.0])
    along = np.cos(declination) * (np.cos(hour) * meridian + np.sin(hour) * west) + np.sin(declination) * pole
    outwards = side * (np.sin(hour) * meridian - np.cos(hour) * west)
    return np.stack([along, np.cross(outwards, along), outwards])


def _distance(points: np.ndarray, assembly: Assembly, column: Column, footing: Footing) -> np.ndarray:
    """Return the distance of points from the column and the legs [mm]."""
    top = -assembly.axis_height.value if assembly.axis_height is not None else 0.0
    middle = np.array([0.0, -assembly.axis_offset.value, top])
    radius = column.width.value / 2 * (np.sqrt(2) if column.shape == "square" else 1.0)
    relative = points - middle
    beside = np.maximum(0.0, np.hypot(relative[:, 0], relative[:, 1]) - radius)
    found = np.hypot(beside, np.maximum(0.0, relative[:, 2]))
    if footing.kind != "tripod":
        return found
    reach, down = footing.stance.to_value(u.mm) / 2, column.height.to_value(u.mm)
    for angle in np.radians([90, 210, 330]):
        foot = np.array([reach * np.cos(angle), reach * np.sin(angle), -down])
        share = np.clip(relative @ foot / (foot @ foot), 0, 1)
        leg = np.linalg.norm(relative - share[:, None] * foot, axis=1) - LEG / 2
        found = np.minimum(found, np.maximum(0.0, leg))
    return found
