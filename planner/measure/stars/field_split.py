r"""What a frame's star shapes are made of: common to all, growing from the centre, a plane, circling a point.

The shapes enter as squared trails :math:`S = L^2 e^{2i\alpha}`, complex (length L, direction :math:`\alpha`). Second
moments of motion add, so that S is linear in what blurs a star:

.. math:: S(z) = c + L z + M \bar z + q z^2, \qquad S_{rotation}(z) = -(\varphi z - t)^2

with z = x + iy from the frame's centre in units of the half diagonal; c is common to all stars, L and M make up a
plane (tilt), q > 0 points away from the centre, q < 0 circles it. A field that turns by :math:`\varphi` while it
drifts leaves arcs around :math:`z_0 = t/\varphi`. Plain floats.
"""

from dataclasses import dataclass, replace

import numpy as np

from planner.constants import RAYLEIGH_MEDIAN
from planner.measure.robust import huber_weight

FEWEST_FOR_PARTS = 12
HUBER = 1.5
ROUNDS = 25
# Gain of chi-squared that a part must bring beyond its cost ln(2n) per number fitted.
LEAST_GAIN = 9.0
# Numbers of a linear model, in the order of `_columns`: common 0-1, radial 2, plane 3-6.
COMMON, RADIAL, PLANE = [0, 1], [2], [3, 4, 5, 6]


@dataclass(frozen=True)
class Part:
    """One part of the split."""

    square: complex  # S of the part: common at the centre, radial on the corner, tilt and rotation where they are most
    error: float  # of its size, 1 sigma
    significance: float  # sigmas, as improbable as its F of as many numbers as the part has
    present: bool


@dataclass(frozen=True)
class _Scale:
    """Variance of a value of weight one, and from how many degrees of freedom it is known."""

    variance: float
    freedom: int


NO_PART = Part(0j, np.nan, 0.0, False)


@dataclass(frozen=True)
class Split:
    """The parts; lengths in pixels, `centre` (x, y) from the frame's centre in units of the half diagonal."""

    common: Part
    radial: Part
    tilt: Part
    rotation: Part
    turn: float  # of the field during the exposure, in pixels of arc per unit of the half diagonal
    turn_error: float
    centre: tuple[float, float] | None
    residual: np.ndarray  # complex (n,)
    corners: np.ndarray  # complex (4,), S of all parts present: low rows first, then by columns


def split_field(position: np.ndarray, square: np.ndarray, error: np.ndarray, extent: tuple[float, float]) -> Split:
    """Return the parts of star shapes.

    `position` (n,) complex: from the frame's centre, in units of the half diagonal. `square` (n,) complex: squared
    trails [pix2]. `error` (n,): of each of its two components, from the noise; stars scatter by more, which is found
    from the fit. `extent`: half width and half height of the frame in units of the half diagonal.
    """
    chosen = COMMON + RADIAL + PLANE if len(position) >= FEWEST_FOR_PARTS else COMMON
    columns = _columns(position)
    weights, scale = _robust_weights(columns[:, chosen], _real(square), np.concatenate([error, error]))
    models = {"common": COMMON}
    if chosen != COMMON:
        models |= {"radial": COMMON + RADIAL, "tilt": COMMON + PLANE, "all": chosen}
    fits = {name: _linear(columns[:, use], _real(square), weights) for name, use in models.items()}
    costs = {name: _cost(fit.chi2 / scale.variance, len(use), len(position), name) for (name, fit), use in
             zip(fits.items(), models.values(), strict=True)}
    best = min(costs, key=lambda name: costs[name])
    if len(chosen) > len(COMMON):
        turning = _best_rotation(position, square, weights, scale.variance, fits["all"].values)
        around = RADIAL[0] in models[best] and fits[best].values[models[best].index(RADIAL[0])] < 0
        # Stars that circle the centre itself are a turning field too, which has two numbers more for its place.
        favour = 2 * np.log(2 * len(position)) if around else 0.0
        if _cost(turning.chi2, turning.numbers, len(position), "rotation") < costs[best] + favour:
            return _from_turning(columns, square, weights, scale, turning, extent)
    return _from_linear(columns, square, weights, scale, models, best, extent)


def _columns(position: np.ndarray) -> np.ndarray:
    """Return the real design matrix (2n, 7): real parts of S above imaginary ones."""
    one, zero = np.ones_like(position.real), np.zeros_like(position.real)
    x, y, z2 = position.real, position.imag, position**2
    return np.vstack([np.column_stack([one, zero, z2.real, x, y, zero, zero]),
                      np.column_stack([zero, one, z2.imag, zero, zero, x, y])])


def _real(values: np.ndarray) -> np.ndarray:
    return np.concatenate([values.real, values.imag])


