"""The axis about which a telescope was turned: the centre of the small circle through the directions it looked at.

Plain floats, unit vectors (n, 3), radians.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

ONE_SIGMA = 0.8413447  # share of a normal distribution below one sigma

# Ratio of the best to the worst fixed combination of axis and radius beyond which rounding rules: an arc of 1 arcmin.
WORST_CONDITION = 1e7


@dataclass(frozen=True)
class Circle:
    """The axis (3,), the circle's radius, and how well both are known."""

    axis: np.ndarray
    radius: float
    tilts: np.ndarray  # (2, 3): unit vectors in which the axis may be off
    covariance: np.ndarray  # (2, 2) of the axis along the tilts, for a unit error of each direction
    misses: np.ndarray  # (n,) distances of the directions from the circle

    @property
    def spare(self) -> int:
        """Number of measurements beyond the three that a circle needs."""
        return self.misses.size - 3

    def scatter(self) -> float:
        """Return the error of one direction that the misses tell, without any spare NaN."""
        return float(np.sqrt(np.sum(self.misses**2) / self.spare)) if self.spare else float("nan")


def student_factor(spare: int) -> float:
    """Return by how much an error from few spare measurements is widened so that one of it still holds 68 %.

    The half width of Student's t at the probability of one sigma of a normal distribution.
    """
    return float(stdtrit(spare, ONE_SIGMA))


def fit_circle(directions: np.ndarray, towards: np.ndarray) -> Circle:
    """Return the small circle of least squares through directions (n, 3), its axis on the side of `towards` (3,).

    The plane through the directions starts; Gauss-Newton steps on the angular distances from the circle finish.
    """
    axis = np.linalg.svd(directions - directions.mean(axis=0), full_matrices=False)[2][-1]
    axis = axis if axis @ towards >= 0 else -axis
    radius = float(np.mean(_distances(directions, axis)))
    for _ in range(20):
        tilts, jacobian = _slopes(directions, axis)
        misses = _distances(directions, axis) - radius
        step = np.linalg.lstsq(jacobian, -misses, rcond=None)[0]
        axis = axis + step[:2] @ tilts
        axis, radius = axis / np.linalg.norm(axis), radius + float(step[2])
        if np.max(np.abs(step)) < 1e-13:
            break
    tilts, jacobian = _slopes(directions, axis)
    covariance = np.full((2, 2), np.inf)  # directions that coincide, or lie along one short line, fix nothing
    if np.linalg.cond(jacobian) < WORST_CONDITION:
        covariance = np.linalg.inv(jacobian.T @ jacobian)[:2, :2]
    return Circle(axis, radius, tilts, covariance, _distances(directions, axis) - radius)


def _distances(directions: np.ndarray, axis: np.ndarray) -> np.ndarray:
    """Return the angle (n,) of each direction from the axis, exact near it and far from it."""
    across = np.linalg.norm(np.cross(directions, axis), axis=1)
    return np.arctan2(across, directions @ axis)


def _slopes(directions: np.ndarray, axis: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return two tilts (2, 3) and the slopes (n, 3) of the misses with them and with the radius."""
    side = np.eye(3)[int(np.argmin(np.abs(axis)))]
    first = np.cross(axis, side)
    first /= np.linalg.norm(first)
    tilts = np.stack([first, np.cross(axis, first)])
    across = np.maximum(np.linalg.norm(np.cross(directions, axis), axis=1), 1e-12)
    slopes = -(directions @ tilts.T) / across[:, None]
    return tilts, np.column_stack([slopes, -np.ones(directions.shape[0])])
