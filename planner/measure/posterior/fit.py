r"""The posterior of a mount's figures from a log: Gaussian in what is linear, on a grid in what is not.

Drive rate, polar axis and flexure, and sine and cosine of each periodic term, are linear in the log with normal
priors, so that for given noise and periods their posterior and the evidence are in closed form [RW06]_ (sec. 2.7).
Wander, white noise and the common stretch of the periods are summed over a grid. The normal prior of each term is then
taken out again and that of its amplitude put in its place (one step of expectation propagation [M01]_).

References
----------
.. [RW06] C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning, MIT Press (2006).
.. [M01] T. P. Minka, Expectation propagation for approximate Bayesian inference, UAI (2001), arXiv:1301.2294.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import i0e

from planner.measure.drift.fit.periodic_terms import basis
from planner.measure.posterior.data import KEYS, LogData
from planner.measure.posterior.prior import MountPrior, Size

WANDERS, WHITES, STRETCHES = 11, 7, 81  # of the grid, the last at most
PASSES = 4  # of ever finer grids
REACH = 3.0  # standard deviations of the prior on the grid
FINE = 0.2  # of the stretch by which the shortest term loses a turn over the log
AMPLITUDES, FINE_PARTS = 81, 30  # trial sizes, and parts of the mixture about which there are more
LIGHT, MOST_PARTS = 1e-3, 120  # of the weight, and of the mixture, that the amplitudes count
FREEDOM = 4.0  # of Student's t about the logarithm of an amplitude: a table may be wrong
WIDE = 2.0  # standard deviation of a term's sine and cosine over its amplitude


@dataclass(frozen=True, kw_only=True)
class Waves:
    """Periodic terms of the fit, (k,): periods at no stretch, which of them stretch, usual amplitudes on the sky."""

    period_s: np.ndarray
    period_error_s: np.ndarray  # where the log fixed it, else 0
    stretches: np.ndarray  # bool
    amplitude: np.ndarray
    spread: float  # of the logarithm of the stretch; 0 where it is known


@dataclass(frozen=True, kw_only=True)
class Posterior:
    """What is known after the log."""

    mean: np.ndarray  # (5,) of `KEYS`, less what the table said
    covariance: np.ndarray  # (5, 5)
    stretch: float  # logarithm, of the periods that stretch
    stretch_error: float
    wander: Size
    white: Size  # noise of one averaged row
    amplitude: tuple[tuple[float, float], ...]  # median and standard deviation of each term, on the sky


def posterior_of(data: LogData, prior: MountPrior, waves: Waves, amplitudes: list[Size], white: float,
                 wander: float) -> Posterior:
    """Return the posterior.

    `amplitudes`: prior of each term's amplitude, on the sky. `white` and `wander`: first guesses from the log alone,
    arcsec and arcsec in a minute.
    """
    count = len(KEYS)
    sigma = np.array([getattr(prior, key).sigma for key in KEYS])
    if not data.placed:
        sigma[1:3] = 1.0
    stretch = _stretches(data, waves)
    wanders = np.log(_wanders(prior.wander, wander))
    whites = np.log(white) + np.linspace(-1.4, 0.7, WHITES)
    columns = _Columns(data, waves, stretch)
    for _ in range(PASSES):
        weights, means, covariances = _on_grid(data, prior, waves, columns, stretch, sigma, wanders, whites)
        found = [_size(axis, weights.sum(axis=rest)) for axis, rest in ((wanders, (1, 2)), (whites, (0, 2)))]
        grids, wanders, whites = (wanders, whites), _finer(wanders, found[0]), _finer(whites, found[1])
        if grids[0][1] - grids[0][0] < found[0].spread and grids[1][1] - grids[1][0] < found[1].spread:
            break
    flat, every, spreads = weights.ravel(), means.reshape(-1, means.shape[-1]), covariances.reshape(
        -1, *covariances.shape[-2:])
    middle = flat @ every[:, :count]
    off = every[:, :count] - middle
    total = np.einsum("n,nij->ij", flat, spreads[:, :count, :count]) + np.einsum("n,ni,nj->ij", flat, off, off)
    by_stretch = weights.sum(axis=(0, 1))
    average = float(by_stretch @ stretch)
    return Posterior(
        mean=middle, covariance=total, stretch=average,
        stretch_error=float(np.sqrt(by_stretch @ (stretch - average) ** 2)), wander=found[0], white=found[1],
        amplitude=_amplitudes(flat, every[:, count:], spreads[:, count:, count:], waves, amplitudes))


class _Columns:
    """The columns of the fit, differences of rows: what neither wander nor white noise changes."""

    def __init__(self, data: LogData, waves: Waves, stretch: np.ndarray) -> None:
        time_s, (self.number, self.terms) = data.differences.time_s, (stretch.size, 2 * waves.period_s.size)
        period = waves.period_s * np.exp(np.where(waves.stretches, stretch[:, None], 0.0))  # (q, k)
        wave = np.diff(basis(time_s, (1 / period).ravel()), axis=0) * np.repeat(data.seen_share(period.ravel()), 2)
        self.block = np.asfortranarray(np.column_stack([data.ra_columns, data.ra, wave]))
        self.dec = np.asfortranarray(np.column_stack([data.dec_columns, data.dec]))
        self.waves = np.ascontiguousarray(self.apart(wave).transpose(1, 2, 0))  # (q, terms, rows)

    def apart(self, columns: np.ndarray) -> np.ndarray:
        """Return columns of waves by their stretch, (rows, q, terms)."""
        return columns.reshape(len(columns), self.number, self.terms)


def _on_grid(data: LogData, prior: Any, waves: Waves, columns: _Columns, stretch: np.ndarray, sigma: np.ndarray,
             wanders: np.ndarray, whites: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return weights (w, s, q), means (w, s, q, p) and covariances over logarithms of both noises and the stretch."""
    parts = []
    for wander in wanders:
        belief = -0.5 * ((wander - np.log(prior.wander.median)) / prior.wander.spread) ** 2
        belief = belief - (0.5 * (stretch / waves.spread) ** 2 if waves.spread > 0 else 0.0)
        for white in whites:
            evidence, mean, covariance = _given_noise(data, waves, columns, sigma, np.exp(wander), np.exp(white))
            parts.append((evidence + belief, mean, covariance))
    logs, means, covariances = (np.array(part).reshape(wanders.size, whites.size, *part[0].shape)
                                for part in zip(*parts, strict=True))
    weights = np.exp(logs - logs.max())
    return weights / weights.sum(), means, covariances


