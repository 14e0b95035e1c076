"""The polar axis from declination drifts: one star near the meridian, one near the east or west horizon."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from astropy import units as u

from planner.constants import SIDEREAL_RATE
from planner.errors import InvalidInputError
from planner.measure.polar.alignment import PolarAlignment
from planner.tracking import polar_offset, refracted_pole, smooth_track
from planner.tracking.polar_axis import STANDARD_PRESSURE, STANDARD_TEMPERATURE

STEP_RAD = np.radians(1 / 60)
# Smallest ratio of what the runs tell of the worse angle to what they tell of the better one.
LEAST_BALANCE = 0.1


@dataclass(frozen=True, kw_only=True)
class DriftRun:
    """One unguided star: where it was at the start, and how fast it went north while the mount followed."""

    hour_angle: u.Quantity  # at the start, west positive
    declination: u.Quantity
    duration: u.Quantity
    dec_rate: u.Quantity  # arcsec/min, mean over the run, north positive
    dec_rate_error: u.Quantity = 0.02 * u.arcsec / u.min


def alignment_from_drift(
    runs: Sequence[DriftRun], *, latitude: u.Quantity, pressure: u.Quantity = STANDARD_PRESSURE,
    temperature: u.Quantity = STANDARD_TEMPERATURE,
) -> PolarAlignment:
    """Return the polar axis that explains two or more declination drifts.

    `runs`: at least two, at hour angles that differ by some hours. `latitude` [angle]: of the site. `pressure` and
    `temperature`: of the air, whose own drift is taken off; no pressure, no refraction.
    By Gauss-Newton steps on the rigid rotations of `smooth_track`; `scatter` and `radius` are None.
    Raises InvalidInputError if there are fewer than two runs, or their places cannot tell altitude from azimuth.
    """
    if len(runs) < 2:
        raise InvalidInputError("drift runs", len(runs), "must be at least two",
                                "Take one star near the meridian and one near the east or west horizon.")
    air = {"latitude": latitude, "pressure": pressure, "temperature": temperature}
    rates = np.array([run.dec_rate.to_value(u.arcsec / u.min) for run in runs])
    weights = 1 / np.maximum([run.dec_rate_error.to_value(u.arcsec / u.min) for run in runs], 1e-6)
    pole = np.zeros(2)
    for _ in range(8):
        predicted = _dec_rates(runs, pole, air)
        slopes = np.column_stack([(_dec_rates(runs, pole + STEP_RAD * unit, air) - predicted) / STEP_RAD
                                  for unit in np.eye(2)])
        _refuse_one_sided(slopes, latitude)
        change = np.linalg.lstsq(slopes * weights[:, None], (rates - predicted) * weights, rcond=None)[0]
        pole = pole + np.clip(change, -0.2, 0.2)
        if np.max(np.abs(change)) < 1e-10:
            break
    covariance = np.linalg.inv((slopes * weights[:, None]).T @ (slopes * weights[:, None]))
    return _alignment(pole, np.sqrt(np.diag(covariance)), air)


def _dec_rates(runs: Sequence[DriftRun], pole_rad: np.ndarray, air: dict[str, Any]) -> np.ndarray:
    """Return the mean declination rate of each run in arcsec/min (k,) for polar errors (altitude, azimuth)."""
    rates = []
    for run in runs:
        turned = (SIDEREAL_RATE * run.duration).to(u.deg)
        track = smooth_track(
            declination=run.declination, hour_angle=run.hour_angle + turned * np.array([0.0, 1.0]),
            polar_altitude_error=pole_rad[0] * u.rad, polar_azimuth_error=pole_rad[1] * u.rad, **air)
        rates.append(track.dec[-1].to_value(u.arcsec) / run.duration.to_value(u.min))
    return np.array(rates)


def _refuse_one_sided(slopes: np.ndarray, latitude: u.Quantity) -> None:
    """Refuse runs that all tell the same combination of both angles."""
    on_sky = slopes / np.array([1.0, max(np.cos(latitude.to_value(u.rad)), 1e-3)])
    strengths = np.linalg.svd(on_sky, compute_uv=False)
    if strengths[1] < LEAST_BALANCE * strengths[0]:
        raise InvalidInputError(
            "drift runs", len(slopes), "all tell the same combination of altitude and azimuth error",
            "Take one star near the meridian and one near the east or west horizon, six hours apart at best.")


def _alignment(pole_rad: np.ndarray, uncertainty_rad: np.ndarray, air: dict[str, u.Quantity]) -> PolarAlignment:
    values, errors = (np.degrees(angles) * 60 * u.arcmin for angles in (pole_rad, uncertainty_rad))
    return PolarAlignment(
        altitude_error=values[0], altitude_uncertainty=errors[0], azimuth_error=values[1],
        azimuth_uncertainty=errors[1], latitude=air["latitude"], refracted_pole=refracted_pole(**air),
        offset=polar_offset(latitude=air["latitude"], altitude_error=values[0], azimuth_error=values[1]),
    )
