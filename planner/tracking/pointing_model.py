"""The pointing model: seven constant angles of a mount, as rigid rotations, for both sides of the pier.

"East": telescope east of the pier, where the axes read hour angle and declination directly. "West": through the pole,
axis 1 at hour angle + 180 deg and axis 2 at 180 deg - declination; displayed angles are reduced to the direct form.
The signs are those of the frame in `mount_frame`. The seven geometrical terms are those of P. T. Wallace, Proc. SPIE
4848, 125 (2002), derived anew.
"""

from dataclasses import dataclass, fields, replace
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.checks import Model, quantity
from planner.errors import InvalidInputError
from planner.rig.choices import PIER_SIDES, PierSide
from planner.tracking.mount_frame import (
    MountGeometry,
    turn_x,
    turn_y,
    zenith_of,
)

ZERO = "0 arcsec"
POLE = ("polar_altitude", "polar_azimuth")  # the terms of the polar axis


@dataclass(frozen=True, kw_only=True)
class PointingTerms(Model):
    """The seven terms of a pointing model."""

    hour_angle_zero: u.Quantity[u.arcsec] = quantity("arcsec", default=ZERO, meaning="zero point of the polar axis")
    declination_zero: u.Quantity[u.arcsec] = quantity("arcsec", default=ZERO,
                                                      meaning="zero point of the declination axis")
    collimation: u.Quantity[u.arcsec] = quantity("arcsec", default=ZERO,
                                                 meaning="tube not square to the declination axis")
    axes_not_square: u.Quantity[u.arcsec] = quantity("arcsec", default=ZERO, meaning="axes not square to each other")
    polar_altitude: u.Quantity[u.arcsec] = quantity("arcsec", default=ZERO,  # its north end, in either hemisphere
                                                    meaning="polar axis in altitude (too high +)")
    polar_azimuth: u.Quantity[u.arcsec] = quantity("arcsec", default=ZERO,  # on the sky
                                                   meaning="polar axis in azimuth (east +)")
    tube_flexure: u.Quantity[u.arcsec] = quantity("arcsec", default=ZERO,  # drop per sine of the zenith distance
                                                  meaning="tube bends down by its own weight")


NORTHERN: dict[str, str] = {item.name: item.metadata["rule"].meaning for item in fields(PointingTerms)}
SOUTHERN = {**NORTHERN, "polar_altitude": "polar axis in altitude (too low +)",
            "polar_azimuth": "polar axis in azimuth (west +)"}
TERM_NAMES = tuple(NORTHERN)


def term_meanings(latitude: u.Quantity[u.deg]) -> dict[str, str]:
    """Return what each term means to an observer there, who sees the upper end of the axis."""
    return SOUTHERN if latitude < 0 * u.deg else NORTHERN


@dataclass(frozen=True)
class PolarError:
    """The polar axis of a pointing model in the observer's terms, as `smooth_track` takes them."""

    altitude_error: Annotated[u.Quantity[u.arcmin], "axis too high: positive"]
    azimuth_error: Annotated[u.Quantity[u.arcmin], "axis east of the pole: positive, an azimuth angle"]


def polar_error(terms: PointingTerms, *, latitude: u.Quantity[u.deg]) -> PolarError:
    """Return the polar axis that polar_altitude and polar_azimuth describe, as altitude and azimuth errors.

    `terms`: of the model; only its two pole terms count. `latitude`: of the site; towards the poles the azimuth error
    grows without meaning.
    Both Quantity [arcmin], exact for large errors too, in either hemisphere.
    """
    axis = geometry_of(terms, latitude.to_value(u.rad)).pole[:, 2]
    phi = latitude.to_value(u.rad)
    hemisphere = 1.0 if phi >= 0 else -1.0
    axis = axis * hemisphere
    north = np.array([-np.sin(phi), 0.0, np.cos(phi)]) * hemisphere
    altitude = np.arcsin(np.clip(axis @ zenith_of(phi), -1, 1))
    azimuth = np.arctan2(axis[1], axis @ north)
    return PolarError(((altitude - abs(phi)) * u.rad).to(u.arcmin), (azimuth * u.rad).to(u.arcmin))


def geometry_of(terms: PointingTerms | None, latitude_rad: float, pier_side: PierSide = "east") -> MountGeometry:
    """Return the mount's geometry in radians for a pier side; without terms a perfect mount."""
    if pier_side not in PIER_SIDES:
        raise InvalidInputError("pier_side", pier_side, "must be east or west",
                                "Name the side of the pier where the telescope is.")
    values = {name: getattr(terms, name).to_value(u.rad) if terms is not None else 0.0 for name in TERM_NAMES}
    return geometry_from(values, latitude_rad, reversed_side=pier_side == "west")


def geometry_from(values: dict[str, float], latitude_rad: float, *, reversed_side: bool = False) -> MountGeometry:
    """Return the geometry from the seven terms as floats in radians, for fits that vary them."""
    others = {name: value for name, value in values.items() if name not in POLE}
    pole = turn_x(-values["polar_azimuth"]) @ turn_y(values["polar_altitude"])
    return MountGeometry(zenith=zenith_of(latitude_rad), pole=pole, reversed=reversed_side, **others)


def without_pole(terms: PointingTerms) -> PointingTerms:
    """Return the terms with the polar axis on the pole: what is left after a perfect alignment."""
    return replace(terms, polar_altitude=0 * u.arcsec, polar_azimuth=0 * u.arcsec)
