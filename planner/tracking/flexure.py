"""Flexure: parts that creep against each other as gravity turns past them."""

import numpy as np
from astropy import units as u

from planner.checks import check_units
from planner.constants import SIDEREAL_RAD_PER_S
from planner.errors import InvalidInputError
from planner.tracking.mount_frame import Array


@check_units
def flexure_track(
    rate: u.Quantity[u.arcsec / u.h], hour_angle: u.Quantity[u.deg]
) -> u.Quantity[u.arcsec]:
    """Return how far a star has crept since the first hour angle.

    Parameters
    ----------
    rate : Quantity [arcsec/h], scalar or (n,)
        Creep on the sky, constant or at each hour angle (linear between them).
    hour_angle : Quantity [angle], (n,)
        Along the track, increasing.

    Returns
    -------
    Quantity [arcsec], (n,)
        0 at the first hour angle.

    Raises
    ------
    InvalidInputError
        If there is neither one rate nor one for each hour angle.
    """
    return flexure_track_kernel(rate.to_value(u.arcsec / u.s), hour_angle.to_value(u.rad)) * u.arcsec


def flexure_track_kernel(rate_arcsec_per_s: Array, hour_angle_rad: Array) -> Array:
    """Compute `flexure_track` in arcsec on plain floats."""
    rate = np.asarray(rate_arcsec_per_s)
    if rate.shape not in ((), hour_angle_rad.shape):
        raise InvalidInputError("flexure", f"{rate.size} rates", f"must be one rate or {hour_angle_rad.size}",
                                "Give one rate, or one for each hour angle.")
    seconds = hour_angle_rad / SIDEREAL_RAD_PER_S
    rate = np.broadcast_to(rate, seconds.shape)
    steps = np.diff(seconds) * (rate[1:] + rate[:-1]) / 2
    return np.concatenate([[0.0], np.cumsum(steps)])
