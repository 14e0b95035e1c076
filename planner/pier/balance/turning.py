"""The camera is turned to frame: at which angles both axes are still held."""

from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.checks import given
from planner.fields import Many
from planner.pier.balance.model import Assembly, signed
from planner.pier.balance.torque import Balance, balance, imbalance_torque

STEP = 5  # degrees between the angles that are tried
# The two places square to each direction, in the order in which a turn carries the first to the second.
_SQUARE = {"along": ("across", "height"), "across": ("height", "along"), "height": ("along", "across")}


@dataclass(frozen=True, kw_only=True)
class Turning:
    """What turning the camera does to the balance."""

    angle: Annotated[u.Quantity[u.deg], "from where the camera is", Many()]
    declination_torque: Annotated[u.Quantity[u.N * u.m], "at each angle", Many()]
    right_ascension_torque: Annotated[u.Quantity[u.N * u.m], "at each angle", Many()]
    held: Annotated[tuple[bool, ...], "whether friction holds both axes, at each angle"]
    text: str


def turning(assembly: Assembly, *, latitude: u.Quantity[u.deg] = 0 * u.deg) -> Turning | None:
    """Return the torque left at each angle of the camera, None where nothing turns.

    `latitude`: of the site, for the torque about the polar axis.
    """
    if not any(part.turns for part in assembly.parts):
        return None
    now = balance(assembly, latitude=latitude)
    angles = np.arange(STEP - 180, 181, STEP)
    along, across, around = _moments(assembly, now, np.radians(angles))
    declination = imbalance_torque(np.hypot(along, across) * u.kg * u.mm)
    right_ascension = imbalance_torque(np.sqrt(along**2 + across**2 + around**2) * u.kg * u.mm, axis_altitude=latitude)
    held = tuple((declination <= now.declination_allowed) & (right_ascension <= now.right_ascension_allowed))
    return Turning(angle=angles * u.deg, declination_torque=declination, right_ascension_torque=right_ascension,
                   held=tuple(bool(one) for one in held),
                   text=_words(angles, held, np.maximum(declination.value, right_ascension.value)))


def _moments(assembly: Assembly, now: Balance, angle: np.ndarray) -> list[np.ndarray]:
    """Return the moments along, across and about the right-ascension axis [kg mm] at each angle [rad]."""
    axis = given(assembly.rotator)
    moments = {"along": now.declination_moment.value, "across": now.across_moment.value,
               "height": now.right_ascension_moment.value}
    one, other = _SQUARE[axis.direction]
    x, y = (sum(part.mass.value * (getattr(part, place) - getattr(axis, place)).value
                for part in assembly.parts if part.turns) for place in (one, other))
    c, s = np.cos(angle), np.sin(angle)
    moments[one] = moments[one] + c * x - s * y - x
    moments[other] = moments[other] + s * x + c * y - y
    return [np.broadcast_to(moment, angle.shape) for moment in moments.values()]


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
