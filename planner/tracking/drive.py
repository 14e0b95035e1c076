"""The right-ascension drive: its rates, its steps and its repeating errors."""

import numpy as np
from astropy import units as u

from planner.constants import SIDEREAL_RATE
from planner.errors import InvalidInputError
from planner.tracking.mount_frame import Array, hour_angle_about, refracted, sky_axes, zenith_of
from planner.tracking.polar_axis import (
    pole_turn,
    refracted_pole_kernel,
)

# Of a drive without repeating errors.
NO_PERIODS, NO_AMPLITUDES = np.zeros(0) * u.s, np.zeros(0) * u.arcsec


def sidereal_rate() -> u.Quantity[u.arcsec / u.s]:
    """Return the mean sidereal rate of an hour-angle axis, 15.04107 arcsec/s (IERS mean sidereal day)."""
    return SIDEREAL_RATE


def king_turn(latitude_rad: float, declination_rad: float, hour_angle_rad: Array,
               constants: tuple[float, float]) -> Array:
    """Return how far an axis at King's rate has turned since the first hour angle (n,), in radians."""
    pole = pole_turn(latitude_rad, refracted_pole_kernel(latitude_rad, constants), 0.0)
    seen = refracted(sky_axes(hour_angle_rad, declination_rad)[..., 0], zenith_of(latitude_rad), constants)
    turned = hour_angle_about(pole, seen, hour_angle_rad)
    return turned - turned[0]


def encoder_step(counts: int) -> u.Quantity[u.arcsec]:
    """Return the step of an axis encoder: 360 deg over its counts.

    `counts`: steps per turn; 2^24 give 0.077 arcsec.
    The position inside a step is unknown: a uniform error of step/sqrt(12) rms (`step_rms`).
    Raises InvalidInputError if the counts are not more than 0.
    """
    if not counts > 0:
        raise InvalidInputError("encoder_counts", counts, "must be more than 0", "Give the steps per turn of the axis.")
    return (360 * u.deg / counts).to(u.arcsec)


def step_rms(step: u.Quantity[u.arcsec]) -> u.Quantity[u.arcsec]:
    """Return the rms of a uniform error one step wide: step / sqrt(12), any shape."""
    return step / np.sqrt(12)


def drive_phases(count: int, terms: int) -> Array:
    """Return phases in radians (count, terms) that fill all combinations evenly, always the same.

    The first term runs through equal steps; the others follow the additive recurrence of the generalised golden
    ratio, which leaves no gaps for any count.
    """
    if count < 1:
        raise InvalidInputError("phases", count, "must be at least 1", "Give the number of drive phases, e.g. 32.")
    index = np.arange(count)
    ratio = 2.0
    for _ in range(40):  # the root of x^terms = x + 1
        ratio = (1 + ratio) ** (1 / max(terms, 2))
    turns = np.outer(index, ratio ** -np.arange(terms)) + 0.5
    if terms:
        turns[:, 0] = (index + 0.5) / count
    return 2 * np.pi * np.remainder(turns, 1)
