"""Balance: what torque is left on each axis, over all directions of the tube."""

import math
from dataclasses import dataclass
from typing import Annotated

from astropy import units as u

from planner.constants import STANDARD_GRAVITY
from planner.pier.balance.model import Assembly

_MM_KG = u.mm * u.kg
# With its clutch open an axis holds what a shift of all that moves by this brings (common practice, no source).
HELD_SHIFT = 1 * u.mm


@dataclass(frozen=True, kw_only=True)
class Balance:
    """What is left on each axis.

    Moments are mass times distance; torques are the largest over all directions of the tube.
    """

    tube_mass: Annotated[u.Quantity[u.kg], "of the tube's parts"]
    moving_mass: Annotated[u.Quantity[u.kg], "tube, counterweights, bar and housing"]
    pier_load: Annotated[u.Quantity[u.kg], "all of it, with the fixed part of the mount"]
    centre_along: Annotated[u.Quantity[u.mm], "of the tube's parts, from the declination axis"]
    centre_across: Annotated[u.Quantity[u.mm], "of the tube's parts"]
    centre_distance: Annotated[u.Quantity[u.mm], "of the tube's parts from the right-ascension axis"]
    declination_moment: Annotated[u.Quantity[u.kg * u.mm], "along the tube, sky end heavy: positive"]
    across_moment: u.Quantity[u.kg * u.mm]
    declination_torque: Annotated[u.Quantity[u.N * u.m], "largest over all directions of the tube"]
    right_ascension_moment: Annotated[u.Quantity[u.kg * u.mm], "tube side heavy: positive"]
    right_ascension_torque: Annotated[u.Quantity[u.N * u.m], "largest over all directions of the tube"]
    friction: Annotated[u.Quantity[u.N * u.m], "that holds each axis with its clutch open"]
    declination_allowed: u.Quantity[u.N * u.m]  # friction, and the bias that is wanted
    right_ascension_allowed: u.Quantity[u.N * u.m]
    payload_share: Annotated[float | None, "of what the mount is rated for; null without a rating"]
    payload_within_limit: Annotated[bool | None, "null without a rating"]

    @property
    def held(self) -> Annotated[bool, "whether friction holds both axes, wherever the tube points"]:
        """Whether friction holds both axes, wherever the tube points, but for a bias that is wanted."""
        return bool(self.declination_torque <= self.declination_allowed
                    and self.right_ascension_torque <= self.right_ascension_allowed)


def imbalance_torque(moment: u.Quantity[u.kg * u.mm], *, axis_altitude: u.Quantity[u.deg] = 0 * u.deg
                     ) -> u.Quantity[u.N * u.m]:
    r"""Return the largest torque that an unbalanced moment puts on an axis.

    .. math:: T = m\,d\,g\,\cos a

    Parameters
    ----------
    moment : Quantity [kg mm], any shape
        Unbalanced mass times its distance from the axis.
    axis_altitude : Quantity [deg], any shape that broadcasts
        Of the axis above the horizon: only the part of gravity square to the axis turns it. The polar axis
        stands at the latitude; the declination axis comes to the horizontal, which is the default.

    Returns
    -------
    Quantity [N m], broadcast shape
        For the direction in which the mass stands level with the axis. The sign of the moment is kept.
    """
    return (moment * STANDARD_GRAVITY * abs(math.cos(axis_altitude.to_value(u.rad)))).to(u.N * u.m)


def balance(assembly: Assembly, *, latitude: u.Quantity[u.deg] = 0 * u.deg) -> Balance:
    """Return masses, centre of mass and the moment and torque left on each axis.

    `latitude`: of the site: the altitude of the polar axis. 0 gives the largest torque there can be.
    The torque about the right-ascension axis is the largest over all directions of the tube: the root of the
    squares of the moment about that axis and of those along and across the tube, which turning about the declination
    axis brings square to it. The declination torque is that of the latter two together.
    """
    parts = assembly.parts
    tube = sum(part.mass.value for part in parts)
    along = sum(part.mass.value * part.along.value for part in parts)
    across = sum(part.mass.value * part.across.value for part in parts)
    outward = sum(part.mass.value * (assembly.saddle_distance + part.height).value for part in parts)
    weights = sum(weight.mass.value for weight in assembly.counterweights)
    moving = tube + weights + assembly.bar.mass.value + assembly.housing_mass.value
    around_polar = _polar_moment(assembly)
    friction = imbalance_torque(moving * u.kg * HELD_SHIFT) if assembly.friction is None else assembly.friction
    share = None if assembly.payload is None else float(tube / assembly.payload.value)
    return Balance(
        tube_mass=tube * u.kg, moving_mass=moving * u.kg, pier_load=moving * u.kg + assembly.fixed_mass,
        centre_along=along / tube * u.mm, centre_across=across / tube * u.mm, centre_distance=outward / tube * u.mm,
        declination_moment=along * _MM_KG, across_moment=across * _MM_KG,
        declination_torque=imbalance_torque(math.hypot(along, across) * _MM_KG),
        right_ascension_moment=around_polar * _MM_KG,
        right_ascension_torque=imbalance_torque(math.hypot(around_polar, along, across) * _MM_KG,
                                                axis_altitude=latitude),
        friction=friction, declination_allowed=friction + assembly.declination_bias,
        right_ascension_allowed=friction + (assembly.bias**2 + assembly.declination_bias**2) ** 0.5,
        payload_share=share, payload_within_limit=None if share is None else share <= assembly.payload_limit)


def _polar_moment(assembly: Assembly) -> float:
    """Return the moment about the right-ascension axis [kg mm], tube side positive."""
    tube_side = sum(part.mass.value * (assembly.saddle_distance + part.height).value for part in assembly.parts)
    housing = assembly.housing_mass.value * assembly.housing_position.value
    bar = assembly.bar.mass.value * assembly.bar.centre.value
    weights = sum(weight.mass.value * weight.position.value for weight in assembly.counterweights)
    return tube_side + housing - bar - weights
