"""Where the night goes and what widens the star, step by step, of the way and length that the advice recommends.

One from the dark hours to equivalent hours: an hour of a perfect camera and mount, the target in the zenith of a dark,
moonless sky. Each step takes its share of what the ones before have left. One from the width of a star in the zenith
to the one on the sensor: each step is added to all before it, motion as a round blur of its rms.
"""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.exposure.cause_budget import POLAR
from planner.exposure.guide_need import better_budget_at
from planner.exposure.light.noise import PIXEL_RATE
from planner.exposure.scene import Scene, over_window
from planner.optics import star_image
from planner.session.advice.answer import Advice
from planner.session.advice.text import hours_text, length_text
from planner.session.worth.star_growth import star_growth
from planner.session.worth.times import times_of
from planner.sky import seeing
from planner.tracking import BudgetTerm
from planner.visibility.meridian import meridian_plan

SMOOTH = (*POLAR, "refraction", "drive rate", "pointing model", "flexure")  # may cancel: shared out of their sum
LEFT_OUT = ("total", "total drift", "field rotation at the corner")
FELT = 0.01  # of the still star's variance: smaller causes are one step together
OPEN, FINE = 100 * u.m, 0.01 * u.arcsec / u.pix  # an aperture and a pixel that blur nothing


@dataclass(frozen=True, kw_only=True)
class Waterfall:
    """Levels from the first to the last: `names[0]` is where it starts, every other name what changed the level."""

    title: str  # names the way and the length
    names: tuple[str, ...]
    levels: u.Quantity  # (n,), after each step; the last is the result


def night_waterfall(advice: Advice) -> Waterfall | None:
    """Return how the dark hours of the night become equivalent hours [h]; None where no sub is kept."""
    sub, scene = advice.better, advice.scene
    if sub is None or scene is None or not sub.speed > 0:
        return None
    dark = advice.night.dark
    hours = scene.length.to_value(u.h)
    start = hours if dark is None or not advice.tonight else float((dark[1] - dark[0]).to_value(u.h))
    air, lit = _sky_shares(scene)
    terms = {name: float(value[0]) for name, value in vars(sub.terms).items() if name != "exposure"}
    shares = {
        "outside the limits": hours / start, "airmass": air, "Moon": lit,
        "flips": max(1 - _flip_hours(advice) / hours, 0), "focus": times_of(scene.rig, scene.site).collecting,
        "overhead": terms["collecting"], "gusts": terms["survives"], "subs not kept": terms["kept"],
        "read noise": terms["read_noise"], "width by motion": terms["light"]}
    levels = start * np.cumprod([1.0, *shares.values()])
    first = "dark hours" if advice.tonight else "hours around transit"
    return Waterfall(title=f"{_recommended(advice)}: {hours_text(start * u.h)} of the clock count for "
                           f"{hours_text(levels[-1] * u.h)}", names=(first, *shares), levels=levels * u.h)


def _sky_shares(scene: Scene) -> tuple[float, float]:
    """Return what airmass leaves of an hour in the moonless zenith, and what the Moon leaves of that."""
    light = scene.light
    dark = (light.sky(altitude=scene.altitude) + light.dark).to_value(PIXEL_RATE)
    air = (light.passed(scene.altitude)**2 * light.zenith_background.to_value(PIXEL_RATE) / dark
           / star_growth(scene.rig, scene.site, scene.altitude))
    lit = scene.sky_rate.to_value(PIXEL_RATE) + scene.dark_rate.to_value(PIXEL_RATE)
    return float(over_window(air)), float(min(over_window(dark) / lit, 1.0))


def _flip_hours(advice: Advice) -> float:
    """Return what changing the pier side costs tonight [h]."""
    if not advice.tonight:
        return 0.0
    sub = advice.verdict.better.recommended
    plan = meridian_plan(advice.window, advice.rig.mount, sub_exposure=sub, overhead=advice.rig.overhead(sub))
    return sum(float(flip.lost.to_value(u.h)) for flip in plan.flips)


def star_waterfall(advice: Advice) -> Waterfall | None:
    """Return how a star of the zenith's seeing becomes the one on the sensor, FWHM [arcsec]; None without a verdict."""
    scene, need = advice.scene, advice.need
    if scene is None or need is None:
        return None
    exposure = need.better.recommended
    causes = _causes(better_budget_at(scene, need, exposure), float(scene.response.still_variance))
    dispersed = causes.pop("dispersion", 0.0)
    steps = {"seeing in the zenith": seeing(scene.site.seeing, airmass=1 * u.one, wavelength=scene.band.centre),
             "lower in the sky": scene.seeing_fwhm, "dispersion": _width(scene, dispersed, OPEN, FINE),
             "optics": _width(scene, dispersed, None, FINE), "pixel": _width(scene, dispersed)}
    total = dispersed
    for name, variance in causes.items():
        total += variance
        steps[name] = _width(scene, total)
    levels = u.Quantity(list(steps.values()), u.arcsec)
    return Waterfall(title=f"{_recommended(advice)}: stars of {levels[-1].value:.1f}″ on average from "
                           f"{levels[0].value:.1f}″ of seeing", names=tuple(steps), levels=levels)


def _width(scene: Scene, variance: float, aperture: u.Quantity | None = None, scale: u.Quantity | None = None
           ) -> u.Quantity[u.arcsec]:
    """Return the width of a star blurred by a round motion of some variance [arcsec2], with other optics or pixels."""
    telescope = scene.rig.telescope
    optics = {"aperture": telescope.aperture, "obstruction": telescope.obstruction,
              "focus_blur_fwhm": telescope.field_blur} if aperture is None else {"aperture": aperture}
    return star_image(seeing_fwhm=scene.seeing_fwhm, wavelength=scene.band.centre, jitter_rms=variance**0.5 * u.arcsec,
                      image_scale=scene.image_scale if scale is None else scale, **optics).fwhm


def _causes(budget: tuple[BudgetTerm, ...], still: float) -> dict[str, float]:
    """Return the variance of each cause [arcsec2], mean of the axes, from large to small; small ones together last.

    Smooth drifts that cancel or add up share the variance of their sum.
    """
    squares: dict[str, float] = {}
    for row in budget:
        squares[row.term] = squares.get(row.term, 0.0) + row.rms.to_value(u.arcsec) ** 2 / 2
    apart = sum(squares.get(name, 0.0) for name in SMOOTH)
    shared = squares.get("total drift", apart) / apart if apart > 0 else 1.0
    found: dict[str, float] = {}
    for name, square in squares.items():
        if name not in LEFT_OUT:
            named = "polar axis" if name in POLAR else name
            found[named] = found.get(named, 0.0) + square * (shared if name in SMOOTH else 1.0)
    large = {name: square for name, square in found.items() if square >= FELT * still or name == "dispersion"}
    rest = sum(found.values()) - sum(large.values())
    ordered = dict(sorted(large.items(), key=lambda pair: -pair[1]))
    return ordered | ({"all other motion": rest} if rest > 0 else {})


def _recommended(advice: Advice) -> str:
    need = advice.verdict
    return f"{length_text(need.better)} {'guided' if need.better is need.guided else 'unguided'}"
