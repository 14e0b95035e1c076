"""Periodic terms of a tracking log, found one by one under white and random-walk noise and fitted together.

Plain-float kernels (arcsec, seconds) for `report`. The search is a Lomb-Scargle periodogram generalised to a
linear trend and to correlated noise: at each trial frequency a sine and a cosine join the trend, and the gain of
log-likelihood :math:`Z` is taken *with the ratio of walk to jitter set free on both sides*, so that a strong term is
not mistaken for wander nor wander for a term. A fast spectrum (one Fourier transform per trial ratio) only proposes;
what decides is the exact gain at the proposed peaks. The false-alarm probability is the bound of [B08]_ for the
largest of all frequencies; tests calibrate it by simulation for white noise and for random walks.

References
----------
.. [B08] R. V. Baluev, MNRAS 385, 1279 (2008), doi:10.1111/j.1365-2966.2008.12689.x, eqs. 5 to 7: the least-squares
   periodogram's largest peak.
.. [ZK09] M. Zechmeister and M. Kuerster, A&A 496, 577 (2009), doi:10.1051/0004-6361:200811296: floating mean.
"""

from dataclasses import dataclass

import numpy as np

from planner.measure.drift.fit.wander_noise import SMALLEST_JITTER, Differences, LinearFit, Regression

# A period must fit this often into the log: below, no data can tell it from drift.
MOST_TERMS = 8
LEAST_CYCLES = 1.5
# Trial frequencies per 1/T, so that the highest lies within an eighth of a resolution element of its peak.
OVERSAMPLING = 4
PROPOSALS = 10
STRONG = 0.7  # of the best proposal's gain: closer looks are worth it
# Rows' worth that the trial of a wave spends: zero point, sine, cosine, and the ratio of walk to jitter with its
# skewed spread, which simulations of 60-row random walks put at four.
SPENT = 7
ROUNDS = 4  # of a refinement
# Samples of the Fourier grid per period of the highest trial frequency.
GRID_PER_PERIOD = 8


@dataclass(frozen=True)
class Detection:
    """One accepted term: frequency in Hz, and the probability that noise alone makes such a peak."""

    frequency_hz: float
    false_alarm: float


def basis(time_s: np.ndarray, frequencies_hz: np.ndarray) -> np.ndarray:
    """Return sines and cosines in turn, (n, 2k), for k frequencies."""
    phase = 2 * np.pi * np.multiply.outer(time_s, frequencies_hz)
    return np.stack([np.sin(phase), np.cos(phase)], axis=-1).reshape(time_s.size, -1)


def trial_frequencies(time_s: np.ndarray) -> np.ndarray:
    """Return the trial frequencies: from `LEAST_CYCLES` per log to half a cycle per typical step."""
    span = time_s[-1] - time_s[0]
    highest = 0.5 / np.median(np.diff(time_s))
    return np.arange(LEAST_CYCLES / span, highest, 1 / (OVERSAMPLING * span))


def search(
    differences: Differences, y: np.ndarray, trend: np.ndarray, *, threshold: float
) -> list[Detection]:
    """Return the terms whose false-alarm probability stays below the threshold, strongest first.

    `differences`: times and noise of the log, m differences. `y` (m,): differences of the log. `trend` (m, k):
    differences of the columns that are always fitted.
    """
    frequencies = trial_frequencies(differences.time_s)
    found: list[Detection] = []
    while frequencies.size and len(found) < MOST_TERMS:
        known = np.array([term.frequency_hz for term in found])
        columns = np.column_stack([trend, np.diff(basis(differences.time_s, known), axis=0)])
        if differences.count < columns.shape[1] + 6:
            break
        frequency, gain = _best_frequency(differences, y, columns, frequencies)
        chance = false_alarm(differences.time_s, gain, columns.shape[1])
        if chance > threshold:
            break
        refined = refine(differences, y, trend, np.append(known, frequency))
        if not _distinct(refined, differences.time_s):
            break
        alarms = [term.false_alarm for term in found] + [chance]
        found = [Detection(float(f), alarm) for f, alarm in zip(refined, alarms, strict=True)]
    return found


def false_alarm(time_s: np.ndarray, gain: float, parameters: int) -> float:
    """Return the probability that noise alone reaches this gain of log-likelihood at any trial frequency.

    The bound of [B08]_: P = 1 - (1 - p) exp(-τ), with p the chance at one frequency and τ the expected number of
    upward crossings over the band, W = f_max sqrt(4π var(t)).
    """
    count = time_s.size
    free = max(count - parameters - SPENT, 1)
    single = np.exp(-gain * free / count)
    band = 0.5 / np.median(np.diff(time_s)) * np.sqrt(4 * np.pi * np.var(time_s))
    crossings = band * single * np.sqrt(max(gain, 0.0) * free / count)
    return float(1 - (1 - single) * np.exp(-crossings))


