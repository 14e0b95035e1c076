"""Where a star drifts on the sensor over a night: everything about the mount that changes smoothly.

+ra: the star appears east of where the mount holds it; +dec: north; rotation: sky against sensor, north through
east. All on the sky, relative to the first point of the track.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import check_units
from planner.errors import InvalidInputError
from planner.rig.choices import DriveRate, PierSide
from planner.tracking.drive import king_turn
from planner.tracking.flexure import flexure_track_kernel
from planner.tracking.mount_frame import (
    Array,
    MountGeometry,
    axes_towards,
    field_directions,
    field_map,
    refracted,
    refraction_pair,
    rotation_of,
    sensor_place,
    tube_axes,
    undrooped,
)
from planner.tracking.pointing_model import PointingTerms, geometry_of
from planner.tracking.polar_axis import STANDARD_PRESSURE, STANDARD_TEMPERATURE, VISUAL, pole_turn

RATES = ("sidereal", "king", "model")
ARCSEC_RAD = np.pi / 648000
STILL = 0 * u.arcsec / u.h
LEAST_HOLD = 0.1  # a tenth of the way from the pole to the guide star is left to the centre: beyond, nothing is known


@dataclass(frozen=True)
class SmoothTrack:
    """The path of a star over the sensor, sampled along the hour angle."""

    hour_angle: u.Quantity  # deg (n,), increasing
    ra: u.Quantity  # arcsec (n,), true on the sky
    dec: u.Quantity  # arcsec (n,)
    rotation: u.Quantity  # deg (n,), of the sky against the sensor
    field_map: Array  # (n, 2, 2): (east, north) of a star from the centre at the first point -> now; refraction too


@check_units
def smooth_track(
    *, latitude: u.Quantity[u.deg], declination: u.Quantity[u.deg], hour_angle: u.Quantity[u.deg],
    polar_altitude_error: u.Quantity[u.arcmin] = 0 * u.arcmin, polar_azimuth_error: u.Quantity[u.arcmin] = 0 * u.arcmin,
    rate: DriveRate = "sidereal", rate_error_ppm: float = 0.0, flexure_ra: u.Quantity[u.arcsec / u.h] = STILL,
    flexure_dec: u.Quantity[u.arcsec / u.h] = STILL, pressure: u.Quantity[u.hPa] = STANDARD_PRESSURE,
    temperature: u.Quantity = STANDARD_TEMPERATURE, wavelength: u.Quantity[u.nm] = VISUAL,
    pointing_terms: PointingTerms | None = None, pier_side: PierSide = "east",
) -> SmoothTrack:
    """Return where the star drifts while the mount follows it unguided.

    Parameters
    ----------
    latitude, declination : Quantity [angle], scalar
        Of the site, and of the target (true, of date).
    hour_angle : Quantity [angle], (n,)
        True hour angles along the track, increasing; steps of a degree are fine enough for `exposure_motion`.
    polar_altitude_error, polar_azimuth_error : Quantity [angle], scalar
        Axis too high, axis east of the elevated pole: positive.
    rate : "sidereal", "king" or "model"
        What the drive follows: the sidereal rate; King's rate for an axis at the refracted pole; or, on both axes, the
        target's apparent place through a model that knows the mount's axis and terms.
    rate_error_ppm : float
        Parts per million by which the drive runs too fast; -1e6 is a drive that stands still.
    flexure_ra, flexure_dec : Quantity [arcsec/h], scalar or (n,)
        Creep of the star to the east and north that no model knows.
    pressure, temperature, wavelength : Quantity, scalar
        For refraction; no pressure, no refraction.
    pointing_terms : PointingTerms, optional
        Of the mount; they hold its polar axis too.
    pier_side : "east" or "west"
        Where the telescope is.

    Returns
    -------
    SmoothTrack
        Arrays (n,). Below 2.9 deg of altitude refraction stands still.

    Raises
    ------
    InvalidInputError
        For fewer than two or not increasing hour angles, an unknown rate or pier side, or a polar axis given twice.
    """
    geometry = mount_geometry(latitude, polar_altitude_error, polar_azimuth_error, pointing_terms, pier_side)
    h = _increasing(hour_angle)
    constants = refraction_pair(pressure, temperature, wavelength)
    flexure = (flexure_ra.to_value(u.arcsec / u.s), flexure_dec.to_value(u.arcsec / u.s))
    return smooth_track_kernel(geometry, latitude.to_value(u.rad), declination.to_value(u.rad), h, rate, rate_error_ppm,
                         constants, flexure)


def smooth_track_kernel(
    geometry: MountGeometry, latitude: float, declination: float, h: Array, rate: DriveRate = "sidereal",
    rate_error_ppm: float = 0.0, constants: tuple[float, float] = (0.0, 0.0),
    flexure_arcsec_per_s: tuple[Any, Any] = (0.0, 0.0),
) -> SmoothTrack:
    """Compute `smooth_track` from a mount's geometry and angles in radians."""
    places = _unguided_places(geometry, latitude, declination, h, rate, rate_error_ppm, constants)
    creep = np.stack([flexure_track_kernel(part, h) for part in flexure_arcsec_per_s], axis=-1) * ARCSEC_RAD
    return _track(h, places[0] - places[0, :1] + creep, field_map(places))