def _finer(logs: np.ndarray, found: Any) -> np.ndarray:
    """Return a grid of as many logarithms about what was found, not beyond the one before."""
    half = max(4 * found.spread, 0.75 * (logs[1] - logs[0]))
    centre = np.log(found.median)
    return np.linspace(max(logs[0], centre - half), min(logs[-1], centre + half), logs.size)


def _wanders(prior: Size, found: float) -> np.ndarray:
    """Return trial wanders over what was known and what the log says."""
    low = min(prior.median * np.exp(-REACH * prior.spread), max(found, 0.01) / 3)
    high = max(prior.median * np.exp(REACH * prior.spread), 3 * found)
    return np.geomspace(min(low, high / 3), high, WANDERS)


def _stretches(data: LogData, waves: Waves) -> np.ndarray:
    """Return trial logarithms of the stretch, fine enough for the shortest term that stretches."""
    if not waves.stretches.any() or waves.spread == 0:
        return np.zeros(1)
    length = data.differences.time_s[-1] - data.differences.time_s[0]
    step = FINE * float(waves.period_s[waves.stretches].min()) / length
    number = int(np.clip(2 * REACH * waves.spread / step, 7, STRETCHES)) | 1
    return np.linspace(-REACH, REACH, number) * waves.spread


def _given_noise(data: LogData, waves: Waves, columns: _Columns, sigma: np.ndarray, wander: float, white: float
                 ) -> tuple[float, np.ndarray, np.ndarray]:
    """Return evidence (q,), means (q, p) and covariances (q, p, p) at one wander and white noise, for each stretch."""
    differences, block, dec = data.differences, columns.block, columns.dec
    ratio = wander**2 / 60 * differences.mean_step_s / white**2
    count, number, terms = sigma.size, columns.number, columns.terms
    heavy = differences.whiten(ratio, block) / white**2
    both = dec.T @ differences.whiten(ratio, dec) / white**2
    both = both + block[:, :count + 1].T @ heavy[:, :count + 1]
    cross = columns.apart(block[:, :count + 1].T @ heavy[:, count + 1:]).transpose(1, 0, 2)
    inner = columns.waves @ columns.apart(heavy[:, count + 1:]).transpose(1, 0, 2)
    normal = np.zeros((number, count + terms, count + terms))
    normal[:, :count, :count] = both[:count, :count]
    normal[:, :count, count:] = cross[:, :count]
    normal[:, count:, :count] = cross[:, :count].transpose(0, 2, 1)
    normal[:, count:, count:] = inner
    pull = np.concatenate([np.broadcast_to(both[:count, count], (number, count)), cross[:, count]], axis=1)
    before = np.concatenate([sigma, np.repeat(WIDE * waves.amplitude, 2)])
    precision = normal + np.diag(before**-2.0)
    covariance = np.linalg.inv(precision)
    mean = np.einsum("qij,qj->qi", covariance, pull)
    determinant = np.linalg.slogdet(precision)[1] + 2 * np.log(before).sum()
    noise = sum(data.told) * (differences.log_determinant(ratio) + 2 * differences.count * np.log(white))
    evidence = -0.5 * (both[count, count] - np.sum(mean * pull, axis=1) + determinant + noise)
    return evidence, mean, covariance


