"""Altitude of a star at an hour angle, the air left out."""

from typing import Any

import numpy as np


def sine_of_altitude(latitude: float, declination: float, hour_angle: float | np.ndarray) -> Any:
    """Compute sin h = sin φ sin δ + cos φ cos δ cos H on plain floats [rad]."""
    return np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
