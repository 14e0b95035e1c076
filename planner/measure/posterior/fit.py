r"""The posterior of a mount's figures from a log: Gaussian in what is linear, on a grid in what is not.

Drive rate, polar axis and flexure, and sine and cosine of each periodic term, are linear in the log with normal
priors, so that for given noise and periods their posterior and the evidence are in closed form [RW06]_ (sec. 2.7).
Wander, white noise and the common stretch of the periods are summed over a grid. The normal prior of each term is taken
out again and that of its amplitude put in its place (one step of expectation propagation [M01]_), in the weight of each
stretch as in the amplitudes: else half a turn would do as well as a whole one. A gear of its own has its own stretch.

References
----------
.. [RW06] C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning, MIT Press (2006).
.. [M01] T. P. Minka, Expectation propagation for approximate Bayesian inference, UAI (2001), arXiv:1301.2294.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.special import i0e

from planner.measure.drift.fit.periodic_terms import basis
from planner.measure.posterior.data import KEYS, LogData
from planner.measure.posterior.prior import MountPrior, Size

WANDERS, WHITES, STRETCHES, OWN_STRETCHES = 11, 7, 81, 401  # of the grid, the last two at most
PASSES = 4  # of ever finer grids
REACH = 3.0  # standard deviations of the prior on the grid
FINE, OWN_FINE = 0.05, 0.2  # of the stretch by which the shortest term loses a turn over the log
COUNTS = 1e-4  # of the largest weight: stretches that lighter ones surround are looked at again
AMPLITUDES, FINE_PARTS = 81, 30  # trial sizes, and parts of the mixture about which there are more
LIGHT, MOST_PARTS = 1e-3, 120  # of the weight, and of the mixture, that the amplitudes count
FREEDOM = 4.0  # of Student's t about the logarithm of an amplitude: a table may be wrong
WRONG, WRONG_RATE = 0.1, 10.0  # chance that the table has the rate wrong, by so many of its spreads (no source)
FAR = 5.0  # spreads of an amplitude's prior that are tried
WIDE = 2.0  # standard deviation of a term's sine and cosine over its amplitude


@dataclass(frozen=True, kw_only=True)
class Waves:
    """Periodic terms of the fit, (k,): periods at no stretch, which of them stretch, usual amplitudes on the sky."""

    period_s: np.ndarray
    period_error_s: np.ndarray  # where the log fixed it, else 0
    stretches: np.ndarray  # bool
    amplitude: np.ndarray
    spread: float  # of the logarithm of the stretch; 0 where it is known
    own_spread: np.ndarray  # of the logarithm of a period that is neither shown nor the family's, else 0


@dataclass(frozen=True, kw_only=True)
class Posterior:
    """What is known after the log."""

    mean: np.ndarray  # (5,) of `KEYS`, less what the table said
    covariance: np.ndarray  # (5, 5)
    stretch: np.ndarray  # (k,) logarithm, of each period
    stretch_error: np.ndarray  # (k,)
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
    for _ in range(PASSES):
        weights, gains, means, covariances = _on_grid(data, prior, waves, amplitudes, stretch, sigma, wanders, whites)
        found = [_size(axis, weights.sum(axis=rest)) for axis, rest in ((wanders, (1, 2)), (whites, (0, 2)))]
        grids, wanders, whites = (wanders, whites), _finer(wanders, found[0]), _finer(whites, found[1])
        tried, stretch = stretch, _narrower(stretch, _by_stretch(weights, stretch.size))
        if grids[0][1] - grids[0][0] < found[0].spread and grids[1][1] - grids[1][0] < found[1].spread and (
                2 * np.ptp(stretch) >= np.ptp(tried)):
            break
    flat, every, spreads = weights.ravel(), means.reshape(-1, means.shape[-1]), covariances.reshape(
        -1, *covariances.shape[-2:])
    middle = flat @ every[:, :count]
    off = every[:, :count] - middle
    total = np.einsum("n,nij->ij", flat, spreads[:, :count, :count]) + np.einsum("n,ni,nj->ij", flat, off, off)
    common = _mean_and_error(tried, _by_stretch(weights, tried.size))
    shift, spread = (np.where(waves.stretches, value, 0.0) for value in common)
    sizes = _amplitudes(flat, np.tile(gains, flat.size // gains.shape[1]), every[:, count:], spreads[:, count:, count:],
                        waves, amplitudes)
    for place in map(int, np.flatnonzero(waves.own_spread)):
        shift[place], spread[place], sizes[place] = _of_own(
            data, replace(waves, period_s=waves.period_s * np.exp(shift)), amplitudes, sigma, found, place)
    return Posterior(mean=middle, covariance=total, stretch=shift, stretch_error=spread, wander=found[0],
                     white=found[1], amplitude=tuple(sizes))


def _of_own(data: LogData, waves: Waves, amplitudes: list[Size], sigma: np.ndarray, noise: list[Size], place: int
            ) -> tuple[float, float, tuple[float, float]]:
    """Return stretch, its error and the amplitude of one term whose period is its own, the others held."""
    alone = replace(waves, stretches=np.arange(waves.period_s.size) == place, spread=float(waves.own_spread[place]))
    stretch = _stretches(data, alone, OWN_FINE, OWN_STRETCHES)
    logs, means, covariances = _given_noise(data, alone, _Columns(data, alone, stretch), [sigma], noise[0].median,
                                            noise[1].median)
    parts = means[:, sigma.size:], covariances[:, sigma.size:, sigma.size:]
    gains = _exchanged(*parts, alone, amplitudes)
    logs = logs - 0.5 * (stretch / alone.spread) ** 2 + gains[place]
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    mean, error = _mean_and_error(stretch, weights)
    return mean, error, _amplitudes(weights, gains, *parts, alone, amplitudes)[place]


def _by_stretch(weights: np.ndarray, number: int) -> np.ndarray:
    """Return the weight of each of so many stretches."""
    return np.asarray(weights.sum(axis=(0, 1)).reshape(-1, number).sum(axis=0))


def _mean_and_error(stretch: np.ndarray, weights: np.ndarray) -> tuple[float, float]:
    """Return mean and standard deviation of a stretch over a grid, whose own step counts."""
    mean = float(weights @ stretch)
    step = np.ptp(stretch) / max(stretch.size - 1, 1)
    return mean, float(np.sqrt(weights @ (stretch - mean) ** 2 + step**2 / 12))


def _narrower(stretch: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Return as many trial stretches over those that count."""
    counts = np.flatnonzero(weights > COUNTS * weights.max())
    low, high = max(counts[0] - 1, 0), min(counts[-1] + 1, stretch.size - 1)
    return np.linspace(stretch[low], stretch[high], stretch.size)


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


