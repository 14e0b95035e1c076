"""The transfer function of the star image, on plain floats: angles in arcsec, frequencies in cycles per arcsec.

Axes: east and north on the sky. A grid may be turned: its first axis `u` then points at a position angle (from
north through east), its second axis `v` 90 degrees further. `T(-f)` is the complex conjugate of `T(f)`, so that half of
the plane (`u >= 0`) holds everything.
"""

import math
from dataclasses import dataclass

import numpy as np

from planner.constants import KOLMOGOROV_FWHM
from planner.optics.diffraction import annulus_transfer

# D(r) = 6.88 (r/r0)^(5/3), half of it in the exponent of the transfer function: 3.44 = [(24/5) Gamma(6/5)]^(5/6).
# D. L. Fried, J. Opt. Soc. Am. 56, 1372 (1966), doi:10.1364/JOSA.56.001372.
KOLMOGOROV_EXPONENT = (24 / 5 * math.gamma(6 / 5)) ** (5 / 6)
# Half of von Karman's structure function is C (L0/r0)^(5/3) [1 - x^(5/6) K_5/6(x) / (2^(-1/6) Gamma(5/6))] with
# x = 2 pi r / L0 (A. Tokovinin, PASP 114, 1156, 2002, doi:10.1086/342683, eq. 5): for small x it is Kolmogorov's.
_AT_ZERO = 2 ** (-1 / 6) * math.gamma(5 / 6)
VON_KARMAN_EXPONENT = (2 * math.gamma(11 / 6) / (2 ** (5 / 6) * math.pi ** (8 / 3)) * _AT_ZERO
                       * KOLMOGOROV_EXPONENT) / 2


def air_exponent(separation: np.ndarray, r0_over_outer_scale: float) -> np.ndarray:
    """Return half the structure function of the wave at separations in units of r0: the air passes its exp(-)."""
    if r0_over_outer_scale == 0:
        return KOLMOGOROV_EXPONENT * separation ** (5 / 3)
    from scipy.special import kv

    x = np.maximum(2 * np.pi * separation * r0_over_outer_scale, 1e-9)
    return VON_KARMAN_EXPONENT * r0_over_outer_scale ** (-5 / 3) * (1 - x ** (5 / 6) * kv(5 / 6, x) / _AT_ZERO)


@dataclass(frozen=True, kw_only=True)
class Transfer:
    """What blurs a star: air, aperture, focus, pixel and motion. Each is a factor of the product."""

    seeing_arcsec: float  # FWHM of Kolmogorov's turbulence: 0.976 wavelength / r0
    cutoff_per_arcsec: float
    obstruction: float
    pixel_arcsec: float
    r0_over_outer_scale: float = 0.0  # 0: the outer scale is infinite
    blur_sigma_arcsec: float = 0.0
    jitter_arcsec: float = 0.0  # rms per axis
    trail_arcsec: float = 0.0
    motion_angle: float = 0.0  # rad, position angle of the trail, or of the track's long axis
    track: np.ndarray | None = None  # (n, 2) east, north, centred

    def round_part(self, frequency: np.ndarray) -> np.ndarray:
        """Compute air times aperture times Gaussian blurs, which know no direction; shape as the frequencies."""
        air = air_exponent(frequency * (self.seeing_arcsec / KOLMOGOROV_FWHM), self.r0_over_outer_scale)
        blur = 2 * math.pi**2 * (self.blur_sigma_arcsec**2 + self.jitter_arcsec**2) * frequency**2
        return np.exp(-air - blur) * annulus_transfer(frequency / self.cutoff_per_arcsec, self.obstruction)

    def highest_frequency(self, least: float = 1e-7) -> float:
        """Return the frequency beyond which the round part stays below `least`, or the cutoff of the aperture."""
        frequency = self.cutoff_per_arcsec * np.geomspace(1e-5, 1, 600)
        above = np.flatnonzero(self.round_part(frequency) > least)
        last = above[-1] + 1 if above.size else 0
        return float(frequency[min(last, frequency.size - 1)])

    def on_grid(self, u: np.ndarray, v: np.ndarray, angle: float) -> np.ndarray:
        """Compute the product on the grid of `u` (nu,) and `v` (nv,), turned by a position angle [rad]: (nu, nv)."""
        sine, cosine = math.sin(angle), math.cos(angle)
        along, across = u[:, None], v[None, :]
        values = self.round_part(np.hypot(along, across))
        values = values * np.sinc(self.pixel_arcsec * (along * sine + across * cosine))
        values *= np.sinc(self.pixel_arcsec * (along * cosine - across * sine))
        if self.trail_arcsec > 0:
            turn = self.motion_angle - angle
            values *= np.sinc(self.trail_arcsec * (along * math.cos(turn) + across * math.sin(turn)))
        if self.track is None:
            return values
        east, north = self.track.T
        phases_u = np.exp(-2j * np.pi * np.outer(u, east * sine + north * cosine))
        phases_v = np.exp(-2j * np.pi * np.outer(east * cosine - north * sine, v))
        return values * (phases_u @ phases_v / len(self.track))

    def extent(self) -> tuple[float, float]:
        """Return how far the image reaches along and across the motion: the periods that keep copies apart [arcsec].

        Air and aperture have wide wings: 14 widths leave the copy's light at 1e-5 of the peak. Gaussians end soon,
        boxes and tracks at once: 8 standard deviations keep a matched weight off the copy.
        """
        wings = math.hypot(self.seeing_arcsec, 1.03 / self.cutoff_per_arcsec)
        gauss = 2.36 * math.hypot(self.blur_sigma_arcsec, self.jitter_arcsec)
        along = across = 0.0
        if self.track is not None:
            sine, cosine = math.sin(self.motion_angle), math.cos(self.motion_angle)
            along = float(np.ptp(self.track @ (sine, cosine)))
            across = float(np.ptp(self.track @ (cosine, -sine)))
        base = 14 * wings + 4 * gauss + 2.5 * self.pixel_arcsec
        return base + 2.5 * self.trail_arcsec + 4 * along, base + 4 * across
