"""Depth: how faint a surface the hours reach, and the goals that a total exposure is counted for.

A goal is a surface brightness or an emission line, and a signal-to-noise ratio on an area of sky. The usual one is the
faint outskirts of a galaxy or dust through a broad filter, a faint shell of ionised gas through a line filter.
"""

from dataclasses import dataclass, replace
from typing import Annotated, Any

import numpy as np
from astropy import units as u

from planner.checks import Rule, given
from planner.exposure.integration import faintest_brightness, faintest_line
from planner.exposure.light.noise import PIXEL_RATE, signal_needed
from planner.exposure.light.photons import SURFACE_BRIGHTNESS, LightPath
from planner.exposure.scene import Scene
from planner.exposure.sub_exposure import SubExposure
from planner.fields import Key, Maybe, told
from planner.rig import Filter, Rig, Site

GOAL_AREA = 25 * u.arcsec**2  # the square of 5 arcsec on which a faint arm or shell is judged by eye
SURFACE_RULE = Rule(unit=SURFACE_BRIGHTNESS, kind="quantity", at_least=5, at_most=35,
                    remedy='Write it like "24 mag/arcsec2".')
LINE_RULE = Rule(unit=u.R, kind="quantity", at_least=1e-3, at_most=1e6, remedy='Write it like "20 R".')
RATIO_RULE = Rule(at_least=0.01, at_most=1e6, remedy="Give a ratio, e.g. 10.")
AREA_RULE = Rule(unit=u.arcsec**2, kind="quantity", at_least=0.01, at_most=1e8, remedy='Write it like "25 arcsec2".')
# Common practice, no source: outskirts of galaxies and dust in broad bands, faint shells in a line.
FAINT_SURFACE, SURFACE_RATIO = 26.5 * SURFACE_BRIGHTNESS, 5.0
FAINT_LINE, LINE_RATIO = 20 * u.R, 10.0
# Effective wavelengths: M. S. Bessell, PASP 91, 589 (1979), doi:10.1086/130542, table for a star of type A0.
BANDS = {"U": 366 * u.nm, "B": 436 * u.nm, "V": 545 * u.nm, "R": 641 * u.nm, "I": 798 * u.nm}


@dataclass(frozen=True, kw_only=True)
class Goal:
    """What the total exposure is for: a source, and the signal-to-noise ratio wanted on an area of it."""

    brightness: Annotated[u.Quantity[u.mag / u.arcsec**2] | None, "of the surface wanted; null for a line"] = None
    line: u.Quantity | None = None  # rayleigh, or erg / (s cm2 arcsec2)
    signal_to_noise: Annotated[float | None, "wanted on the area"] = None
    area: Annotated[u.Quantity[u.arcsec**2], "of sky that the ratio is for"] = GOAL_AREA
    line_text = told(str | None, "brightness of the line wanted, with its unit; null for a surface",
                     lambda goal: None if goal.line is None else str(goal.line), key="line")

    @property
    def ratio(self) -> float:
        """The signal-to-noise ratio of a goal that `goal_for` has completed."""
        if self.signal_to_noise is None:
            raise ValueError("this goal is not complete: see goal_for")
        return self.signal_to_noise


@dataclass(frozen=True, kw_only=True)
class Depth:
    """The faintest surface that reaches a signal-to-noise ratio in some hours on the clock."""

    band: Annotated[str, "standard band that the brightness is counted in, or the filter of a line"]
    brightness: Annotated[u.Quantity[u.mag / u.arcsec**2] | None, "faintest surface, Vega, outside the atmosphere",
                          Key("mag_per_arcsec2"), Maybe()]
    line: Annotated[u.Quantity[u.R] | None, "faintest line", Key("rayleigh"), Maybe()]
    signal_to_noise: Annotated[float, "that the faintest reaches"]
    area: Annotated[u.Quantity[u.arcsec**2], "that the ratio is for"]
    hours: Annotated[u.Quantity[u.h], "on the clock", Key("hours")]

    @property
    def faintest(self) -> u.Quantity:
        """The line, or the brightness; infinite where not one good frame fits."""
        return given(self.brightness if self.line is None else self.line)


def goal_for(band: Filter, goal: Goal | None = None) -> Goal:
    """Return a goal with what it leaves open set to the usual one for the filter."""
    goal = Goal() if goal is None else goal
    if goal.brightness is None and goal.line is None:
        goal = replace(goal, line=FAINT_LINE) if band.narrow else replace(goal, brightness=FAINT_SURFACE)
    if goal.signal_to_noise is None:
        goal = replace(goal, signal_to_noise=SURFACE_RATIO if goal.line is None else LINE_RATIO)
    return goal


def standard_band(band: Filter) -> str:
    """Return the Johnson-Cousins band nearest to a filter's middle, in which its brightnesses are counted."""
    away = {name: abs(np.log((band.centre / wavelength).to_value(u.one))) for name, wavelength in BANDS.items()}
    return min(away, key=lambda name: away[name])


def depth_after(scene: Scene, sub: SubExposure, hours: u.Quantity[u.h], goal: Goal) -> Depth:
    """Return how faint a surface reaches the goal's ratio on its area.

    `sub`: its recommended length, kept share and survival are used. `hours`: on the clock. `goal`: from `goal_for`; a
    line is counted in rayleigh at the filter's middle.
    Raises InvalidInputError as for `faintest_brightness`.
    """
    asked: dict[str, Any] = {"signal_to_noise": goal.ratio, "clock_time": hours, "area": goal.area}
    common: dict[str, Any] = {"signal_to_noise": goal.ratio, "area": goal.area, "hours": hours}
    if scene.band.origin.narrow and goal.line is not None:
        return Depth(band=scene.band.name, brightness=None, line=faintest_line(scene, sub, **asked), **common)
    faintest = faintest_brightness(scene, sub, **asked)
    return Depth(band=standard_band(scene.band), brightness=faintest, line=None, **common)


def depth_in_equivalent(hours: u.Quantity[u.h], rig: Rig, site: Site, band: Filter) -> Depth:
    """Return how faint a surface reaches the filter's usual goal in equivalent hours.

    These are hours of a perfect camera and mount with the target in the zenith of a dark, moonless sky: the noise is
    that of source, sky and dark current there, and no time is lost.
    """
    goal, light = goal_for(band), LightPath(rig, band, site)
    seconds, pixels = hours.to_value(u.s), light.pixels(goal.area)
    rate = signal_needed(goal.ratio, background=light.zenith_background.to_value(PIXEL_RATE) * seconds * u.electron,
                         read_noise=0 * u.electron, pixels=pixels).value / (pixels * seconds)
    common: dict[str, Any] = {"signal_to_noise": goal.ratio, "area": goal.area, "hours": hours}
    if goal.line is not None:
        of_one = light.line(1 * u.R, airmass=1.0).to_value(PIXEL_RATE)
        return Depth(band=band.name, brightness=None, line=rate / of_one * u.R, **common)
    of_zero = light.surface(0 * SURFACE_BRIGHTNESS, airmass=1.0).to_value(PIXEL_RATE)
    return Depth(band=standard_band(band), brightness=-2.5 * np.log10(rate / of_zero) * SURFACE_BRIGHTNESS, line=None,
                 **common)
