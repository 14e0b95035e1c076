"""Measures of an image taken from its transfer function alone, without drawing it; plain floats.

The image is periodic with the inverse of the grid's step, which `Transfer.extent` makes long enough. Coordinates `u`,
`v` in the image plane are those of the grid: along and across the motion.
"""

import math
from dataclasses import dataclass

import numpy as np

from planner.errors import InvalidInputError
from planner.optics.transfer import Transfer

MOST_POINTS = 4_000_000  # of one grid: 64 MB of complex numbers


@dataclass(frozen=True)
class FourierImage:
    """A transfer function on half a plane (`u >= 0`), each value times the area of frequency it stands for.

    `weighted` is T du dv, twice that off the axis `u = 0`; sums of its real part are integrals over the plane.
    """

    u: np.ndarray  # (nu,) cycles per arcsec
    v: np.ndarray  # (nv,)
    weighted: np.ndarray  # (nu, nv)
    cell: float  # du dv
    angle: float  # rad, position angle of u

    def power(self) -> float:
        """Return the integral of abs(T)^2: 1/NEA by Parseval's theorem."""
        square = np.abs(self.weighted) ** 2
        square[1:] /= 2  # the factor 2 of the half plane was squared
        return float(square.sum() / self.cell)

    def brightness(self, u_arcsec: np.ndarray, v_arcsec: np.ndarray) -> np.ndarray:
        """Return the brightness [1/arcsec2] at points (n,) of the image plane."""
        along = np.exp(2j * np.pi * np.outer(u_arcsec, self.u))
        across = np.exp(2j * np.pi * np.outer(v_arcsec, self.v))
        return np.sum((along @ self.weighted) * across, axis=1).real

    def shifted(self, u_arcsec: float, v_arcsec: float) -> "FourierImage":
        """Return the same image with this point moved to the origin."""
        phase = np.exp(2j * np.pi * u_arcsec * self.u)[:, None] * np.exp(2j * np.pi * v_arcsec * self.v)
        return FourierImage(self.u, self.v, self.weighted * phase, self.cell, self.angle)


def sampled(transfer: Transfer, *, angle: float, least_period: float = 0.0) -> FourierImage:
    """Return the transfer function on a grid turned by `angle` [rad] that holds the image without overlap."""
    highest = transfer.highest_frequency()
    along, across = transfer.extent()
    if angle != transfer.motion_angle:
        along = across = max(along, across)
    step_u, step_v = 1 / max(along, least_period), 1 / max(across, least_period)
    count_u, count_v = math.ceil(highest / step_u), math.ceil(highest / step_v)
    if count_u * count_v > MOST_POINTS / 2:
        raise InvalidInputError("trail", f"{along:.4g} arcsec", "is too long for this sharp a star",
                                "Shorten the exposure or the trail.")
    u = step_u * np.arange(count_u + 1)
    v = step_v * np.arange(-count_v, count_v + 1)
    weighted = transfer.on_grid(u, v, angle) * (2 * step_u * step_v)
    weighted[0] /= 2
    return FourierImage(u, v, weighted, step_u * step_v, angle)


@dataclass(frozen=True)
class MatchedMoments:
    """Second moments under a Gaussian weight of the same shape [arcsec2], about the weighted centre [arcsec]."""

    uu: float
    uv: float
    vv: float
    centre: tuple[float, float] = (0.0, 0.0)

    @property
    def principal(self) -> tuple[float, float, float]:
        """Larger and smaller moment, and the angle [rad] of the larger from `u` towards `v`."""
        mean, half = (self.uu + self.vv) / 2, math.hypot((self.uu - self.vv) / 2, self.uv)
        return mean + half, mean - half, math.atan2(2 * self.uv, self.uu - self.vv) / 2