def _on_grid(data: LogData, prior: Any, waves: Waves, amplitudes: list[Size], stretch: np.ndarray, sigma: np.ndarray,
             wanders: np.ndarray, whites: np.ndarray) -> tuple[np.ndarray, ...]:
    """Return weights (w, s, q), what priors added to their logarithms (k, q), means (w, s, q, p) and covariances.

    Over logarithms of both noises and the stretch; each term adds what its amplitude's prior brings. Where the worm
    stretches the q are those of the table's rate, then those of a rate that it has wrong: a part of a turn would carry
    its drift.
    """
    parts, columns = [], _Columns(data, waves, stretch)
    sigmas, chances = [sigma], np.zeros(1)
    if stretch.size > 1:
        sigmas, chances = [sigma, np.array([WRONG_RATE * sigma[0], *sigma[1:]])], np.log([1 - WRONG, WRONG])
    for wander in wanders:
        belief = -0.5 * ((wander - np.log(prior.wander.median)) / prior.wander.spread) ** 2
        belief = belief - 0.5 * (stretch / (waves.spread or 1.0)) ** 2
        for white in whites:
            evidence, mean, covariance = _given_noise(data, waves, columns, sigmas, np.exp(wander), np.exp(white))
            parts.append((evidence + np.add.outer(chances, belief).ravel(), mean, covariance))
    logs, means, covariances = (np.array(part).reshape(wanders.size, whites.size, *part[0].shape)
                                for part in zip(*parts, strict=True))
    best, terms = np.unravel_index(np.argmax(logs), logs.shape)[:2], slice(sigma.size, None)
    gains = _exchanged(means[best][:, terms], covariances[best][:, terms, terms], waves, amplitudes)
    logs = logs + gains.sum(axis=0)
    weights = np.exp(logs - logs.max())
    return weights / weights.sum(), gains, means, covariances


def _exchanged(means: np.ndarray, covariances: np.ndarray, waves: Waves, amplitudes: list[Size]) -> np.ndarray:
    """Return what evidence gains by each term that stretches, (k, n): its amplitude's prior for the normal one."""
    gains = np.zeros((len(amplitudes), len(means)))
    for index in np.flatnonzero(waves.stretches):
        pair, prior = slice(2 * index, 2 * index + 2), amplitudes[index]
        size, spread, log_share = _likelihoods(means[:, pair], covariances[:, pair, pair],
                                               WIDE * waves.amplitude[index])
        usual = prior.median * np.exp(prior.spread * np.linspace(-FAR, FAR, AMPLITUDES))
        near = np.abs(size[:, None] + spread[:, None] * np.linspace(-5, 5, 21))
        trial = np.sort(np.concatenate([np.broadcast_to(usual, (size.size, usual.size)), near], axis=1))
        trial = np.maximum(trial, usual[0])
        log_fit = _rice(trial, size[:, None], spread[:, None])
        weight = _belief(trial, prior)[:, :-1] * np.diff(np.log(trial), axis=1)
        top = log_fit.max(axis=1)
        gains[index] = log_share + top + np.log(np.sum(weight * np.exp(log_fit - top[:, None])[:, :-1], axis=1))
    return gains


