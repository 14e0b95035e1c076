"""Altitude and azimuth of a star at an hour angle, the air left out."""

from typing import Any

import numpy as np


def horizontal(hour_angle: float | np.ndarray, sine: float | np.ndarray, cosine: float | np.ndarray,
               latitude: float | np.ndarray) -> Any:
    """Compute altitude and azimuth [rad] from hour angle and declination's sine and cosine; they broadcast."""
    along = cosine * np.cos(hour_angle)
    east = -cosine * np.sin(hour_angle)
    north = np.cos(latitude) * sine - np.sin(latitude) * along
    up = np.sin(latitude) * sine + np.cos(latitude) * along
    return np.arctan2(up, np.hypot(east, north)), np.mod(np.arctan2(east, north), 2 * np.pi)
