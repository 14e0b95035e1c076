"""Noise of a tracking log: a random walk (wander) under white noise (jitter), and least squares that respect both.

Plain-float kernels (arcsec, seconds) for `report` and `periodic_terms`. The log is differenced, which removes
its unknown zero point exactly; the differences of random walk plus white noise have a tridiagonal covariance,

.. math:: V_{ii} = s^2\\,[\\lambda\\,\\Delta t_i/\\overline{\\Delta t} + 2], \\qquad V_{i,i+1} = -s^2,

with the jitter variance :math:`s^2` and :math:`\\lambda` the variance that the walk gathers in one mean step over
the jitter's. A row exposed for :math:`t` averages the walk, whose differences then vary by :math:`w^2(\\Delta t - t/3)`
and share :math:`w^2 t/6` with the next: the 2 and the 1 above become :math:`2c` and :math:`c = 1 - \\lambda
t/(6\\overline{\\Delta t})`. Across a step of unknown size a difference says nothing: its variance is a wide one. So
each trial of :math:`\\lambda` costs a time proportional to the number of rows, gaps and uneven sampling included, and
nothing is interpolated.

References
----------
D. A. Harville, J. Am. Stat. Assoc. 72, 320 (1977), doi:10.1080/01621459.1977.10480998: restricted likelihood.
"""

from dataclasses import dataclass

import numpy as np

# Beyond this ratio a log is a pure random walk at any length that is read here.
LARGEST_RATIO = 1e4
# Spacing of trial ratios, as a factor: the likelihood is smooth in log(ratio) over a decade.
RATIO_STEP = 2.0
# arcsec; added to every fit in quadrature, so that a log without noise does not show the noise of its rounding.
SMALLEST_JITTER = 1e-4
# Around the most likely ratio the averages take finer steps: a long log knows its wander far better than to a factor.
FINE_STEPS, FINE_REACH = 8, 1.5  # per coarse step; coarse steps to either side
STEP_VARIANCE = 1e6  # of a difference across a step, in units of the jitter's: so wide that it says nothing
COARSE = 4  # trial ratios: the likelihood has one peak
BOUND = 0.95
ONE_SIGMA = 0.16, 0.84  # of a posterior: its errors
# Beforehand: a minute's wander is likely no more than so many times a second's jitter (common practice, no source), and
# a weak one as likely as its root: half way between even in its size and in its logarithm (stated errors hold).
USUAL_WANDER, WEAK = 2.0, 0.5
SIZES, NEGLIGIBLE = 400, 1e-3  # trial sizes of the wander; share of the weight below which a trial sets no scale
WEAKER = 6  # coarse steps below the smallest trial ratio, so that a weak wander is not read as the weakest trial


class Differences:
    """Times of one log, and the factorised covariance of its differences for each trial ratio.

    Rows are exposed for `exposure_s`; `breaks` are the differences across which the star was moved.
    """

    def __init__(self, time_s: np.ndarray, exposure_s: float = 0.0, breaks: np.ndarray | tuple[int, ...] = ()) -> None:
        self.time_s = time_s
        step = np.diff(time_s)
        self.breaks = np.asarray(breaks, dtype=int)
        self.count = step.size - self.breaks.size  # that say something
        self.size = step.size
        self.mean_step_s = float(step.mean())
        self._relative_step = step / self.mean_step_s
        self._averaged = min(exposure_s, float(step.min())) / (6 * self.mean_step_s)
        self.usual_ratio = USUAL_WANDER**2 * self.mean_step_s / 60 * max(exposure_s, 1.0)
        # A walk of this ratio adds a twentieth of the white noise's share to the error of a rate (12/n against it).
        smallest = 0.6 / self.count
        number = 2 + int(np.log(LARGEST_RATIO / smallest) / np.log(RATIO_STEP))
        self.ratios = np.geomspace(smallest, LARGEST_RATIO, number)
        self._factors: dict[float, tuple[np.ndarray, np.ndarray, float]] = {}

    def _factor(self, ratio: float) -> tuple[np.ndarray, np.ndarray, float]:
        """Return the factors of V/s² and the logarithm of its determinant."""
        if ratio not in self._factors:
            from scipy.linalg.lapack import dpttrf

            shared = 1 - ratio * self._averaged
            diagonal = ratio * self._relative_step + 2 * shared
            diagonal[self.breaks] += STEP_VARIANCE * (1 + ratio)
            diagonal, below, _ = dpttrf(diagonal, np.full(self.size - 1, -shared))
            self._factors[ratio] = diagonal, below, float(np.log(diagonal).sum())
        return self._factors[ratio]

    def log_determinant(self, ratio: float) -> float:
        """Return the logarithm of the determinant of V/s² for this ratio."""
        return self._factor(ratio)[2]

    def whiten(self, ratio: float, columns: np.ndarray) -> np.ndarray:
        """Return (V/s²)⁻¹ times columns (m, k) of differences."""
        from scipy.linalg.lapack import dpttrs

        diagonal, below, _ = self._factor(ratio)
        return dpttrs(diagonal, below, columns)[0]

    def step_sizes(self, ratio: float, residual: np.ndarray) -> np.ndarray:
        """Return how far the star was moved at each break, (b,), from residual differences (m,)."""
        return STEP_VARIANCE * (1 + ratio) * self.whiten(ratio, residual[:, None])[self.breaks, 0]

    def inverse_bands(self, ratio: float) -> tuple[np.ndarray, np.ndarray]:
        """Return the diagonal (m,) and the first off-diagonal (m - 1,) of (V/s²)⁻¹."""
        from scipy.linalg import solve_banded

        diagonal, below, _ = self._factor(ratio)
        # Takahashi's recurrence for a tridiagonal matrix, inner_i = 1/d_i + below_i² inner_(i+1), as one system.
        band = np.stack([np.concatenate([[0.0], -(below**2)]), np.ones_like(diagonal)])
        inner = solve_banded((0, 1), band, 1 / diagonal)
        return inner, -below * inner[1:]


