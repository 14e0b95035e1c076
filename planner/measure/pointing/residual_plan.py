"""Where on the sky a pointing fit misses, and which way: azimuth and altitude of each sighting, and its residual there.

Azimuth counts from north through east.
"""

from dataclasses import dataclass

import numpy as np

from planner.measure.pointing.results import PointingData, PointingFit
from planner.visibility.kernels.pieces import horizontal
from planner.visibility.places import parallactic_angle

LONGEST_DEG = 14.0  # of the longest arrow on the plan
ROUND_FACTORS = (1.0, 2.0, 5.0)


@dataclass(frozen=True)
class ResidualPlan:
    """One arrow per sighting, (n,): from where it was taken, along the residual."""

    azimuth_deg: np.ndarray
    altitude_deg: np.ndarray
    across_arcsec: np.ndarray  # of the residual, towards growing azimuth, on the sky
    up_arcsec: np.ndarray
    tip_azimuth_deg: np.ndarray  # where the arrow ends, its length stretched
    tip_altitude_deg: np.ndarray
    stretch: float  # degrees drawn per arcsec
    pier_side: tuple[str, ...]
    outlier: np.ndarray  # bool


def residual_plan(data: PointingData, fit: PointingFit) -> ResidualPlan:
    """Return the residuals of a fit on a plan of the sky.

    `data`: the sightings that were fitted, n.
    Arrows are stretched by a round factor, the same for all, such that the longest good one spans a few degrees; an
    outlier's may be longer and is cut to that length. The plan's azimuths are drawn as wide at every altitude.
    """
    hour, dec, phi = (angle.to_value("rad") for angle in (data.hour_angle, data.declination, data.latitude))
    altitude, azimuth = horizontal(hour, np.sin(dec), np.cos(dec), phi)
    zenith = parallactic_angle(data.hour_angle, data.declination, data.latitude).to_value("rad")
    east, north = fit.residual.to_value("arcsec").T
    up = north * np.cos(zenith) + east * np.sin(zenith)
    across = north * np.sin(zenith) - east * np.cos(zenith)
    outlier = np.zeros(hour.size, dtype=bool)
    outlier[fit.outliers] = True
    size = np.hypot(up, across)
    stretch = _round_factor(LONGEST_DEG / max(float(np.max(size[~outlier], initial=0.0)), 1e-6))
    drawn = np.minimum(stretch, LONGEST_DEG / np.maximum(size, 1e-9))
    azimuth_deg, altitude_deg = np.degrees(azimuth), np.degrees(altitude)
    return ResidualPlan(
        azimuth_deg=azimuth_deg, altitude_deg=altitude_deg, across_arcsec=across, up_arcsec=up,
        tip_azimuth_deg=azimuth_deg + drawn * across, tip_altitude_deg=altitude_deg + drawn * up,
        stretch=stretch, pier_side=data.pier_side, outlier=outlier)


def _round_factor(largest: float) -> float:
    """Return the largest of 1, 2, 5, 10, … that is not above a number."""
    power = 10.0 ** np.floor(np.log10(largest))
    return float(max(factor * power for factor in ROUND_FACTORS if factor * power <= largest * (1 + 1e-9)))
