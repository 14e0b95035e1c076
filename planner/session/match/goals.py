"""What is wanted beside a faint surface: stars of a magnitude, apart from neighbours, and a core that is not full."""

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.exposure.light.saturation import filled_after
from planner.exposure.scene import Scene
from planner.exposure.speed import SUB_LADDER
from planner.fields import Key, told
from planner.session.advice.answer import Judged
from planner.session.match.combination import Combination
from planner.session.match.combinations import Combinations
from planner.sky.brightness import spread_out

HALF_FULL = 0.5  # to which a short sub fills the core (common practice, no source)
SHORT_SUBS = 10  # of which some may be spoiled by a satellite (common practice, no source)
# Two equal Gaussians show two tops from 2 sigma on: C. M. Sparrow, ApJ 44, 76 (1916), doi:10.1086/142271.
TWO_TOPS = 2 / np.sqrt(8 * np.log(2))
LEAST_OWN = 1e-6  # share of a star's information that a neighbour leaves: less is none


@dataclass(frozen=True, kw_only=True)
class Core:
    """The brightest part of a target, wider than a star, in the subs of a set-up."""

    part: str  # brightest part, as the observer gave it; else mean light: its brightest part is full sooner
    full_after: Annotated[u.Quantity[u.s], "until the target's brightest part is full; null where it is not known",
                          Key("core_full_after_s")]
    full: bool  # in a sub of the recommended length
    short: u.Quantity[u.s]  # length that fills it at most by half; the shortest considered where none does
    short_enough: bool  # whether that length leaves it below full
    clock: u.Quantity[u.min]  # that `SHORT_SUBS` of them take
    short_sub = told(u.s, "to take beside the others; null where those do not fill the brightest part",
                     lambda core: core.short if core.full else None)


def with_star(asked: Combinations, scene: Scene) -> Scene:
    """Return a scene whose goal's area holds the light of the star wanted; itself where none is."""
    if asked.star is None:
        return scene
    return replace(scene, signal_rate=scene.mean_rate(spread_out(asked.star, asked.goal.area)))


def beside_neighbour(spread: u.Quantity[u.arcsec**2], apart: u.Quantity[u.arcsec] | None) -> u.Quantity[u.arcsec**2]:
    r"""Return the noise-equivalent area [arcsec2], scalar, of a star beside another as bright, both fitted at once.

    .. math:: A' = A / (1 - \rho^2), \qquad \rho = e^{-\pi d^2 / A}

    Least squares of two amplitudes; :math:`\rho` is the overlap of two Gaussians of noise-equivalent area A at a
    distance d.
    """
    if apart is None:
        return spread
    overlap = np.exp(-2 * np.pi * float((apart**2 / spread).to_value(u.one)))
    return spread / max(1 - overlap, LEAST_OWN)


def two_stars(asked: Combinations, choice: Combination) -> u.Quantity[u.arcsec]:
    """Return the distance from which two equal stars show two tops, two pixels at least."""
    pixels = choice.image_scale * (1 if asked.drizzled else 2) * u.pix
    return np.maximum(TWO_TOPS * choice.picture_fwhm, pixels)


def too_close(asked: Combinations, choice: Combination) -> float:
    """Return by which share neighbours must be farther apart than asked for to show as two; 0 where they show."""
    if asked.apart is None:
        return 0.0
    return max(float((two_stars(asked, choice) / asked.apart).to_value(u.one)) - 1, 0.0)


def core_of(asked: Combinations, found: Judged) -> Core | None:
    """Return what the subs make of the target's brightest part; None where nothing brighter than the goal is known."""
    scene = found.scene
    if asked.core is None and asked.body == 1:
        return None
    light = scene.signal_rate * asked.body if asked.core is None else scene.mean_rate(asked.core)
    a_pixel = (light + scene.sky_rate + scene.dark_rate) / scene.rig.binning**2
    seconds = filled_after(scene.rig.camera, a_pixel).to_value(u.s)
    ladder = SUB_LADDER.value
    short = ladder[max(np.searchsorted(ladder, HALF_FULL * seconds, side="right") - 1, 0)] * u.s
    return Core(part="mean light" if asked.core is None else "brightest part", full_after=seconds * u.s,
                full=bool(found.need.better.recommended.to_value(u.s) > seconds), short=short,
                short_enough=bool(short.value < seconds),
                clock=(SHORT_SUBS * (short + scene.rig.camera.download)).to(u.min))
