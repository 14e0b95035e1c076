"""The camera is turned to frame: at which angles both axes are still held."""

from dataclasses import dataclass, replace

import numpy as np
from astropy import units as u

from planner.pier.balance.model import Assembly, Rotator, TubePart
from planner.pier.balance.move import signed
from planner.pier.balance.torque import balance

STEP = 5  # degrees between the angles that are tried
# The two places square to each direction, in the order in which a turn carries the first to the second.
_SQUARE = {"along": ("across", "height"), "across": ("height", "along"), "height": ("along", "across")}


@dataclass(frozen=True, kw_only=True)
class Turning:
    """What turning the camera does to the balance."""

    angle: u.Quantity[u.deg]  # from where the camera is, -175 to 180
    declination_torque: u.Quantity[u.N * u.m]  # at each angle, the largest over all directions of the tube
    right_ascension_torque: u.Quantity[u.N * u.m]
    held: tuple[bool, ...]  # whether friction holds both axes, at each angle
    text: str


def turned(assembly: Assembly, angle: u.Quantity[u.deg]) -> Assembly:
    """Return the assembly with the camera, and what turns with it, turned.

    Parameters
    ----------
    assembly : Assembly
        With a rotator.
    angle : Quantity [deg], scalar
        Right-handed about its direction; along, across and height are a right-handed set.
    """
    axis = assembly.rotator
    if axis is None:
        return assembly
    return replace(assembly, parts=tuple(_turned_part(part, axis, angle) if part.turns else part
                                         for part in assembly.parts))


def turning(assembly: Assembly, *, latitude: u.Quantity[u.deg] = 0 * u.deg) -> Turning | None:
    """Return the torque left at each angle of the camera, None where nothing turns.

    Parameters
    ----------
    assembly : Assembly
    latitude : Quantity [deg], scalar
        Of the site, for the torque about the polar axis.
    """
    if not any(part.turns for part in assembly.parts):
        return None
    angles = np.arange(STEP - 180, 181, STEP)
    states = [balance(turned(assembly, angle * u.deg), latitude=latitude) for angle in angles]
    torques = [[getattr(state, axis).value for state in states] for axis in ("declination_torque",
                                                                             "right_ascension_torque")]
    held = tuple(state.held for state in states)
    return Turning(angle=angles * u.deg, declination_torque=torques[0] * u.N * u.m,
                   right_ascension_torque=torques[1] * u.N * u.m, held=held,
                   text=_words(angles, held, np.max(torques, axis=0)))


def _turned_part(part: TubePart, axis: Rotator, angle: u.Quantity[u.deg]) -> TubePart:
    one, other = _SQUARE[axis.direction]
    x, y = (getattr(part, place) - getattr(axis, place) for place in (one, other))
    c, s = np.cos(angle).value, np.sin(angle).value
    return replace(part, **{one: getattr(axis, one) + c * x - s * y, other: getattr(axis, other) + s * x + c * y})


def _words(angles: np.ndarray, held: tuple[bool, ...], torques: np.ndarray) -> str:
    if all(held):
        return "Turn the camera as you like: friction holds both axes at every angle of it."
    start, worst = int(np.flatnonzero(angles == 0)[0]), int(np.argmax(torques))
    finding = f"at {signed(angles[worst])} up to {torques[worst]:.2f} N m are left"
    if not held[start]:
        return f"Camera: as it stands it is not held; turned, {finding}."
    left = next((i for i in range(start, -1, -1) if not held[i]), None)
    right = next((i for i in range(start, len(held)) if not held[i]), None)
    low = signed(-180 if left is None else angles[left + 1])
    high = signed(180 if right is None else angles[right - 1])
    return (f"Camera: turned by {low} to {high} both axes are held; {finding}: balance again after turning it so far, "
            "as a rotator does that turns the picture back after a flip.")
