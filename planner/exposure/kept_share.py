"""The kept share: which sub-exposures stay round and small, as a distribution over drive phase and hour angle.

A sub-exposure's *margin* is how far it goes towards what its observer tolerates: the larger of elongation over its
limit and growth of the FWHM over its limit, at the worst of several places in the field. It is kept while the margin
stays at or below 1. Margins are known at nodes in length, hour angle and phase. Between lengths they are straight
lines in logarithms (any power of the length is exact); inside each cell of hour angle and phase the logarithm is a
plane, and the share of the cell below the limit has a closed form. So the share is smooth in everything, and the
same question always has the same answer. Two or more periodic terms have no single circle of phases: there a cell
spans hour angle alone, at each phase of a scatter that fills all combinations evenly.
"""

from dataclasses import dataclass

import numpy as np

MARGIN_FLOOR = 1e-4  # a star that does not move: far below the limit, and a logarithm
SLOPE_FLOOR = 1e-6  # of a cell's plane: a flat cell is in or out as a whole


@dataclass(frozen=True, kw_only=True)
class KeptShare:
    """Margins and light of sub-exposures at nodes, to be asked at any length."""

    exposure_s: np.ndarray  # (t,), ascending
    log_margin: np.ndarray  # (t, h, p), natural logarithm; kept at or below 0
    light: np.ndarray  # (t, h, p), noise-equivalent area without motion over that with it
    joined: bool  # phases are one circle; otherwise a scatter over many circles, each phase for itself

    def at(self, exposure_s):
        """Return the kept share and the mean light of the kept subs, each of shape (n,), for lengths (n,) [s].

        Lengths outside the nodes take the last node's values. Light is 1 where nothing is kept.
        """
        node, part = _places(np.log(self.exposure_s), np.log(exposure_s))
        margin, light = (_between(values, node, part) for values in (self.log_margin, self.light))
        share = _below_zero(*_cell_planes(margin, self.joined))
        kept = share.mean(axis=(1, 2))
        lit = (share * _cell_planes(light, self.joined)[0]).mean(axis=(1, 2))
        return kept, np.where(kept > 0, lit / np.where(kept > 0, kept, 1.0), 1.0)


def margins(elongation: np.ndarray, growth: np.ndarray, *, tolerated_axis_ratio: float,
            tolerated_growth: float) -> np.ndarray:
    """Return the logarithm of the margin, worst over the first axis: shape (k, ...) to (...).

    `elongation` is 1 − minor/major, `growth` the FWHM's growth as a share of the motionless FWHM.
    """
    worst = np.maximum(elongation / (1 - tolerated_axis_ratio), growth / tolerated_growth).max(axis=0)
    return np.log(np.maximum(worst, MARGIN_FLOOR))


def _places(nodes, wanted):
    """Return the node below each wanted place and how far it lies towards the next, held at both ends."""
    node = np.clip(np.searchsorted(nodes, wanted, side="right") - 1, 0, len(nodes) - 2)
    return node, np.clip((wanted - nodes[node]) / (nodes[node + 1] - nodes[node]), 0.0, 1.0)


def _between(values, node, part):
    """Return values (t, h, p) on straight lines between nodes: (n, h, p)."""
    part = part[:, np.newaxis, np.newaxis]
    return values[node] * (1 - part) + values[node + 1] * part


def _cell_planes(values, joined):
    """Return mean and slopes of the plane through each cell of hour angle and phase; a circle of phases closes."""
    if values.shape[1] == 1:
        values = np.concatenate([values, values], axis=1)
    first, second = values[:, :-1], values[:, 1:]
    if not joined:
        return (first + second) / 2, second - first, np.zeros_like(first)
    first_next, second_next = np.roll(first, -1, axis=2), np.roll(second, -1, axis=2)
    mean = (first + second + first_next + second_next) / 4
    along_hour = (second + second_next - first - first_next) / 2
    along_phase = (first_next + second_next - first - second) / 2
    return mean, along_hour, along_phase


def _below_zero(mean, one_slope, other_slope):
    """Return the share of a unit cell in which a plane is at or below zero.

    The plane's values are spread as the sum of two uniform variables, one per slope: a trapezoid. Its cumulative
    function is a sum of four half parabolas.
    """
    one, other = np.maximum(np.abs(one_slope), SLOPE_FLOOR), np.maximum(np.abs(other_slope), SLOPE_FLOOR)
    half_sum, half_difference = (one + other) / 2, np.abs(one - other) / 2
    level = np.clip(-mean, -half_sum, half_sum)
    parabolas = (np.square(level + half_sum) - np.square(np.maximum(level + half_difference, 0))
                 - np.square(np.maximum(level - half_difference, 0)))
    return np.clip(parabolas / (2 * one * other), 0.0, 1.0)