def _distinct(frequencies: np.ndarray, time_s: np.ndarray) -> bool:
    """Return whether the log can tell the frequencies (k,) from each other and from drift."""
    resolution = 1 / (time_s[-1] - time_s[0])
    ordered = np.sort(frequencies)
    return bool(ordered[0] > 0.9 * LEAST_CYCLES * resolution and np.all(np.diff(ordered) > 0.7 * resolution))


def _best_frequency(
    differences: Differences, y: np.ndarray, columns: np.ndarray, frequencies: np.ndarray
) -> tuple[float, float]:
    """Return the frequency of the largest exact gain of log-likelihood, and that gain."""
    near = _plausible(Regression(differences, y, columns))
    start = near[-1].likelihood(differences.count)
    proposed = _proposals(differences, y, columns, frequencies, near)
    spacing = 1 / (differences.time_s[-1] - differences.time_s[0])
    ratios = [fit.ratio for fit in near]
    trials = _likelihoods(differences, y, columns, proposed, ratios)
    likely = trials.max(axis=0)
    strong = likely - start >= STRONG * (likely.max() - start)
    at, proposed = trials[:, strong].argmax(axis=0), proposed[strong]
    ratios = ratios[max(at.min() - 1, 0) : at.max() + 2]
    around = (proposed[:, None] + spacing * np.linspace(-0.25, 0.25, 5)).ravel()
    centre, _ = _exact(differences, y, columns, around, ratios)
    fine, gain = _exact(differences, y, columns, centre + spacing * np.linspace(-0.08, 0.08, 7), ratios)
    return fine, gain - start


def _plausible(line: Regression) -> list[LinearFit]:
    """Return every second fit from the smallest ratio up to the most likely one: a term can only lower the ratio."""
    top = line.place()
    return [line.fit(line.differences.ratios[at]) for at in range(top % 2, top + 1, 2)]


def _proposals(
    differences: Differences, y: np.ndarray, columns: np.ndarray, frequencies: np.ndarray, fits: list[LinearFit]
) -> np.ndarray:
    """Return the frequencies of the highest peaks of the fast spectrum, (p,)."""
    curve = _likelihood_curve(differences, y, columns, frequencies, fits)
    padded = np.concatenate([[-np.inf], curve, [-np.inf]])
    peaks = np.flatnonzero((curve >= padded[:-2]) & (curve >= padded[2:]))
    return frequencies[peaks[np.argsort(curve[peaks])[-PROPOSALS:]]]


def gain_curve(differences: Differences, y: np.ndarray, columns: np.ndarray, frequencies: np.ndarray) -> np.ndarray:
    """Return the gain of log-likelihood that a wave of each trial frequency (k,) brings, by the fast spectrum.

    Frequencies are those of `trial_frequencies`; `columns` (m, c) are what is fitted in any case. The curve finds
    peaks; their exact gain, by which a term is accepted, is refined in `search`.
    """
    near = _plausible(Regression(differences, y, columns))
    return _likelihood_curve(differences, y, columns, frequencies, near) - near[-1].likelihood(differences.count)


def _likelihood_curve(
    differences: Differences, y: np.ndarray, columns: np.ndarray, frequencies: np.ndarray, fits: list[LinearFit]
) -> np.ndarray:
    """Return the log-likelihood with a wave of each frequency, (k,): one Fourier transform per trial ratio."""
    count, step = differences.count, differences.mean_step_s
    curve = np.full(frequencies.size, -np.inf)
    slope = 4 * np.sin(np.pi * np.minimum(frequencies * step, 0.5)) ** 2
    for fit in fits:
        residual = y - columns @ fit.coefficients
        pull = np.diff(np.concatenate([[0.0], -differences.whiten(fit.ratio, residual[:, None])[:, 0], [0.0]]))
        power = np.abs(_transform(differences.time_s, pull, frequencies)) ** 2
        share = 2 * power * (1 + fit.ratio / slope) / count / fit.squares
        gain = fit.likelihood(count) - count / 2 * np.log1p(-np.minimum(share, 0.9999))
        np.maximum(curve, gain, out=curve)
    return curve


def _transform(time_s: np.ndarray, values: np.ndarray, frequencies: np.ndarray) -> np.ndarray:
    """Return Σ v exp(2πi f t) at evenly spaced frequencies: values spread linearly on a fine grid, then one FFT."""
    spacing = frequencies[1] - frequencies[0] if frequencies.size > 1 else frequencies[0]
    size = int(2 ** np.ceil(np.log2(GRID_PER_PERIOD * (frequencies[-1] / spacing + 2))))
    place = (time_s - time_s[0]) * spacing * size
    low = np.floor(place).astype(int)
    part = place - low
    grid = np.bincount(low, values * (1 - part), minlength=size + 2)
    grid += np.bincount(low + 1, values * part, minlength=size + 2)
    grid[: grid.size - size] += grid[size:]
    spectrum = np.fft.rfft(grid[:size])
    # The lowest trial frequency is a whole number of spacings, so every trial frequency is a line of the transform.
    lines = np.rint(frequencies / spacing).astype(int)
    window = np.sinc(lines / size) ** 2
    return spectrum[lines] / window


