"""Noise: the CCD equation with every term, at every exposure; no branch for "sky limited" or "read-noise limited".

Rates are electrons per second and (binned) pixel. Binning is in software: the signal, the sky and the dark current of
the pixels add, and so do the variances of their reads. A sensor that adds charges itself has larger pixels:
`Camera.binned`.
"""

from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import check_units
from planner.rig import Camera

Array = float | np.ndarray
PIXEL_RATE = u.electron / u.s / u.pix
# Variance of a value rounded to whole units: that of a uniform distribution of width one.
# Merline & Howell (1995), Exp. Astron. 6, 163: sigma about 0.289.
ROUNDING_VARIANCE = 1 / 12


def dark_rate(camera: Camera, *, binning: int = 1) -> u.Quantity[PIXEL_RATE]:
    """Return the dark current of one (binned) pixel at the sensor's temperature.

    It doubles with every `dark_doubling` above `dark_temperature`.

    `binning`: pixels per side that are summed.
    """
    warmer = 0.0
    if camera.sensor_temperature is not None:
        warmer = camera.sensor_temperature.value - camera.dark_temperature.value
    doublings = warmer / camera.dark_doubling.value
    return camera.dark_current.value * 2.0**doublings * binning**2 * PIXEL_RATE


def total_read_noise(camera: Camera, *, binning: int = 1) -> u.Quantity[u.electron]:
    """Return the rms error of one read of one (binned) pixel, the converter's rounding included.

    `binning`: pixels per side that are summed: read noise adds per pixel, in variance.
    Square root of binning² (read_noise² + gain²/12).
    """
    rounding = camera.gain.to_value(u.electron / u.adu) ** 2 * ROUNDING_VARIANCE
    return binning * np.sqrt(camera.read_noise.to_value(u.electron) ** 2 + rounding) * u.electron


@check_units
def signal_to_noise(signal: u.Quantity[u.electron], *, background: u.Quantity[u.electron],
                    read_noise: u.Quantity[u.electron], pixels: Array = 1.0, frames: Array = 1.0,
                    background_pixels: Array = np.inf) -> u.Quantity[u.one]:
    r"""Return the signal-to-noise ratio of a source in the sum of equal frames: the CCD equation.

    .. math:: \frac{S}{N} = \sqrt{n_\mathrm{frames}}\,
              \frac{S}{\sqrt{S + n_\mathrm{pix}\,(1 + n_\mathrm{pix}/n_B)\,(B + R^2)}}

    Parameters
    ----------
    signal : Quantity [electron], any shape
        From the source, in one frame, in all its pixels together.
    background : Quantity [electron], broadcast
        Sky and dark current in one pixel of one frame.
    read_noise : Quantity [electron], broadcast
        `total_read_noise`.
    pixels : float, broadcast
        Pixels the source covers, or the noise-equivalent area of a star in pixels.
    frames : float, broadcast
    background_pixels : float, broadcast
        Pixels from which the background was measured; infinite: known exactly.

    Returns
    -------
    Quantity [dimensionless], shape of the broadcast
        0 where there is no signal.

    References
    ----------
    .. [H06] Howell, Handbook of CCD Astronomy, 2nd ed. (2006), sec. 4.4.
    """
    return signal_to_noise_kernel(signal.to_value(u.electron), background.to_value(u.electron),
                            read_noise.to_value(u.electron), pixels, frames, background_pixels) * u.one


def signal_to_noise_kernel(signal_e: Any, background_e: Any, read_noise_e: Any, pixels: Any, frames: Any,
                           background_pixels: Any) -> Any:
    """Compute `signal_to_noise` on plain floats [electron]."""
    share = 1 + pixels / background_pixels
    variance = signal_e + pixels * share * (background_e + read_noise_e**2)
    return np.sqrt(frames) * signal_e / np.sqrt(np.where(variance > 0, variance, np.inf))


@check_units
def signal_needed(signal_to_noise_wanted: Array, *, background: u.Quantity[u.electron],
                  read_noise: u.Quantity[u.electron], pixels: Array = 1.0, background_pixels: Array = np.inf,
                  ) -> u.Quantity[u.electron]:
    """Return the signal in one frame that reaches a signal-to-noise ratio: `signal_to_noise` solved for S.

    `signal_to_noise_wanted` (any shape). `background`, `read_noise`, `pixels` and `background_pixels`: as in
    `signal_to_noise`.
    Returns (shape of the broadcast): root of S² − q² S − q² n (1 + n/n_B) (B + R²) = 0.
    """
    variance = background.to_value(u.electron) + read_noise.to_value(u.electron) ** 2
    floor = pixels * (1 + pixels / background_pixels) * variance
    squared = np.square(signal_to_noise_wanted)
    return (squared / 2 + np.sqrt(squared**2 / 4 + squared * floor)) * u.electron
