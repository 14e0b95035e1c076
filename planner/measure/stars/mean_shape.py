"""The mean shape of stars: robust, with its error, and elongations from it; plain floats.

A shape is the complex distortion (xx - yy + 2i xy)/(xx + yy) of second moments: its size is (a2 - b2)/(a2 + b2), half
its phase the direction. Its components are free of the bias that noise gives to a size, so that they are averaged.
"""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.constants import RAYLEIGH_MEDIAN
from planner.measure.robust import huber_weight
from planner.measure.stars.selection import Stars

MAP_SIDE = 3
FEWEST_IN_CELL = 3
ROUND_CHANCE = 0.01  # round stars show a significant elongation in so many frames
UNKNOWN_DIRECTION = 52.0  # deg, rms of an angle that is known modulo 180 deg and not at all: 180/sqrt(12)


@dataclass(frozen=True)
class MeanShape:
    """Robust mean of complex distortions."""

    value: complex
    error: float  # of each component
    scatter: float  # of single stars, each component
    count: int  # of stars

    @property
    def size(self) -> float:
        """Size with the noise taken off: the error across the direction lengthens it."""
        return float(np.sqrt(max(abs(self.value) ** 2 - self.error**2, 0.0)))

    @property
    def angle(self) -> u.Quantity:
        """Half the phase."""
        return np.degrees(np.angle(self.value) / 2) % 180 * u.deg

    @property
    def angle_error(self) -> u.Quantity:
        """At most that of a direction not known at all."""
        return min(np.degrees(self.error / max(2 * abs(self.value), 1e-12)), UNKNOWN_DIRECTION) * u.deg

    @property
    def significant(self) -> bool:
        """Whether round stars would show less in 99 of 100 frames: two components by an error from as few stars.

        The law of F with 2 and 2 (n - 1) degrees of freedom, which for many stars is Rayleigh's.
        """
        half = max(self.count - 1, 1)
        return bool(abs(self.value) ** 2 > 2 * self.error**2 * half * (ROUND_CHANCE ** (-1 / half) - 1))


def robust_mean(values: np.ndarray, noise: np.ndarray) -> MeanShape:
    """Return the mean of complex values (n,) by Huber's rule, each component with its noise (n,)."""
    mean = complex(np.median(values.real), np.median(values.imag))
    for _ in range(20):
        away = np.abs(values - mean)
        scatter = max(float(np.median(away)) / RAYLEIGH_MEDIAN, 1e-9)
        total = np.sqrt(noise**2 + max(scatter**2 - float(np.median(noise)) ** 2, 0))
        weight = huber_weight(away, 2.1 * total) / total**2
        new = complex(np.sum(weight * values) / np.sum(weight))
        if abs(new - mean) < 1e-9:
            break
        mean = new
    n = values.size
    # By the influence of single values: those held answer to a shift across, not along.
    answering = np.sum(np.where(weight < 1 / total**2, weight / 2, weight))
    error = np.sqrt(np.sum(weight**2 * away**2) / 2) / answering * np.sqrt(n / max(n - 1, 1))
    # Few stars may agree by chance: not below what their noise alone gives, by a half.
    return MeanShape(mean, float(max(error, 0.5 / np.sqrt(np.sum(1 / noise**2)))), scatter, n)


def elongation_of(distortion: float) -> float:
    """Return 1 - b/a of a distortion (a2 - b2)/(a2 + b2)."""
    held = min(max(float(distortion), 0.0), 1 - 1e-9)
    return 1 - float(np.sqrt((1 - held) / (1 + held)))


def elongation_error(distortion: float, error: float) -> float:
    """Return the error of 1 - b/a: its slope is (1 - e) / (1 - d^2)."""
    held = min(max(float(distortion), 0.0), 0.99)
    return error * (1 - elongation_of(held)) / (1 - held**2)


def shape_maps(stars: Stars, noise: np.ndarray, frame: tuple[int, int], factor: float) -> dict[str, np.ndarray]:
    """Return FWHM, elongation, its error, direction [deg] and star count in nine parts of a frame, (3, 3) each.

    `factor` turns moment widths into FWHMs. NaN where a part has fewer than 3 stars; the lowest rows come first.
    """
    row = np.clip(stars.y * MAP_SIDE // frame[0], 0, MAP_SIDE - 1).astype(int)
    column = np.clip(stars.x * MAP_SIDE // frame[1], 0, MAP_SIDE - 1).astype(int)
    fwhm, elongation, error, angle = (np.full((MAP_SIDE, MAP_SIDE), np.nan) for _ in range(4))
    count = np.zeros((MAP_SIDE, MAP_SIDE), dtype=int)
    for place in np.ndindex(MAP_SIDE, MAP_SIDE):
        inside = (row == place[0]) & (column == place[1])
        count[place] = inside.sum()
        if count[place] < FEWEST_IN_CELL:
            continue
        mean = robust_mean(stars.distortion[inside], noise[inside])
        fwhm[place] = factor * np.median(stars.size[inside])
        elongation[place], angle[place] = elongation_of(mean.size), mean.angle.value
        error[place] = elongation_error(mean.size, mean.error)
    return {"fwhm": fwhm, "elongation": elongation, "error": error, "angle": angle, "stars": count}
