"""Speed: how fast squared signal-to-noise accrues on the clock, relative to a perfect camera on a perfect mount.

Five factors between 0 and 1, each a loss with a name; their product is the one curve that decides.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import check_units
from planner.exposure.light.noise import PIXEL_RATE, Array

# The lengths a person would set [s]; common practice, no source.
SUB_LADDER = np.array([1, 2, 3, 5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 300, 420, 600, 900, 1200, 1800]) * u.s


@dataclass(frozen=True, kw_only=True)
class SpeedCurve:
    """Speed and its factors over a set of lengths; every array has shape (n,)."""

    exposure: u.Quantity[u.s]
    collecting: np.ndarray  # share of the clock spent collecting: what the overhead leaves
    read_noise: np.ndarray  # share of the squared signal-to-noise that read noise leaves
    kept: np.ndarray  # share of subs whose stars stay round and small
    survives: np.ndarray  # share of subs without gust, aircraft or cloud
    light: np.ndarray  # noise-equivalent area without motion over that with it, mean of the kept subs

    @property
    def speed(self) -> np.ndarray:
        """Product of the five factors."""
        return self.collecting * self.read_noise * self.kept * self.survives * self.light


@check_units
def speed(exposure: u.Quantity[u.s], *, overhead: u.Quantity[u.s], background_rate: u.Quantity[PIXEL_RATE],
          read_noise: u.Quantity[u.electron], disturbance_interval: u.Quantity[u.h], kept: Array = 1.0,
          light: Array = 1.0) -> SpeedCurve:
    r"""Return the speed at some lengths of sub-exposure.

    .. math:: v(t) = \frac{t}{t + t_o}\; \frac{B}{B + R^2/t}\; k(t)\; e^{-t/\tau}\; \frac{A(0)}{A(t)}

    Parameters
    ----------
    exposure : Quantity [s], shape (n,)
        Length :math:`t`.
    overhead : Quantity [s], scalar or shape (n,)
        :math:`t_o`: clock time lost per sub-exposure.
    background_rate : Quantity [electron / (s pix)], scalar
        :math:`B`: source, sky and dark current.
    read_noise : Quantity [electron], scalar
        :math:`R`, of one (binned) pixel.
    disturbance_interval : Quantity [h], scalar
        :math:`\tau`: mean time between spoiled moments.
    kept : float or shape (n,)
        :math:`k(t)`.
    light : float or shape (n,)
        Noise-equivalent area without motion over that with it.

    Returns
    -------
    SpeedCurve
        Without any background the read-noise factor is 0 for a camera with read noise, 1 for one without.
    """
    exposure_s = np.atleast_1d(exposure.to_value(u.s))
    losses = speed_losses(exposure_s, overhead.to_value(u.s), background_rate.to_value(PIXEL_RATE),
                     read_noise.to_value(u.electron), disturbance_interval.to_value(u.s))
    even = np.ones_like(exposure_s)
    return SpeedCurve(exposure=exposure_s * u.s, kept=kept * even, light=light * even,
                      collecting=losses[0], read_noise=losses[1], survives=losses[2])


def speed_losses(exposure_s: np.ndarray, overhead_s: Any, background_per_s: Any, read_noise_e: Any, interval_s: float
                 ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Compute the three factors of `speed` that a mount does not touch: collecting, read noise, survives."""
    collected = background_per_s * exposure_s
    total = collected + read_noise_e**2
    read = np.divide(collected, total, out=np.ones_like(total), where=total > 0)
    return exposure_s / (exposure_s + overhead_s), read, np.exp(-exposure_s / interval_s)