def _size(logs: np.ndarray, weights: np.ndarray) -> Size:
    middle = float(weights @ logs)
    return Size(median=float(np.exp(middle)), spread=float(np.sqrt(weights @ (logs - middle) ** 2)))


def _amplitudes(weights: np.ndarray, means: np.ndarray, covariances: np.ndarray, waves: Waves, priors: Any
                ) -> tuple[Any, ...]:
    """Return median and standard deviation of each amplitude: each wave's normal prior exchanged for its own."""
    used = np.argsort(weights)[-MOST_PARTS:]
    used = used[weights[used] > LIGHT * weights.max()]
    found = []
    for index, prior in enumerate(priors):
        pair = slice(2 * index, 2 * index + 2)
        size, spread, log_share = _likelihoods(
            means[used][:, pair], covariances[used][:, pair, pair], WIDE * waves.amplitude[index])
        found.append(_median(prior, size, spread, log_share + np.log(weights[used])))
    return tuple(found)


def _likelihoods(mean: np.ndarray, covariance: np.ndarray, own: np.ndarray
                 ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return length and radial error (n,) of what the log alone says of sines and cosines, and the weight of each part.

    The normal prior of standard deviation `own` is divided out: precisions and pulls subtract.
    """
    precision = np.linalg.inv(covariance)
    values, vectors = np.linalg.eigh(precision - np.eye(2) / own**2)
    values = np.maximum(values, 1e-6 / own**2)
    alone = np.einsum("nij,nj,nkj->nik", vectors, 1 / values, vectors)
    place = np.einsum("nij,njk,nk->ni", alone, precision, mean)
    size = np.maximum(np.hypot(*place.T), 1e-12)
    radial = np.sqrt(np.einsum("ni,nij,nj->n", place, alone, place)) / size
    off = mean - place
    back = np.einsum("ni,ni->n", off, np.einsum("nij,nj->ni", np.linalg.inv(alone), off))
    log_share = 0.5 * (np.linalg.slogdet(precision)[1] + np.linalg.slogdet(alone)[1]
                       + np.sum(mean**2, axis=1) / own**2 + back)
    return size, radial, log_share


def _median(prior: Any, size: np.ndarray, spread: np.ndarray, log_weight: np.ndarray) -> tuple[float, float]:
    """Return median and standard deviation of an amplitude from likelihoods (n,) that know no phase (Rice 1945)."""
    top = np.argsort(log_weight)[-FINE_PARTS:]
    trial = np.concatenate([
        np.geomspace(0.02 * prior.median, prior.median * np.exp(4 * prior.spread), AMPLITUDES),
        (size[top, None] + spread[top, None] * np.linspace(-5, 5, 21)).ravel()])
    trial = np.unique(trial[trial > 1e-3 * prior.median])
    arm = trial * size[:, None] / spread[:, None] ** 2
    log_fit = -0.5 * ((trial - size[:, None]) / spread[:, None]) ** 2 + np.log(i0e(arm)) - 2 * np.log(spread[:, None])
    log_fit = log_fit + log_weight[:, None]
    density = np.exp(log_fit - log_fit.max()).sum(axis=0)
    off = np.log(trial / prior.median) / prior.spread
    weight = density * (1 + off**2 / FREEDOM) ** (-(FREEDOM + 1) / 2) * np.gradient(np.log(trial))
    total = np.cumsum(weight) - 0.5 * weight
    average = float(weight @ trial / weight.sum())
    return (float(np.interp(0.5, total / weight.sum(), trial)),
            float(np.sqrt(weight @ (trial - average) ** 2 / weight.sum())))
