"""A trail on the sky: right ascension and declination, its rate, and which error of the mount would draw it.

A trail does not tell which way the star went: everything here comes for both senses. Position angles run from north
through east. Rates are true arcsec on the sky, right ascension positive where the star went east.
"""

import math
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from astropy import units as u

from planner.checks import Rule, check, require_positive
from planner.constants import SIDEREAL_RATE
from planner.fields import Key
from planner.measure.stars.star_field import Trail
from planner.tracking import smooth_track
from planner.tracking.polar_axis import STANDARD_PRESSURE

POLAR_STEP = 1 * u.arcmin
RATE_STEP_PPM = 1000.0
# An error of the axis that moves the star less than this share of its largest effect explains nothing here.
LEAST_EFFECT = 0.1
LEAST_DRIVE = 1e-9  # arcsec per ppm: nearer to the pole the drive hardly moves the star
RATE = u.arcsec / u.min


@dataclass(frozen=True)
class Orientation:
    """How the camera lies on the sky: steps of one pixel along (column, row) to (east, north) [arcsec], (2, 2)."""

    matrix: np.ndarray

    @classmethod
    def from_angle(cls, image_scale: u.Quantity, camera_angle: u.Quantity = 0 * u.deg, *,
                   mirrored: bool = False) -> "Orientation":
        """Return the orientation of a camera whose rows point at a position angle.

        `image_scale` [arcsec/pix]. `camera_angle` [deg]: position angle of the direction in which row numbers grow.
        `mirrored`: east lies to the left of north (towards lower columns) unless the image is mirrored.
        """
        scale = require_positive("image_scale", image_scale, u.arcsec / u.pix, "Give the sky one pixel sees.").value
        angle = check("camera_angle", camera_angle, Rule(unit=u.deg, kind="quantity", at_least=-360, at_most=360,
                                                         remedy="Give the position angle.")).to_value(u.rad)
        side = -1 if not mirrored else 1
        up = np.array([math.sin(angle), math.cos(angle)])
        right = side * np.array([math.cos(angle), -math.sin(angle)])
        return cls(scale * np.column_stack([right, up]))

    @property
    def image_scale(self) -> u.Quantity:
        """Geometric mean over both directions."""
        return math.sqrt(abs(np.linalg.det(self.matrix))) * u.arcsec / u.pix

    def position_angle(self, angle: u.Quantity) -> u.Quantity:
        """Return the position angle, 0 to 180 deg, of directions counted from +x towards +y; any shape."""
        direction = np.stack([np.cos(angle.to_value(u.rad)), np.sin(angle.to_value(u.rad))])
        east, north = np.tensordot(self.matrix, direction, 1)
        return np.degrees(np.arctan2(east, north)) % 180 * u.deg

    def sky(self, x: np.ndarray, y: np.ndarray) -> tuple[u.Quantity, u.Quantity]:
        """Return steps in pixels as steps to the east and north, same shape."""
        east, north = np.tensordot(self.matrix, np.stack([x, y]), 1)
        return east * u.arcsec, north * u.arcsec


@dataclass(frozen=True, kw_only=True)
class Cause:
    """What explains a trail if the star went in one of its two senses; None where the place of the star is unknown."""

    ra_rate: Annotated[u.Quantity[u.arcsec / u.min], "motion in RA"]
    dec_rate: Annotated[u.Quantity[u.arcsec / u.min], "motion in Dec"]
    rate_error_ppm: Annotated[float | None, "of the drive, if it alone moved the stars in RA; too fast: positive"]
    polar_least: Annotated[u.Quantity[u.arcmin] | None, "smallest angle between axis and pole that does so in Dec"]
    polar_altitude_error: Annotated[u.Quantity[u.arcmin] | None, "if the azimuth is right; null if none explains it"]
    polar_azimuth_error: Annotated[u.Quantity[u.arcmin] | None, "if the altitude is right; null if none explains it"]


@dataclass(frozen=True, kw_only=True)
class SkyTrail:
    """A trail on the sky and its two readings."""

    length: Annotated[u.Quantity[u.arcsec], "of the trail"]
    error: Annotated[u.Quantity[u.arcsec], "of the length"]
    position_angle: Annotated[u.Quantity[u.deg], "0 to 180, from north through east"]
    ra: Annotated[u.Quantity[u.arcsec], "of the reading that goes north, or east along RA"]
    dec: Annotated[u.Quantity[u.arcsec], "of that reading"]
    rate: Annotated[u.Quantity[u.arcsec / u.min] | None, "of the motion"]
    rate_error: Annotated[u.Quantity[u.arcsec / u.min] | None, "of the rate"]
    causes: Annotated[tuple[Cause, ...], "that reading, then the opposite one", Key("either_of")]