def _robust_weights(columns: np.ndarray, values: np.ndarray, noise: np.ndarray
                    ) -> tuple[np.ndarray, _Scale]:
    """Return weights (2n,) by Huber's rule on top of noise and scatter, and chi-squared per degree of freedom."""
    n = values.size // 2
    intrinsic = 0.0
    base = 1 / noise**2
    weights = base.copy()
    for _ in range(ROUNDS):
        fit = _linear(columns, values, weights)
        distance = np.hypot(fit.residual[:n], fit.residual[n:])
        spread = np.median(distance) / RAYLEIGH_MEDIAN
        intrinsic = np.sqrt(max(spread**2 - np.median(noise) ** 2, 0.0))
        total = np.sqrt(noise[:n] ** 2 + intrinsic**2)
        huber = huber_weight(distance / np.maximum(total, 1e-12), HUBER * 1.4142)
        new = np.tile(huber / np.maximum(total, 1e-12) ** 2, 2)
        if np.max(np.abs(new - weights) / new.max()) < 1e-6:
            break
        weights = new
    fit = _linear(columns, values, weights)
    freedom = max(values.size - columns.shape[1], 1)
    return weights, _Scale(max(float(fit.chi2 / freedom), 1e-12), freedom)


@dataclass(frozen=True)
class _Fit:
    values: np.ndarray
    covariance: np.ndarray  # for a chi-squared of 1 per degree of freedom
    residual: np.ndarray
    chi2: float


def _linear(columns: np.ndarray, values: np.ndarray, weights: np.ndarray) -> _Fit:
    weighted = columns * weights[:, None]
    covariance = np.linalg.pinv(weighted.T @ columns)
    found = covariance @ np.einsum("rk,r->k", weighted, values)
    residual = values - np.einsum("rk,k->r", columns, found)
    return _Fit(found, covariance, residual, float(np.sum(weights * residual**2)))


def _cost(chi2: float, numbers: int, stars: int, name: str) -> float:
    """Return Schwarz's criterion; anything beyond what is common must gain `LEAST_GAIN` too."""
    return chi2 + numbers * np.log(2 * stars) + (LEAST_GAIN if name != "common" else 0)


@dataclass(frozen=True)
class _Rotation:
    turn: float  # phi
    drift: complex  # t
    radial: float
    covariance: np.ndarray  # of (phi, Re t, Im t)
    chi2: float  # scaled
    numbers: int

    def square(self, position: np.ndarray) -> np.ndarray:
        """Return S of the turning field."""
        return -((self.turn * position - self.drift) ** 2)


def _best_rotation(position: np.ndarray, square: np.ndarray, weights: np.ndarray, scale: float,
                   linear: np.ndarray) -> _Rotation:
    """Return the turning field that fits best, alone or beside a radial part, by whichever has the lower cost."""
    fits = [_rotation(position, square, weights, scale, linear, radial) for radial in (False, True)]
    return min(fits, key=lambda fit: _cost(fit.chi2, fit.numbers, len(position), "rotation"))


def _rotation(position: np.ndarray, square: np.ndarray, weights: np.ndarray, scale: float, linear: np.ndarray,
              radial: bool) -> _Rotation:
    """Return the turning field nearest to the stars, from several starts."""
    from scipy.optimize import least_squares

    root = np.sqrt(weights / scale)

    def misfit(values: np.ndarray) -> np.ndarray:
        model = -((values[0] * position - values[1] - 1j * values[2]) ** 2)
        if radial:
            model = model + values[3] * position**2
        return root * _real(model - square)

    def slope(values: np.ndarray) -> np.ndarray:
        moved = values[0] * position - values[1] - 1j * values[2]
        columns = [-2 * moved * position, 2 * moved, 2j * moved, *([position**2] if radial else [])]
        return root[:, None] * np.column_stack([_real(column) for column in columns])

    starts = [np.array([*start, *([0.0] if radial else [])]) for start in _starts(linear)]
    fits = [least_squares(misfit, start, jac=slope, method="lm") for start in starts]
    best = min(fits, key=lambda fit: fit.cost)
    values = best.x * (1 if best.x[0] >= 0 else np.array([-1, -1, -1, *([1] if radial else [])]))
    covariance = np.linalg.pinv(best.jac.T @ best.jac)[:3, :3]
    return _Rotation(float(values[0]), complex(values[1], values[2]), float(values[3]) if radial else 0.0, covariance,
                     2 * float(best.cost), 4 if radial else 3)


def _starts(linear: np.ndarray) -> list[tuple[float, float, float]]:
    """Return (phi, Re t, Im t) to start from: t from what is common, phi from what circles or from the plane."""
    drift = np.sqrt(-complex(linear[0], linear[1]))
    # A plane a x + b y with complex a and b is (a - ib)/2 z + (a + ib)/2 conj z.
    plane = (complex(linear[3], linear[5]) - 1j * complex(linear[4], linear[6])) / 2
    size = max(abs(drift), 0.1)
    turn = (plane / (2 * drift)).real if abs(drift) > 1e-6 else 0.0
    circle = np.sqrt(max(-linear[2], 1e-4))
    sign = 1.0 if turn >= 0 else -1.0
    return [(turn, drift.real, drift.imag), (sign * circle, drift.real, drift.imag), (circle, 1e-3, 1e-3),
            (0.3 * size, drift.real, drift.imag), (-0.3 * size, drift.real, drift.imag)]


