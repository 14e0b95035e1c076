"""Flexure: parts that creep against each other as gravity turns past them."""

import numpy as np

from planner.constants import SIDEREAL_RAD_PER_S
from planner.errors import InvalidInputError
from planner.tracking.mount_frame import Array


def flexure_track_kernel(rate_arcsec_per_s: Array, hour_angle_rad: Array) -> Array:
    """Compute how far a star has crept since the first hour angle, in arcsec, on plain floats (n,).

    The rate on the sky is constant or given at each hour angle (linear between them).

    Raises InvalidInputError if there is neither one rate nor one for each hour angle.
    """
    rate = np.asarray(rate_arcsec_per_s)
    if rate.shape not in ((), hour_angle_rad.shape):
        raise InvalidInputError("flexure", f"{rate.size} rates", f"must be one rate or {hour_angle_rad.size}",
                                "Give one rate, or one for each hour angle.")
    seconds = hour_angle_rad / SIDEREAL_RAD_PER_S
    rate = np.broadcast_to(rate, seconds.shape)
    steps = np.diff(seconds) * (rate[1:] + rate[:-1]) / 2
    return np.concatenate([[0.0], np.cumsum(steps)])