def sky_trail(trail: Trail, orientation: Orientation, *, exposure: u.Quantity | None = None,
              declination: u.Quantity | None = None, hour_angle: u.Quantity | None = None,
              latitude: u.Quantity | None = None, pressure: u.Quantity = STANDARD_PRESSURE) -> SkyTrail:
    """Return a trail as it lies on the sky, and what would explain it.

    Parameters
    ----------
    exposure : Quantity [s], scalar, optional
    declination : Quantity [angle], scalar, optional
    hour_angle : Quantity [angle], scalar, optional
        At the start of the exposure, west positive.
    latitude : Quantity [angle], scalar, optional
    pressure : Quantity [hPa], scalar
        Of the air; what refraction moves is taken off before the mount is blamed.

    Returns
    -------
    SkyTrail
        Without exposure there is no rate and no cause. Without declination, hour angle and latitude refraction stays in
        the causes, and the axis cannot be told by altitude and azimuth.
    """
    x, y = np.cos(trail.angle.to_value(u.rad)), np.sin(trail.angle.to_value(u.rad))
    pixels, error = trail.length.to_value(u.pix), trail.error.to_value(u.pix)
    ra, dec = orientation.sky(pixels * x, pixels * y)
    if dec.value < 0 or (dec.value == 0 and ra.value < 0):
        ra, dec = -ra, -dec
    stretch = np.hypot(*(part.value for part in orientation.sky(x, y))) * u.arcsec
    causes: tuple[Cause, ...] = ()
    rate = rate_error = None
    if exposure is not None:
        rate, rate_error = ((value * stretch / exposure).to(RATE) for value in (pixels, error))
        causes = tuple(cause_of(sign * ra, sign * dec, exposure, declination=declination, hour_angle=hour_angle,
                                latitude=latitude, pressure=pressure) for sign in (1, -1))
    return SkyTrail(
        length=pixels * stretch, error=error * stretch, position_angle=orientation.position_angle(trail.angle),
        ra=ra, dec=dec, rate=rate, rate_error=rate_error, causes=causes)


@dataclass(frozen=True)
class _Effects:
    """Motion over the exposure in arcsec (ra, dec): of the air alone, and per step of each error of the mount."""

    still: np.ndarray
    drive: np.ndarray
    altitude: np.ndarray
    azimuth: np.ndarray
    largest: float  # declination motion of one polar step where it does most


def _effects(exposure: u.Quantity, declination: u.Quantity | None, hour_angle: u.Quantity | None,
             latitude: u.Quantity | None, pressure: u.Quantity) -> _Effects | None:
    if declination is None or hour_angle is None or latitude is None:
        return None
    turned = (SIDEREAL_RATE * exposure).to(u.deg)

    def moved(**changes: Any) -> np.ndarray:
        track = smooth_track(latitude=latitude, declination=declination, pressure=pressure,
                             hour_angle=u.Quantity([hour_angle, hour_angle + turned]), **changes)
        return np.array([part[-1].to_value(u.arcsec) - part[0].to_value(u.arcsec) for part in (track.ra, track.dec)])

    still = moved()
    drive, altitude, azimuth = (moved(**changes) - still for changes in (
        {"rate_error_ppm": RATE_STEP_PPM}, {"polar_altitude_error": POLAR_STEP}, {"polar_azimuth_error": POLAR_STEP}))
    return _Effects(still, drive, altitude, azimuth, POLAR_STEP.to_value(u.arcsec) * turned.to_value(u.rad))


def cause_of(ra: u.Quantity, dec: u.Quantity, exposure: u.Quantity, *, declination: u.Quantity | None,
             hour_angle: u.Quantity | None, latitude: u.Quantity | None,
             pressure: u.Quantity = STANDARD_PRESSURE) -> Cause:
    """Return what would move a star so far (arcsec, east and north positive); parameters of `sky_trail`."""
    effects = _effects(exposure, declination, hour_angle, latitude, pressure)
    rates = {"ra_rate": (ra / exposure).to(RATE), "dec_rate": (dec / exposure).to(RATE)}
    east, north = ra.to_value(u.arcsec), dec.to_value(u.arcsec)
    turned = (SIDEREAL_RATE * exposure).to_value(u.rad)
    if effects is None:
        moved = None if declination is None else np.degrees(turned) * 3600e-6 * np.cos(declination.to_value(u.rad))
        return Cause(**rates, rate_error_ppm=None if not moved or abs(moved) < LEAST_DRIVE else float(east / moved),
                     polar_least=abs(north) / turned * u.arcsec.to(u.arcmin) * u.arcmin, polar_altitude_error=None,
                     polar_azimuth_error=None)
    east, north = east - effects.still[0], north - effects.still[1]

    def alone(effect: np.ndarray) -> u.Quantity | None:
        return None if abs(effect[1]) < LEAST_EFFECT * effects.largest else north / effect[1] * POLAR_STEP

    ppm = None if abs(effects.drive[0]) < LEAST_DRIVE * RATE_STEP_PPM else float(
        east / effects.drive[0] * RATE_STEP_PPM)
    return Cause(**rates, rate_error_ppm=ppm, polar_least=abs(north) / effects.largest * POLAR_STEP,
                 polar_altitude_error=alone(effects.altitude), polar_azimuth_error=alone(effects.azimuth))