def mount_geometry(latitude: u.Quantity, altitude_error: u.Quantity, azimuth_error: u.Quantity,
              terms: PointingTerms | None, pier_side: PierSide) -> MountGeometry:
    """Return the mount's geometry from polar errors or from a model, never from both."""
    geometry = geometry_of(terms, latitude.to_value(u.rad), pier_side)
    if altitude_error == 0 and azimuth_error == 0:
        return geometry
    if terms is not None and (terms.polar_altitude != 0 or terms.polar_azimuth != 0):
        raise InvalidInputError("pointing_terms",
                                f"polar_altitude {terms.polar_altitude:g}, polar_azimuth {terms.polar_azimuth:g}",
                                "must not hold a polar axis beside polar errors",
                                "Give the axis once: in the terms, or as altitude and azimuth errors.")
    pole = pole_turn(*(angle.to_value(u.rad) for angle in (latitude, altitude_error, azimuth_error)))
    return MountGeometry(**{**vars(geometry), "pole": pole})


def _increasing(hour_angle: u.Quantity) -> Array:
    h = hour_angle.to_value(u.rad)
    if h.ndim != 1 or h.size < 2 or not np.all(np.diff(h) > 0):
        raise InvalidInputError("hour_angle", hour_angle, "must be two or more values that increase",
                                "Give the hour angles along the track in order.")
    return h


def _seen_field(geometry: MountGeometry, declination: float, h: Array, constants: tuple[float, float]) -> Array:
    """Return the refracted directions (5, n, 3) of the target and its neighbours, before the tube's droop."""
    return undrooped(refracted(field_directions(h, declination), geometry.zenith, constants), geometry)


def _unguided_places(geometry: MountGeometry, latitude: float, declination: float, h: Array, rate: DriveRate,
                     rate_error_ppm: float, constants: tuple[float, float]) -> Array:
    """Return where target and neighbours fall on the sensor, (5, n, 2) in radians."""
    seen = _seen_field(geometry, declination, h, constants)
    if rate not in RATES:
        raise InvalidInputError("rate", rate, "must be sidereal, king or model", "Choose what the drive follows.")
    if rate == "model":
        axis1, axis2 = axes_towards(geometry, seen[0])
    else:
        start1, axis2 = axes_towards(geometry, seen[0, 0])
        turned = h - h[0] if rate == "sidereal" else king_turn(latitude, declination, h, constants)
        axis1 = start1 + turned
    axis1 = axis1 + rate_error_ppm * 1e-6 * (h - h[0])
    return sensor_place(tube_axes(geometry, axis1, np.broadcast_to(axis2, h.shape)), seen)


def _track(h: Array, offset_rad: Array, maps: Array) -> SmoothTrack:
    ra, dec = (np.degrees(offset_rad.T) * 3600) * u.arcsec
    return SmoothTrack(np.degrees(h) * u.deg, ra, dec, np.degrees(rotation_of(maps)) * u.deg, maps)


@check_units
def guided_track(
    *, latitude: u.Quantity[u.deg], declination: u.Quantity[u.deg], hour_angle: u.Quantity[u.deg],
    guide_star_offset: u.Quantity[u.deg],
    polar_altitude_error: u.Quantity[u.arcmin] = 0 * u.arcmin, polar_azimuth_error: u.Quantity[u.arcmin] = 0 * u.arcmin,
    pressure: u.Quantity[u.hPa] = STANDARD_PRESSURE, temperature: u.Quantity = STANDARD_TEMPERATURE,
    wavelength: u.Quantity[u.nm] = VISUAL, pointing_terms: PointingTerms | None = None, pier_side: PierSide = "east",
) -> SmoothTrack:
    """Return the drift of the field centre that is left when a guide star is held.

    The field turns about the guide star (1/cos dec, not cos dec) and is squeezed by differential refraction. Everything
    else the loop removes: `guide_loop` says how well.

    `guide_star_offset` (2,): guide star east and north of the field centre. `latitude`, `declination`, `hour_angle`,
    `polar_altitude_error`, `polar_azimuth_error`, `pressure`, `temperature`, `wavelength`, `pointing_terms` and
    `pier_side`: as for `smooth_track`.
    Arrays (n,), for the field centre; `field_map` and `rotation` carry it to any other place.
    Raises InvalidInputError as for `smooth_track`.
    Holding the star moves the mount in right ascension, and near the pole that turns the field further. Within 2 % of
    rigid rotations for a guide star 1 deg away at 85 deg of declination, 5 % at 88 deg.
    """
    geometry = mount_geometry(latitude, polar_altitude_error, polar_azimuth_error, pointing_terms, pier_side)
    h = _increasing(hour_angle)
    constants = refraction_pair(pressure, temperature, wavelength)
    return guided_track_kernel(geometry, declination.to_value(u.rad), h, guide_star_offset.to_value(u.rad), constants)


def guided_track_kernel(geometry: MountGeometry, declination: float, h: Array, offset: Array,
                        constants: tuple[float, float] = (0.0, 0.0)) -> SmoothTrack:
    """Compute `guided_track` from a mount's geometry and angles in radians."""
    seen = _seen_field(geometry, declination, h, constants)
    places = sensor_place(tube_axes(geometry, *axes_towards(geometry, seen[0])), seen)
    maps = field_map(places)
    return _track(h, *_turned_by_holding((np.eye(2) - maps) @ offset, maps, offset, declination))


def _turned_by_holding(centre: Array, maps: Array, offset: Array, declination: float) -> tuple[Array, Array]:
    """Return drift (n, 2) and field maps (n, 2, 2) with the turn that the mount's own corrections in RA add.

    A move s_e eastward turns the camera by s_e tan(dec) about the centre, which moves the star that is held again:
    s = c + s_e tan(dec) (o_n, -o_e). A star as far from the centre as the pole cannot be held in RA.
    """
    tangent = np.tan(declination)
    east = centre[:, 0] / max(1 - tangent * offset[1], LEAST_HOLD)
    turn = east * tangent
    north = centre[:, 1] - turn * offset[0]
    turned = np.eye(2) + turn[:, None, None] * np.array([[0, -1], [1, 0]])
    return np.stack([east, north], axis=-1), turned @ maps