def matched_moments(image: FourierImage, start: tuple[float, float, float]) -> MatchedMoments:
    r"""Return the adaptive moments: the Gaussian weight :math:`M` whose weighted moments are half of its own.

    In the image plane :math:`M = 2 \int x x^T w_M I / \int w_M I`; its transform, used here, is

    .. math:: \frac{\int 4\pi^2 f f^T\,T(f)\,G_M(f)\,d^2f}{\int T(f)\,G_M(f)\,d^2f} = \frac{1}{2} M^{-1},
              \qquad G_M = e^{-2\pi^2 f^T M f}

    Each step goes twice as far as the plain iteration, which is exact for a Gaussian image [HS03]_.

    References
    ----------
    .. [HS03] C. Hirata and U. Seljak, MNRAS 343, 459 (2003), doi:10.1046/j.1365-8711.2003.06683.x, sec. 2.1 (the
       weight of Bernstein and Jarvis 2002, AJ 123, 583).
    """
    uu, uv, vv = start
    centre_u = centre_v = 0.0
    asymmetric = np.iscomplexobj(image.weighted)
    u, v = image.u[:, None], image.v[None, :]
    for _ in range(200):
        gauss = np.exp(-2 * np.pi**2 * (uu * u**2 + vv * v**2 + 2 * uv * u * v))
        product = (image.shifted(centre_u, centre_v).weighted if asymmetric else image.weighted) * gauss
        rows, columns = product.real.sum(axis=1), product.real.sum(axis=0)
        total = rows.sum()
        step_u = step_v = 0.0
        new = _twice_inverse(rows @ image.u**2 / total, image.u @ product.real @ image.v / total,
                             columns @ image.v**2 / total, (uu, uv, vv))
        if asymmetric:
            # The weighted first moment is M times that of the transform; twice it for the matched weight.
            moment_u = -2 * np.pi * (image.u @ product.imag.sum(axis=1)) / total
            moment_v = -2 * np.pi * (product.imag.sum(axis=0) @ image.v) / total
            step_u, step_v = 2 * (uu * moment_u + uv * moment_v), 2 * (uv * moment_u + vv * moment_v)
        change = max(abs(new[0] - uu), abs(new[1] - uv), abs(new[2] - vv), abs(step_u), abs(step_v))
        uu, uv, vv = new
        centre_u, centre_v = centre_u + step_u, centre_v + step_v
        if change < 1e-7 * (uu + vv):
            break
    return MatchedMoments(uu, uv, vv, (centre_u, centre_v))


def _twice_inverse(uu: float, uv: float, vv: float, old: tuple[float, float, float]) -> tuple[float, float, float]:
    """Return 2 M' - M, with M' half the inverse of 4 pi^2 <ff>; the mean of M' and M if that is no ellipse."""
    scale = 1 / (4 * np.pi**2 * (uu * vv - uv**2))
    new = (vv * scale - old[0], -uv * scale - old[1], uu * scale - old[2])
    if new[0] > 0 and new[2] > 0 and new[0] * new[2] > new[1] ** 2 and scale > 0:
        return new
    return old[0] * 1.5, old[1], old[2] * 1.5


def half_maximum_width(image: FourierImage, centre: tuple[float, float], direction: float,
                       sigma: float) -> tuple[float, float, float]:
    """Return full width at half maximum, brightness and place of the maximum on a line through the image.

    `centre`: a point of the line [arcsec]. `direction`: of the line [rad], from `u` towards `v`. `sigma`: moment width
    along the line [arcsec]; two outermost crossings are sought within 4 of them.
    """
    place = np.linspace(-4 * sigma, 4 * sigma, 241)
    profile = image.brightness(centre[0] + place * math.cos(direction), centre[1] + place * math.sin(direction))
    top = int(np.argmax(profile[1:-1])) + 1
    left, middle, right = profile[top - 1: top + 2]
    bend = left - 2 * middle + right
    offset = 0.5 * (left - right) / bend if bend < 0 else 0.0
    peak = middle - 0.25 * (left - right) * offset
    above = np.flatnonzero(profile > peak / 2)
    width = _crossing(place, profile, above[-1], peak / 2) - _crossing(place[::-1], profile[::-1],
                                                                       240 - above[0], peak / 2)
    return float(width), float(peak), float(place[top] + offset * (place[1] - place[0]))


def _crossing(place: np.ndarray, profile: np.ndarray, last: int, level: float) -> float:
    """Return where the profile falls through the level after index `last`, by a cubic through four points."""
    if last + 2 >= place.size:
        return place[-1]
    first = max(last - 1, 0)
    step = place[1] - place[0]
    values = profile[first: first + 4] - level
    cubic = np.linalg.solve(np.vander(np.arange(4.0), 4, increasing=True), values)
    position = float(last - first) + values[last - first] / (values[last - first] - values[last - first + 1])
    for _ in range(4):
        slope = cubic[1] + position * (2 * cubic[2] + 3 * cubic[3] * position)
        position -= (cubic[0] + position * (cubic[1] + position * (cubic[2] + position * cubic[3]))) / slope
    return place[first] + position * step
