"""The kept share: which sub-exposures stay round and small, as a distribution over drive phase and hour angle.

A sub-exposure's *margin* is how far it goes towards what its observer tolerates: the larger of elongation over its
limit and growth of the width over its limit, at the worst of several places in the field. Growth counts against the
typical sub of the same length, as one compares frames of a night: blur that all subs share loses none of them, it is
paid in their light. Low down the air widens every star: hours in which it alone goes beyond the limit, against the
typical hour, are lost whatever the mount does. A sub is kept while its margin stays at or below 1. Margins are known at
nodes in length, hour angle and phase. Between lengths they are straight lines in logarithms (any power of the length is
exact); inside each cell of hour angle and phase the margin is a plane with the mean of the curved surface through the
cell's corners. The seeing of a sub is log-normal about the site's, and a margin falls with it. The share of a cell
below the limit has a closed form. So the share is smooth in everything, and the same question has the same answer.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

MARGIN_FLOOR = 1e-4  # a star that does not move: far below the limit, and a logarithm
HIGHEST = 2.0  # logarithm of the largest margin that shapes a cell's plane: a sub lost for certain
SLOPE_FLOOR = 2e-3  # least fall of a cell's plane from side to side: 0.2 % of the margin
# The normal law of the seeing's logarithm in pieces of even density, in standard deviations.
PIECES = np.array([-2.6, -1.7, -1.1, -0.6, -0.2, 0.2, 0.6, 1.1, 1.7, 2.6])
PIECE_SHARES = np.diff([math.erf(edge / math.sqrt(2)) for edge in PIECES])
PIECE_SHARES /= PIECE_SHARES.sum()
TOGETHER = 500  # cells asked at once: what fits a processor's near memory


@dataclass(frozen=True, kw_only=True)
class KeptShare:
    """Margins and light of sub-exposures at nodes, to be asked at any length."""

    exposure_s: np.ndarray  # (t,), ascending
    log_margin: np.ndarray  # (t, h, p), natural logarithm; kept at or below 0
    light: np.ndarray  # (t, h, p), noise-equivalent area without motion over that with it
    # Steps in p that lead to the neighbours of a phase: (1,) on the circle of one periodic term, none where each phase
    # stands for itself.
    phase_steps: tuple[int, ...]
    spread: np.ndarray  # (t,), standard deviation of a sub's log margin, by the seeing that it happens to have
    air: np.ndarray  # (h - 1,), share of each cell of hour angles in which the air alone makes no star too wide

    def at(self, exposure_s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the kept share and the mean light of the kept subs, each of shape (n,), for lengths (n,) [s].

        Lengths outside the nodes take the last node's values. Light is 1 where nothing is kept.
        """
        share, light = self.by_hour(exposure_s)
        share = share * self.air
        kept = share.mean(axis=1)
        return kept, np.where(kept > 0, (share * light).mean(axis=1) / np.where(kept > 0, kept, 1.0), 1.0)

    def by_hour(self, exposure_s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return both in each cell of hour angles, (n, h - 1), among subs that the air alone does not make too wide."""
        node, part = _places(np.log(self.exposure_s), np.log(exposure_s))
        lowest, highest = (reduced(self.log_margin, axis=(1, 2)) for reduced in (np.min, np.max))
        reach = np.maximum(self.spread[node], self.spread[node + 1]) * PIECES[-1]
        sure = np.maximum(highest[node], highest[node + 1]) <= -reach
        mean = _middle(self.light.mean(axis=2))  # phases' mean: their cells'
        kept = np.repeat(np.where(sure, 1.0, 0.0)[:, np.newaxis], mean.shape[1], axis=1)
        between = part[:, np.newaxis]
        light = np.where(sure[:, np.newaxis], mean[node] * (1 - between) + mean[node + 1] * between, 1.0)
        open_ = np.flatnonzero(~sure & (np.minimum(lowest[node], lowest[node + 1]) < reach))
        if open_.size:
            kept[open_], light[open_] = self._counted(node[open_], part[open_])
        return kept, light

    def _counted(self, node: np.ndarray, part: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return both in each cell where some subs are kept and some are not, between nodes (n,)."""
        margin, light = (_between(values, node, part) for values in (self.log_margin, self.light))
        # A margin, not its logarithm, is nearly straight from phase to phase: it falls to nothing where the drift of
        # two causes cancels.
        spread = self.spread[node] * (1 - part) + self.spread[node + 1] * part
        share = _below_limit(spread, *_cells(np.exp(np.minimum(margin, HIGHEST)), self.phase_steps))
        kept = share.mean(axis=2)
        lit = (share * _cell_means(light, self.phase_steps)).mean(axis=2)
        return kept, np.where(kept > 0, lit / np.where(kept > 0, kept, 1.0), 1.0)


def log_margin(value: np.ndarray, tolerated: float) -> np.ndarray:
    """Return the logarithm of the margin of an elongation or a growth, same shape."""
    return np.log(np.maximum(value / tolerated, MARGIN_FLOOR))


def _places(nodes: np.ndarray, wanted: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the node below each wanted place and how far it lies towards the next, held at both ends."""
    node = np.clip(np.searchsorted(nodes, wanted, side="right") - 1, 0, len(nodes) - 2)
    return node, np.clip((wanted - nodes[node]) / (nodes[node + 1] - nodes[node]), 0.0, 1.0)


def _between(values: np.ndarray, node: np.ndarray, part: np.ndarray) -> np.ndarray:
    """Return values (t, h, p) on straight lines between nodes: (n, h, p)."""
    part = part[:, np.newaxis, np.newaxis]
    return values[node] * (1 - part) + values[node + 1] * part


def _cells(values: np.ndarray, phase_steps: Sequence[int]) -> list[np.ndarray]:
    """Return the plane of each cell between neighbours: its mean, then its fall along hour angle and each step.

    The mean of the corners lies above that of a surface which bends upwards, by 1/12 of the second difference along
    each step (the error of the trapezoidal rule). Without it the valleys between phases, where two causes cancel, would
    be filled in.
    """
    if values.shape[1] == 1:
        values = np.concatenate([values, values], axis=1)
    bend = _cell_means(sum((_second_difference(values, step) for step in phase_steps), 0 * values), phase_steps)
    planes = _across([values[:, :-1]], [values[:, 1:]])
    for step in phase_steps:
        planes = _across(planes, [np.roll(plane, -step, axis=2) for plane in planes])
    return [planes[0] - bend / 12, *planes[1:]]


def _second_difference(values: np.ndarray, step: int) -> np.ndarray:
    """Return how values bend about each phase along a step."""
    return np.roll(values, -step, axis=2) + np.roll(values, step, axis=2) - 2 * values


def _cell_means(values: np.ndarray, phase_steps: Sequence[int]) -> np.ndarray:
    """Return the mean of each cell's plane, as the first of `_cells`."""
    means = _middle(values)
    for step in phase_steps:
        means = (means + np.roll(means, -step, axis=2)) / 2
    return means


def _middle(values: np.ndarray) -> np.ndarray:
    """Return the means of neighbours in hour angle (axis 1); one hour angle stands for itself."""
    return values if values.shape[1] == 1 else (values[:, :-1] + values[:, 1:]) / 2


def _across(planes: list[np.ndarray], next_planes: list[np.ndarray]) -> list[np.ndarray]:
    """Return planes over cells one dimension larger: all means, and at the end the new slope."""
    joined = [(here + there) / 2 for here, there in zip(planes, next_planes, strict=True)]
    return [*joined, next_planes[0] - planes[0]]


def _below_limit(spread: np.ndarray, mean: np.ndarray, *slopes: np.ndarray) -> np.ndarray:
    """Return the share of each cell with a margin at or below 1, over the law of the seeing, which spreads (n,)."""
    sizes = [np.maximum(np.abs(slope), SLOPE_FLOOR) for slope in slopes]
    if not spread.any():
        return _below_zero(mean - 1, sizes)
    factors = np.exp(PIECES[:, np.newaxis] * spread)[..., np.newaxis, np.newaxis]
    middles, widths = (factors[1:] + factors[:-1]) / 2, np.diff(factors, axis=0)
    limits, more = 1 / middles, np.maximum(widths / middles**2, SLOPE_FLOOR)
    half = sum(sizes) / 2
    share = np.where(mean < 1, 1.0, 0.0)
    every = np.nonzero((mean - half < limits[0] + more[0] / 2) & (mean + half > limits[-1] - more[-1] / 2))
    for first in range(0, every[0].size, TOGETHER):
        some = tuple(index[first:first + TOGETHER] for index in every)
        limit, width = (part[:, some[0], 0, 0] for part in (limits, more))
        share[some] = PIECE_SHARES @ _below_zero(mean[some] - limit, [*(size[some] for size in sizes), width])
    return share


def _below_zero(mean: np.ndarray, sizes: Sequence[np.ndarray]) -> np.ndarray:
    r"""Return the share of a unit cell in which a plane is at or below zero.

    A plane's values are spread as a sum of uniform variables, one per slope of size :math:`a_i`, cumulative function

    .. math:: F(z) = \frac{1}{n!\,\prod a_i} \sum_{s_i = \pm 1} \Big(\prod s_i\Big)
              \Big(z + \tfrac12 \sum s_i a_i\Big)_+^n
    """
    share = np.where(mean < 0, 1.0, 0.0)  # in or out as a whole
    cut = np.nonzero(np.abs(mean) < sum(sizes) / 2)
    sizes = [np.broadcast_to(size, mean.shape)[cut] for size in sizes]
    share[cut] = _over_corners(-mean[cut], sizes, len(sizes)) / (math.factorial(len(sizes)) * math.prod(sizes))
    return np.clip(share, 0.0, 1.0, out=share)


def _over_corners(level: np.ndarray, sizes: Sequence[np.ndarray], power: int) -> np.ndarray:
    """Return the sum over the corners of a cell, each with its sign, of the power of what is left of a level there."""
    if not sizes:
        left = np.maximum(level, 0)
        return math.prod([left] * power)
    half = sizes[0] / 2
    return _over_corners(level + half, sizes[1:], power) - _over_corners(level - half, sizes[1:], power)