@dataclass(frozen=True)
class LinearFit:
    """Generalised least squares of one log on columns of differences, at one ratio."""

    ratio: float
    coefficients: np.ndarray  # (k,)
    inverse: np.ndarray  # (k, k); times s² it is the covariance
    squares: float  # r' (V/s²)⁻¹ r
    log_determinant: float
    restricted_log_determinant: float

    def likelihood(self, count: int) -> float:
        """Return the logarithm of the profile likelihood, constants left out."""
        return -0.5 * (count * np.log(self.squares / count) + self.log_determinant)

    def restricted(self, count: int) -> float:
        """Return the logarithm of the restricted profile likelihood, constants left out."""
        free = count - self.coefficients.size
        return -0.5 * (free * np.log(self.squares / free) + self.restricted_log_determinant)


class Regression:
    """Differences y (m,) on columns (m, k), by trial ratio; what a ratio costs is paid once."""

    def __init__(self, differences: Differences, y: np.ndarray, columns: np.ndarray) -> None:
        self.differences = differences
        self._both = np.asfortranarray(np.column_stack([columns, y]))
        self._products: dict[float, np.ndarray] = {}

    def fit(self, ratio: float, known: int | None = None) -> LinearFit:
        """Return the fit on the first `known` columns, all if not given, at one ratio of walk to jitter."""
        if ratio not in self._products:
            self._products[ratio] = self._both.T @ self.differences.whiten(ratio, self._both)
        gram = self._products[ratio]
        known = len(gram) - 1 if known is None else known
        normal, moment = gram[:known, :known], gram[:known, -1]
        inverse = np.linalg.inv(normal)
        coefficients = inverse @ moment
        squares = max(float(gram[-1, -1] - moment @ coefficients), 0.0) + self.differences.count * SMALLEST_JITTER**2
        log_determinant = self.differences.log_determinant(ratio)
        restricted = log_determinant + np.linalg.slogdet(normal)[1]
        return LinearFit(ratio, coefficients, inverse, squares, log_determinant, float(restricted))

    def all(self) -> list[LinearFit]:
        """Return one fit for each trial ratio."""
        return [self.fit(ratio) for ratio in self.differences.ratios]

    def place(self, known: int | None = None) -> int:
        """Return which trial ratio is the most likely: every fourth is tried, then those beside the best."""
        ratios, count = self.differences.ratios, self.differences.count
        tried = {at: self.fit(ratios[at], known).likelihood(count) for at in range(0, ratios.size, COARSE)}
        step = COARSE // 2
        while step:
            top = max(tried, key=tried.__getitem__)
            for at in (top - step, top + step):
                if 0 <= at < ratios.size and at not in tried:
                    tried[at] = self.fit(ratios[at], known).likelihood(count)
            step //= 2
        return max(tried, key=tried.__getitem__)

    def best(self, known: int | None = None) -> LinearFit:
        """Return the fit of the largest likelihood over the trial ratios."""
        return self.fit(self.differences.ratios[self.place(known)], known)


@dataclass(frozen=True)
class AveragedFit:
    """A fit averaged over the ratio by its restricted likelihood, so that not knowing the walk widens the errors."""

    coefficients: np.ndarray  # (k,)
    covariance: np.ndarray  # (k, k)
    ratio: float  # the most likely one
    scale_arcsec: float  # s at that ratio
    jitter_arcsec: float
    jitter_error_arcsec: float
    wander_arcsec_per_root_s: float
    wander_error_arcsec_per_root_s: float
    wander_bound_arcsec_per_root_s: float  # below which it lies with `BOUND` of certainty