def _from_linear(columns: np.ndarray, square: np.ndarray, weights: np.ndarray, scale: _Scale,
                 models: dict[str, list[int]], best: str, extent: tuple[float, float]) -> Split:
    """Return the parts of the best linear model; those it lacks as they come out beside all others, not present."""
    use, everything = models[best], max(models.values(), key=len)
    values = _real(square)
    fit, full = (_linear(columns[:, numbers], values, weights) for numbers in (use, everything))
    common = _part(fit, use, COMMON, scale, complex(*fit.values[:2]))
    outer = [_outer(fit, use, part, scale, extent) if set(part) <= set(use) else
             replace(_outer(full, everything, part, scale, extent), present=False)
             for part in (RADIAL, PLANE)]
    misfit = fit.residual[: square.size] + 1j * fit.residual[square.size:]
    corners = _columns(_corners(extent))[:, use] @ fit.values
    return Split(common, outer[0], outer[1], NO_PART, 0.0, np.nan, None, misfit, corners[:4] + 1j * corners[4:])


def _from_turning(columns: np.ndarray, square: np.ndarray, weights: np.ndarray, scale: _Scale,
                  turning: _Rotation, extent: tuple[float, float]) -> Split:
    """Return the parts of a turning field; the plane is what is left of one, not present."""
    position = columns[: square.size, 3] + 1j * columns[: square.size, 4]
    rest = square - turning.square(position)
    everything = COMMON + RADIAL + PLANE
    fit = _linear(columns, _real(rest), weights)
    radial, tilt = (_outer(fit, everything, part, scale, extent) for part in (RADIAL, PLANE))
    drift_covariance = turning.covariance[1:, 1:]
    drift = np.array([turning.drift.real, turning.drift.imag])
    error = 2 * abs(turning.drift) * float(np.sqrt(np.trace(drift_covariance) / 2))
    chi2 = float(drift @ np.linalg.pinv(drift_covariance) @ drift)
    common = Part(-turning.drift**2, error, _sigmas(chi2, 2, scale.freedom), True)
    place = turning.drift / turning.turn
    return Split(common, replace(radial, present=turning.numbers > 3), replace(tilt, present=False),
                 _rotation_part(turning, extent), turning.turn, float(np.sqrt(turning.covariance[0, 0])),
                 (place.real, place.imag), rest - turning.radial * position**2,
                 turning.square(_corners(extent)) + turning.radial * _corners(extent) ** 2)


def _corners(extent: tuple[float, float]) -> np.ndarray:
    """Return the frame's corners (4,) complex, low rows first, then by columns."""
    return np.array([complex(x * extent[0], y * extent[1]) for y in (-1, 1) for x in (-1, 1)])


def _rotation_part(turning: _Rotation, extent: tuple[float, float]) -> Part:
    """Return the longest arc that the turn alone leaves in the frame, with the centre in the frame's middle."""
    corner = complex(*extent)
    size = turning.turn**2 * abs(corner) ** 2
    error = float(np.sqrt(turning.covariance[0, 0]))
    return Part(-(turning.turn * corner) ** 2, 2 * turning.turn * error * abs(corner) ** 2,
                turning.turn / max(error, 1e-12) if size else 0.0, True)


def _part(fit: _Fit, use: list[int], part: list[int], scale: _Scale, square: complex) -> Part:
    places = [use.index(number) for number in part]
    values, covariance = fit.values[places], fit.covariance[np.ix_(places, places)] * scale.variance
    chi2 = float(values @ np.linalg.pinv(covariance) @ values)
    return Part(square, float(np.sqrt(np.trace(covariance) / len(part))), _sigmas(chi2, len(part), scale.freedom), True)


def _outer(fit: _Fit, use: list[int], part: list[int], scale: _Scale, extent: tuple[float, float]
           ) -> Part:
    """Return a part where it is largest in the frame: radial on the corner, the plane on the worst corner."""
    if not set(part) <= set(use):
        return NO_PART
    values = fit.values[[use.index(number) for number in part]]
    corner = complex(*extent)
    if part == RADIAL:
        return _part(fit, use, part, scale, complex(values[0] * corner**2))
    ax, ay, bx, by = values
    squares = [complex(ax * c.real + ay * c.imag, bx * c.real + by * c.imag) for c in (corner, corner.conjugate())]
    return _part(fit, use, part, scale, max(squares, key=abs))


def _sigmas(chi2: float, numbers: int, freedom: int) -> float:
    """Return how many sigmas of a normal distribution are as improbable as this chi-squared of a scale so well known.

    `freedom`: of the scatter that gives the scale; few stars may agree by chance.
    """
    from scipy.stats import f as law
    from scipy.stats import norm

    return float(norm.isf(np.maximum(law.sf(chi2 / numbers, numbers, freedom), 1e-300) / 2))
