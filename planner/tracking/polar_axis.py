"""The polar axis: where it points against the celestial pole above the horizon.

Altitude error: positive if the axis points too high. Azimuth error: positive if it points east of the elevated pole,
counted as an azimuth angle, so that it acts through the cosine of the latitude. Both hold in either hemisphere.
"""

import numpy as np
from astropy import units as u

from planner.checks import check_units
from planner.tracking.mount_frame import Array, refracted, refraction_pair, turn_about, turn_y, zenith_of

STANDARD_PRESSURE = 1010 * u.hPa
STANDARD_TEMPERATURE = 10 * u.deg_C
VISUAL = 550 * u.nm


def pole_turn(latitude_rad: float, altitude_error_rad: float, azimuth_error_rad: float) -> Array:
    """Return the rotation (3, 3) that carries the true pole to the mount's, first in altitude, then in azimuth."""
    hemisphere = 1.0 if latitude_rad >= 0 else -1.0
    azimuth_turn = turn_about(zenith_of(latitude_rad), -hemisphere * azimuth_error_rad)
    return azimuth_turn @ turn_y(hemisphere * altitude_error_rad)


@check_units
def polar_offset(
    *, latitude: u.Quantity[u.deg], altitude_error: u.Quantity[u.arcmin], azimuth_error: u.Quantity[u.arcmin],
) -> u.Quantity[u.arcmin]:
    """Return the angle on the sky between the polar axis and the pole.

    `latitude`, `altitude_error` and `azimuth_error`: site, and how the axis is off: too high and east of the pole
    positive.
    Never negative; |azimuth error| x cos(latitude) where only the azimuth is off.
    """
    turn = pole_turn(latitude.to_value(u.rad), altitude_error.to_value(u.rad), azimuth_error.to_value(u.rad))
    return (np.arctan2(np.hypot(turn[0, 2], turn[1, 2]), turn[2, 2]) * u.rad).to(u.arcmin)


@check_units
def refracted_pole(
    *, latitude: u.Quantity[u.deg], pressure: u.Quantity[u.hPa] = STANDARD_PRESSURE,
    temperature: u.Quantity = STANDARD_TEMPERATURE, wavelength: u.Quantity[u.nm] = VISUAL,
) -> u.Quantity[u.arcmin]:
    """Return the altitude error of an axis that points at the refracted pole.

    `latitude`: within 2.9 deg of the equator the refraction of 2.9 deg altitude is used. `pressure`, `temperature` and
    `wavelength`: of the air at the site, and of the light. No pressure: no refraction.
    About 1' at latitude 45 deg; 0 at the poles.
    """
    constants = refraction_pair(pressure, temperature, wavelength)
    return (refracted_pole_kernel(latitude.to_value(u.rad), constants) * u.rad).to(u.arcmin)


def refracted_pole_kernel(latitude_rad: float, constants: tuple[float, float]) -> float:
    """Compute `refracted_pole` in radians from the refraction constants."""
    pole = np.array([0.0, 0.0, 1.0 if latitude_rad >= 0 else -1.0])
    seen = refracted(pole, zenith_of(latitude_rad), constants)
    return float(np.arctan2(seen[0], abs(seen[2])))