def averaged(differences: Differences, y: np.ndarray, columns: np.ndarray) -> AveragedFit:
    """Return the fit averaged over all ratios, a wander much above the jitter being unlikely beforehand.

    The wander's size itself is its most likely one, which is zero where the log shows none; its error is half of what
    holds it with 68 %.
    """
    line = Regression(differences, y, columns)
    ratios = _fine_ratios(differences, max(line.all(), key=lambda fit: fit.restricted(differences.count)).ratio)
    fits = [line.fit(ratio) for ratio in ratios]
    free = differences.count - columns.shape[1]
    logs = np.array([fit.restricted(differences.count) for fit in fits])
    # Of wander over jitter, w = sqrt(ratio): w^-WEAK dw/(1 + (w/usual)²), and dw/w is half of dln(ratio).
    before = ratios ** ((1 - WEAK) / 2) / (1 + ratios / differences.usual_ratio)
    weights = np.exp(logs - logs.max()) * before * np.gradient(np.log(ratios))
    weights /= weights.sum()
    # Student's t of few degrees of freedom: its variance is free/(free - 2) times the scale.
    scales = np.array([fit.squares for fit in fits]) / max(free - 2, 1)
    values = np.array([fit.coefficients for fit in fits])
    mean = weights @ values
    covariance = sum(
        weight * (scale * fit.inverse + np.outer(value - mean, value - mean))
        for weight, scale, fit, value in zip(weights, scales, fits, values, strict=True)
    )
    jitter = np.sqrt(scales)
    wander = np.sqrt(scales * ratios / differences.mean_step_s)
    within = 0.5 / max(free, 1)  # (relative error of a standard deviation)², from `free` values
    top = int(np.argmax(logs))
    return AveragedFit(
        mean, np.asarray(covariance), fits[top].ratio, float(np.sqrt(scales[top])),
        *_mean_and_error(jitter, weights, within),
        *_mode_error_bound(wander, weights, within),
    )


def _fine_ratios(differences: Differences, likely: float) -> np.ndarray:
    """Return the trial ratios, some below them, and finer ones around the most likely one, in order."""
    fine = likely * RATIO_STEP ** (np.arange(-FINE_REACH * FINE_STEPS, FINE_REACH * FINE_STEPS + 1) / FINE_STEPS)
    weaker = differences.ratios[0] * RATIO_STEP ** -np.arange(1.0, WEAKER + 1)
    outside = np.concatenate([weaker, differences.ratios])
    outside = outside[(outside < fine[0]) | (outside > fine[-1])]
    return np.sort(np.concatenate([outside, fine]))


def _mean_and_error(values: np.ndarray, weights: np.ndarray, within: float) -> tuple[float, float]:
    """Return the weighted mean and its error, spread over trials and sampling together."""
    mean = float(weights @ values)
    return mean, float(np.sqrt(weights @ (values - mean) ** 2 + within * mean**2))


def _mode_error_bound(values: np.ndarray, weights: np.ndarray, within: float) -> tuple[float, float, float]:
    """Return the most likely size, its error, and a bound, of trials each known to `within`."""
    width = np.hypot(np.sqrt(within), np.abs(np.gradient(np.log(values))))  # of the logarithm; trials stand apart
    likely = weights > NEGLIGIBLE * weights.max()
    grid = np.linspace(0, np.max(values[likely] * np.exp(3 * np.minimum(width[likely], 0.5))), SIZES + 1)[1:]
    off = np.log(grid[:, None] / values) / width
    density = np.sum(weights / width * np.exp(-0.5 * off**2), axis=1) / grid
    top = int(np.argmax(density * grid**WEAK))  # of what the log itself says
    mode = float(grid[top]) if top else 0.0
    low, high, bound = np.interp([*ONE_SIGMA, BOUND], np.cumsum(density) / density.sum(), grid)
    return mode, float(high - low) / 2, float(bound)


def deletion_residuals(differences: Differences, ratio: float, residual: np.ndarray) -> np.ndarray:
    """Return how far each row stands from what all others predict, in units of s, (m + 1,) for residuals (m,).

    With the precision matrix Q of the undifferenced rows, row i misses its prediction by (Q r)_i/Q_ii with variance
    s²/Q_ii; the ratio of the two is returned. Q_ii needs three bands of V⁻¹, found from both factorisations.
    """
    weighted = differences.whiten(ratio, residual[:, None])[:, 0]
    pull = np.diff(np.concatenate([[0.0], -weighted, [0.0]]))
    inner, beside = differences.inverse_bands(ratio)
    precision = np.empty(residual.size + 1)
    precision[0], precision[-1] = inner[0], inner[-1]
    precision[1:-1] = inner[:-1] + inner[1:] - 2 * beside
    return pull / np.sqrt(precision)
