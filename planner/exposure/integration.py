"""Integration: how much time a surface or a line needs in all, and what a given time brings.

The CCD equation on the sum of kept frames, for one pixel or for an area of sky; an area on a colour sensor counts only
the pixels that record the filter. Only noise counts here: flat-field and gradient errors do not average out, and a
faint outer halo meets them long before a signal-to-noise of 100.
"""

from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.checks import Rule, check, require_positive
from planner.errors import InvalidInputError
from planner.exposure.light.noise import PIXEL_RATE, signal_needed, signal_to_noise
from planner.exposure.light.photons import SQUARE, SURFACE_BRIGHTNESS
from planner.exposure.scene import Scene
from planner.exposure.sub_exposure import SubExposure

WANTED = Rule(more_than=0, at_most=1e6, remedy="Give a signal-to-noise ratio, e.g. 10.")


@dataclass(frozen=True, kw_only=True)
class Integration:
    """Frames of one length added up."""

    sub_exposure: Annotated[u.Quantity[u.s], "length of one frame"]
    frames: Annotated[int, "to take"]
    integration_time: Annotated[u.Quantity[u.h], "open shutter of all frames taken"]
    clock_time: Annotated[u.Quantity[u.h], "with overhead"]
    signal_to_noise: Annotated[float, "of the sum"]
    area: Annotated[u.Quantity[u.arcsec**2], "that the ratio is for"]


def integration_time(scene: Scene, sub: SubExposure, *, signal_to_noise: float,
                     area: u.Quantity[u.arcsec**2] | None = None, spread: u.Quantity[u.arcsec**2] | None = None,
                     ) -> Integration:
    """Return the frames and the time that bring the scene's source to a signal-to-noise ratio.

    Parameters
    ----------
    scene : Scene
        With a source: `brightness` or `line` given to `observing_scene`.
    sub : SubExposure
        Its recommended length, kept share and survival are used.
    signal_to_noise : float
        Wanted, in the sum.
    area : Quantity [arcsec2], scalar, optional
        Of sky that is averaged; one (binned) pixel if absent.
    spread : Quantity [arcsec2], scalar, optional
        Of sky over which the light of that area lies: the noise-equivalent area of a star; the area itself if absent.

    Returns
    -------
    Integration
        Whole frames, rounded up.

    Raises
    ------
    InvalidInputError
        If the scene has no source, no sub is kept, or a value breaks its rule.
    """
    check("signal_to_noise", signal_to_noise, WANTED)
    if not scene.signal_rate.value > 0:
        raise InvalidInputError("brightness", scene.signal_rate, "must be more than 0 for an integration time",
                                "Give the surface brightness or the line flux of the target.")
    one = _one_frame(scene, sub, area, spread)
    good = (signal_to_noise / one) ** 2 / _good_share(sub)
    return _integration(scene, sub, frames=int(np.ceil(good * (1 - 1e-12))), area=area, spread=spread)


def faintest_brightness(scene: Scene, sub: SubExposure, *, signal_to_noise: float, clock_time: u.Quantity[u.h],
                        area: u.Quantity[u.arcsec**2] | None = None) -> u.Quantity[u.mag / u.arcsec**2]:
    """Return the faintest surface brightness that reaches a signal-to-noise ratio in a time on the clock.

    Parameters and errors as in `integration_time`; the scene's own source does not matter.

    Vega magnitude at the filter's wavelength, outside the atmosphere; minus infinity if not one good frame
    fits.
    """
    rate = _faintest_rate(scene, sub, signal_to_noise, clock_time, area)
    return -2.5 * np.log10((rate / scene.mean_rate(0 * SURFACE_BRIGHTNESS)).to_value(u.one)) * SURFACE_BRIGHTNESS


def faintest_line(scene: Scene, sub: SubExposure, *, signal_to_noise: float, clock_time: u.Quantity[u.h],
                  area: u.Quantity[u.arcsec**2] | None = None, wavelength: u.Quantity | None = None) -> u.Quantity[u.R]:
    """Return the faintest emission line [rayleigh] that reaches a signal-to-noise ratio; as `faintest_brightness`.

    `wavelength` as in `LightPath.line`. Infinite if not one good frame fits, or the line misses the filter.
    """
    rate = _faintest_rate(scene, sub, signal_to_noise, clock_time, area)
    of_one = scene.mean_rate(1 * u.R, wavelength=wavelength)
    if not of_one.value > 0:
        return np.inf * u.R
    return (rate / of_one).to_value(u.one) * u.R


def _faintest_rate(scene: Scene, sub: SubExposure, wanted: float, clock_time: u.Quantity, area: u.Quantity | None
                   ) -> u.Quantity:
    """Return the source's rate [electron / (s pix)] that reaches a ratio in a time."""
    check("signal_to_noise", wanted, WANTED)
    available = require_positive("clock_time", clock_time, u.s, "Give the time on the clock, overhead included.")
    frames = np.floor((available / _cycle(scene, sub)).to_value(u.one) * (1 + 1e-12))
    good = frames * _good_share(sub)
    if not good > 0:
        return np.inf * PIXEL_RATE
    exposure_s, pixels = sub.recommended.to_value(u.s), _pixels(scene, area)
    background = (scene.sky_rate + scene.dark_rate).to_value(PIXEL_RATE) * exposure_s * u.electron
    signal = signal_needed(wanted / np.sqrt(good), background=background, read_noise=scene.read_noise, pixels=pixels)
    return signal.value / (pixels * exposure_s) * PIXEL_RATE


def _integration(scene: Scene, sub: SubExposure, *, frames: int, area: u.Quantity | None,
                 spread: u.Quantity | None = None) -> Integration:
    one, good = _one_frame(scene, sub, area, spread), frames * _good_share(sub)
    sky = 1 * u.pix * scene.light.pixel_area if area is None else area.to(SQUARE)
    return Integration(
        sub_exposure=sub.recommended, frames=frames, integration_time=(frames * sub.recommended).to(u.h),
        clock_time=(frames * _cycle(scene, sub)).to(u.h), signal_to_noise=float(one * np.sqrt(good)), area=sky)


def _one_frame(scene: Scene, sub: SubExposure, area: u.Quantity | None, spread: u.Quantity | None = None) -> float:
    seconds, pixels = sub.recommended.to_value(u.s), _pixels(scene, area)
    signal, sky, dark = (rate.to_value(PIXEL_RATE) * seconds * u.electron
                         for rate in (scene.signal_rate, scene.sky_rate, scene.dark_rate))
    return float(signal_to_noise(pixels * signal, background=sky + dark, read_noise=scene.read_noise,
                                 pixels=pixels if spread is None else _pixels(scene, spread)).value)


def _cycle(scene: Scene, sub: SubExposure) -> u.Quantity:
    """Return the clock time from sub to sub."""
    return sub.recommended + scene.rig.overhead(sub.recommended)


def _pixels(scene: Scene, area: u.Quantity | None) -> float:
    """Return the pixels that record an area: on a colour sensor only those of the filter's colour."""
    if area is None:
        return 1.0
    return scene.light.pixels(require_positive("area", area, SQUARE, "Give the area of sky that is averaged."))


def _good_share(sub: SubExposure) -> float:
    """Return the share of frames that count: round, and not spoiled."""
    share = float(sub.kept * sub.terms.survives[0])
    if not share > 0:
        raise InvalidInputError("kept", sub.kept, "must be more than 0: no sub-exposure of this rig stays round",
                                "Repair the mount, or guide.")
    return share
