"""The pointing model as a least-squares problem: misses on the sky and how each term moves them; plain floats.

Terms in radians, directions as in `planner.tracking.mount_frame`. A miss is where the model says the tube looks less
where it really looks, east and north on the sky, (n, 2).
"""

from dataclasses import dataclass, replace

import numpy as np

from planner.tracking.mount_frame import drooped, sky_axes, tube_axes
from planner.tracking.pointing_model import TERM_NAMES, geometry_from

# Step of the numerical slopes: 20 arcsec, where the curvature of the rotations leaves 1e-4 of a slope.
STEP = 1e-4


@dataclass(frozen=True)
class Sightings:
    """Where the tube really looked, and what the axes read, on each side of the pier."""

    latitude: float
    axes: np.ndarray  # (n, 3, 3): star, east and north of the true direction
    axis1: np.ndarray  # (n,) axis readings, through the pole on the west side
    axis2: np.ndarray
    west: np.ndarray  # (n,) bool

    @property
    def count(self) -> int:
        """Number of sightings."""
        return self.west.size

    def chosen(self, rows: np.ndarray) -> "Sightings":
        """Return some of the sightings."""
        return Sightings(self.latitude, self.axes[rows], self.axis1[rows], self.axis2[rows], self.west[rows])

    def on_sides(self, west: np.ndarray) -> "Sightings":
        """Return the same sightings as if the telescope had been west of the pier where `west` (n,) says so."""
        moved = west != self.west
        return replace(self, axis1=self.axis1 + np.pi * moved, axis2=np.where(moved, np.pi - self.axis2, self.axis2),
                       west=west)


def sightings(latitude: float, sky: tuple[np.ndarray, np.ndarray], mount: tuple[np.ndarray, np.ndarray],
              west: np.ndarray) -> Sightings:
    """Return the sightings from true and displayed hour angles and declinations, each (n,)."""
    axis1 = np.where(west, mount[0] + np.pi, mount[0])
    axis2 = np.where(west, np.pi - mount[1], mount[1])
    return Sightings(latitude, sky_axes(*sky), axis1, axis2, west)


def misses(seen: Sightings, terms: np.ndarray) -> np.ndarray:
    """Return model minus truth east and north (n, 2) for the seven terms."""
    geometry = geometry_from(dict(zip(TERM_NAMES, terms, strict=True)), seen.latitude)
    # The readings already go through the pole on the west side, and the boresight is the same on either.
    looks = drooped(tube_axes(geometry, seen.axis1, seen.axis2)[..., 0], geometry)
    return np.squeeze(np.swapaxes(seen.axes[..., 1:], 1, 2) @ looks[..., None], -1)


def slopes(seen: Sightings, terms: np.ndarray, used: list[int], start: np.ndarray) -> np.ndarray:
    """Return how the misses move with the used terms, (n, 2, k); `start` holds the misses at `terms`."""
    columns = []
    for index in used:
        moved = terms.copy()
        moved[index] += STEP
        columns.append((misses(seen, moved) - start) / STEP)
    return np.stack(columns, axis=-1)


def least_known(jacobian: np.ndarray) -> tuple[np.ndarray, float]:
    """Return the combination of unit columns (k,) that the data (m, k) know least, and by what factor it widens errors.

    The factor is the largest error of a term over the error it would have if the others were known.
    """
    norms = np.linalg.norm(jacobian, axis=0)
    scaled = jacobian / np.where(norms > 0, norms, 1)
    values, vectors = np.linalg.eigh(scaled.T @ scaled)
    inflation = np.sqrt(np.sum(vectors**2 / np.maximum(values, 1e-14), axis=1))
    return vectors[:, 0], float(np.max(inflation))


def held_out(jacobian: np.ndarray, miss: np.ndarray, inverse: np.ndarray) -> np.ndarray:
    """Return each miss (n, 2) as if its sighting had not been fitted: (I - H_ii)^-1 e_i, exact for a linear model.

    The jacobian is (n, 2, k), the inverse that of its normal matrix (k, k).
    """
    leverage = jacobian @ inverse @ np.swapaxes(jacobian, 1, 2)
    return np.linalg.solve(np.eye(2) - (1 - 1e-9) * leverage, miss[..., None])[..., 0]