def _rice(trial: np.ndarray, size: np.ndarray, spread: np.ndarray) -> np.ndarray:
    """Return the logarithm of the likelihood of amplitudes where the phase is not known (Rice 1945)."""
    return (-0.5 * ((trial - size) / spread) ** 2 + np.log(i0e(trial * size / spread**2)) - 2 * np.log(spread))


def _belief(trial: np.ndarray, prior: Size) -> np.ndarray:
    """Return the prior of amplitudes, of the logarithm."""
    return (1 + (np.log(trial / prior.median) / prior.spread) ** 2 / FREEDOM) ** (-(FREEDOM + 1) / 2)


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


def _stretches(data: LogData, waves: Waves, fine: float = FINE, most: int = STRETCHES) -> np.ndarray:
    """Return trial logarithms of the stretch, fine enough for the shortest term that stretches."""
    if not waves.stretches.any() or waves.spread == 0:
        return np.zeros(1)
    length = data.differences.time_s[-1] - data.differences.time_s[0]
    step = fine * float(waves.period_s[waves.stretches].min()) / length
    number = int(np.clip(2 * REACH * waves.spread / step, 7, most)) | 1
    return np.linspace(-REACH, REACH, number) * waves.spread


def _given_noise(data: LogData, waves: Waves, columns: _Columns, sigmas: list[np.ndarray], wander: float,
                 white: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return evidence (q,), means (q, p) and covariances (q, p, p) at one wander and white noise.

    For each stretch with the first spreads of the figures, then with the next.
    """
    differences, block, dec = data.differences, columns.block, columns.dec
    ratio = wander**2 / 60 * differences.mean_step_s / white**2
    count, number, terms = sigmas[0].size, columns.number, columns.terms
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
    before = np.array([[*sigma, *np.repeat(WIDE * waves.amplitude, 2)] for sigma in sigmas])
    precision = np.concatenate([normal + np.diag(one**-2.0) for one in before])
    covariance, pull = np.linalg.inv(precision), np.tile(pull, (len(sigmas), 1))
    mean = np.einsum("qij,qj->qi", covariance, pull)
    determinant = np.linalg.slogdet(precision)[1] + np.repeat(2 * np.log(before).sum(axis=1), number)
    noise = sum(data.told) * (differences.log_determinant(ratio) + 2 * differences.count * np.log(white))
    evidence = -0.5 * (both[count, count] - np.sum(mean * pull, axis=1) + determinant + noise)
    return evidence, mean, covariance


def _size(logs: np.ndarray, weights: np.ndarray) -> Size:
    middle = float(weights @ logs)
    return Size(median=float(np.exp(middle)), spread=float(np.sqrt(weights @ (logs - middle) ** 2)))


def _amplitudes(weights: np.ndarray, gains: np.ndarray, means: np.ndarray, covariances: np.ndarray, waves: Waves,
                priors: list[Size]) -> list[tuple[float, float]]:
    """Return median and standard deviation of each amplitude: each wave's normal prior exchanged for its own."""
    used = np.argsort(weights)[-MOST_PARTS:]
    used = used[weights[used] > LIGHT * weights.max()]
    found = []
    for index, prior in enumerate(priors):
        pair = slice(2 * index, 2 * index + 2)
        size, spread, log_share = _likelihoods(
            means[used][:, pair], covariances[used][:, pair, pair], WIDE * waves.amplitude[index])
        found.append(_median(prior, size, spread, log_share + np.log(weights[used]) - gains[index, used]))
    return found


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
    log_fit = _rice(trial, size[:, None], spread[:, None]) + log_weight[:, None]
    density = np.exp(log_fit - log_fit.max()).sum(axis=0)
    weight = density * _belief(trial, prior) * np.gradient(np.log(trial))
    total = np.cumsum(weight) - 0.5 * weight
    average = float(weight @ trial / weight.sum())
    return (float(np.interp(0.5, total / weight.sum(), trial)),
            float(np.sqrt(weight @ (trial - average) ** 2 / weight.sum())))
