"""Measures of many symmetric images at once, from a quarter of the plane of frequencies; plain floats.

An image here is a round still star times one factor along `u` and one along `v`, both real and even: a batch of n
images is two arrays (n, nu) and (n, nv).
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from planner.optics.transfer import Transfer


@dataclass(frozen=True)
class QuarterPlane:
    """A round still star on Gauss-Legendre nodes, dense near zero frequency, and the weights of the nodes."""

    u: np.ndarray  # (nu,) cycles per arcsec
    v: np.ndarray  # (nv,)
    still: np.ndarray  # (nu, nv), times the weights of both nodes and 4 for the quarters
    weights: np.ndarray  # (nu, nv)

    @classmethod
    def of(cls, transfer: Transfer, along: int, across: int) -> "QuarterPlane":
        """Sample the still star, its square pixel averaged over directions, on `along` x `across` nodes."""
        highest = transfer.highest_frequency(1e-5)
        u, weight_u = _dense_near_zero(along, highest)
        v, weight_v = _dense_near_zero(across, highest)
        weights = 4 * weight_u[:, None] * weight_v
        radius = np.hypot(u[:, None], v)
        box = np.zeros_like(radius)
        for angle in (np.arange(4) + 0.5) * np.pi / 16:  # an eighth of a turn holds all of a square
            pixel = transfer.pixel_arcsec * radius
            box += np.sinc(pixel * np.cos(angle)) * np.sinc(pixel * np.sin(angle)) / 4
        return cls(u, v, transfer.round_part(radius) * box * weights, weights)

    def moments(self, along: np.ndarray, across: np.ndarray, larger: np.ndarray,
                smaller: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return adaptive moments along `u` and `v` (n,) [arcsec2], from a first guess; see `matched_moments`."""
        square_u, square_v = self.u**2, self.v**2
        done_larger, done_smaller = np.array(larger), np.array(smaller)
        left = np.arange(done_larger.size)  # images whose moments still change; most settle early, few take long
        for turn in range(60):
            weighted_u = along * np.exp(-2 * np.pi**2 * larger[:, None] * square_u)
            weighted_v = across * np.exp(-2 * np.pi**2 * smaller[:, None] * square_v)
            rows, columns = weighted_u * (weighted_v @ self.still.T), weighted_v * (weighted_u @ self.still)
            total = rows.sum(axis=1)
            step = 2.0 if turn < 30 else 1.0
            new_larger = _relaxed(larger, total / (rows @ square_u), step)
            new_smaller = _relaxed(smaller, total / (columns @ square_v), step)
            open_ = np.maximum(np.abs(new_larger / larger - 1), np.abs(new_smaller / smaller - 1)) >= 1e-5
            done_larger[left], done_smaller[left] = new_larger, new_smaller
            larger, smaller, along, across, left = (
                values[open_] for values in (new_larger, new_smaller, along, across, left))
            if left.size == 0:
                break
        return done_larger, done_smaller

    def top(self) -> float:
        """Return the brightness [1/arcsec2] at the middle of the still star."""
        return float(self.still.sum())

    def area(self, along: np.ndarray, across: np.ndarray) -> np.ndarray:
        """Return the noise-equivalent area (n,) [arcsec2]."""
        return 1 / np.sum((along**2 @ (self.still**2 / self.weights)) * across**2, axis=1)

    def width(self, along: np.ndarray, across: np.ndarray, larger: np.ndarray, smaller: np.ndarray) -> np.ndarray:
        """Return the geometric mean of the half-maximum widths (n,) [arcsec], given the moments."""
        shortest, longest = 0.3 * np.sqrt(smaller.min()), 2.5 * np.sqrt(larger.max())
        place = np.concatenate([[0.0], np.geomspace(shortest, longest, max(8, int(30 * np.log(longest / shortest))))])
        cosine_u, cosine_v = np.cos(2 * np.pi * np.outer(self.u, place)), np.cos(2 * np.pi * np.outer(self.v, place))
        profile = (along * (across @ self.still.T)) @ cosine_u
        top = np.argmax(profile, axis=1)  # a sinusoid may be brightest at its ends
        through_top = (across * ((along * cosine_u[:, top].T) @ self.still)) @ cosine_v
        return 2 * np.sqrt(_half_width(place, profile) * _half_width(place, through_top))


def _dense_near_zero(count: int, highest: float) -> tuple[np.ndarray, np.ndarray]:
    """Return nodes and weights over 0 to `highest`, squared so that half of them lie in the lowest quarter."""
    root, weights = _unit_nodes(count)
    return highest * root**2, highest * root * weights


@lru_cache(maxsize=8)
def _unit_nodes(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return Gauss-Legendre nodes from 0 to 1 with their weights for -1 to 1: half a millisecond, once."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return (nodes + 1) / 2, weights


def _relaxed(old: np.ndarray, inverse: np.ndarray, step: float) -> np.ndarray:
    """Return the next moment: `step` times from the old to half of 1 / (4 pi^2 <ff>), or larger if that is none."""
    new = old + step * (inverse / (8 * np.pi**2) - old)
    return np.where(new > 0, new, 1.5 * old)


def _half_width(place: np.ndarray, profile: np.ndarray) -> np.ndarray:
    """Return where each profile (n, places) last falls through half of its maximum, by a straight line."""
    level = profile.max(axis=1) / 2
    above = profile >= level[:, None]
    last = np.minimum(place.size - 1 - np.argmax(above[:, ::-1], axis=1), place.size - 2)
    row = np.arange(len(profile))
    here, after = profile[row, last], profile[row, last + 1]
    share = np.clip((here - level) / np.maximum(here - after, 1e-300), 0, 1)
    return place[last] + share * (place[last + 1] - place[last])