def _exact(
    differences: Differences, y: np.ndarray, columns: np.ndarray, frequencies: np.ndarray, ratios: list[float]
) -> tuple[float, float]:
    """Return the frequency of the largest likelihood over frequencies and ratios, and that log-likelihood."""
    likely = _likelihoods(differences, y, columns, frequencies, ratios).max(axis=0)
    top = int(np.argmax(likely))
    return float(frequencies[top]), float(likely[top])


def _likelihoods(
    differences: Differences, y: np.ndarray, columns: np.ndarray, frequencies: np.ndarray, ratios: list[float]
) -> np.ndarray:
    """Return the log-likelihood at each ratio with a wave of each frequency, (r, k)."""
    waves = np.diff(basis(differences.time_s, frequencies), axis=0)
    block = np.asfortranarray(np.column_stack([columns, y, waves]))
    width, wave = columns.shape[1], block[:, columns.shape[1] + 1 :]
    found = []
    for ratio in ratios:
        weighted = differences.whiten(ratio, block)
        # Not a matrix product: its threads wait for each other longer than such thin blocks take to multiply.
        moments = np.einsum("ni,nj->ij", block[:, : width + 1], weighted)
        heavy = weighted[:, width + 1 :]
        squares = np.stack([np.einsum("ij,ij->j", wave[:, i::2], heavy[:, j::2]) for i, j in ((0, 0), (1, 1), (0, 1))])
        found.append(_with_wave(differences, ratio, moments, squares))
    return np.array(found)


def _with_wave(differences: Differences, ratio: float, moments: np.ndarray, squares: np.ndarray) -> np.ndarray:
    """Return the log-likelihood with one sine and cosine added, (k,) for k waves.

    `moments` (w + 1, w + 1 + 2k): products of the w known columns and of the log with themselves and with the waves.
    `squares` (3, k): products of each sine with itself, its cosine with itself, and both.
    """
    width = moments.shape[0] - 1
    shares = np.linalg.solve(moments[:width, :width], moments[:width, width:])  # of the known columns in the rest
    left = moments[width, width:] - moments[:width, width] @ shares  # what they leave of the log, and of its pull
    sine, cosine = moments[:width, width + 1 :: 2], moments[:width, width + 2 :: 2]
    of_sine, of_cosine = shares[:, 1::2], shares[:, 2::2]
    ss, cc = squares[0] - np.sum(sine * of_sine, axis=0), squares[1] - np.sum(cosine * of_cosine, axis=0)
    sc, sy, cy = squares[2] - np.sum(sine * of_cosine, axis=0), left[1::2], left[2::2]
    determinant = ss * cc - sc**2
    usable = determinant > 1e-9 * ss * cc
    taken = np.where(usable, (cc * sy**2 - 2 * sc * sy * cy + ss * cy**2) / np.where(usable, determinant, 1), 0)
    rest = np.maximum(left[0] - taken, 0) + differences.count * SMALLEST_JITTER**2
    return -0.5 * (differences.count * np.log(rest / differences.count) + differences.log_determinant(ratio))


def refine(
    differences: Differences, y: np.ndarray, trend: np.ndarray, frequencies: np.ndarray
) -> np.ndarray:
    """Return the frequencies after Gauss-Newton steps of all terms together, (k,)."""
    limit = 0.3 / (differences.time_s[-1] - differences.time_s[0])
    for _ in range(ROUNDS):
        step = frequency_fit(differences, y, trend, frequencies)[0]
        frequencies = np.abs(frequencies + np.clip(step, -limit, limit))
        if np.all(np.abs(step) < 1e-3 * limit):
            break
    return frequencies


def frequency_fit(
    differences: Differences, y: np.ndarray, trend: np.ndarray, frequencies: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the next step of each frequency and its error, (k,) both, in Hz."""
    waves = basis(differences.time_s, frequencies)
    columns = np.column_stack([trend, np.diff(waves, axis=0)])
    linear = Regression(differences, y, columns).best()
    amplitudes = linear.coefficients[trend.shape[1] :]
    centred = 2 * np.pi * (differences.time_s - differences.time_s.mean())[:, None]
    change = centred * (waves[:, 1::2] * amplitudes[::2] - waves[:, ::2] * amplitudes[1::2])
    joint = Regression(differences, y, np.column_stack([columns, np.diff(change, axis=0)])).fit(linear.ratio)
    count = frequencies.size
    scale = joint.squares / max(differences.count - joint.coefficients.size, 1)
    squares = scale * np.diag(joint.inverse)[-count:]
    return joint.coefficients[-count:], np.sqrt(np.where(squares > 0, squares, np.inf))  # rounded below 0: not told
