"""What the kept subs leave of fine detail and of a star, and the finest detail that the night's hours show."""

from dataclasses import replace
from typing import Any

import numpy as np
from astropy import units as u

from planner.exposure.depth import Depth
from planner.exposure.integration import integration_time
from planner.exposure.light.photons import SQUARE
from planner.optics import contrast, image_scale, shortest_period, still_star
from planner.session.advice.answer import Judged
from planner.session.match.combination import Combination
from planner.session.match.combinations import Combinations

MOVE = 2 * u.min  # to the next panel of a mosaic, centred again (common practice, no source)
REACH = 1.1  # up to so much finer or coarser than the usual period is as good as it (common practice, no source)
FINER = np.geomspace(1.0001, 100, 120)  # periods to look at, over the shortest that the pixels hold


def hours_a_panel(choice: Combination, found: Judged) -> u.Quantity[u.h]:
    """Return the hours that each panel gets of the night, the moves taken off."""
    panels = choice.framing.panels
    return (found.scene.length / panels - (MOVE if panels > 1 else 0 * u.min)).to(u.h)


def _body_time(asked: Combinations, found: Judged) -> u.Quantity[u.h]:
    """Return the clock time in which the light of the target's body reaches the goal's ratio, without whole frames."""
    bright = replace(found.scene, signal_rate=found.scene.signal_rate * asked.body)
    total = integration_time(bright, found.need.better, signal_to_noise=asked.goal.ratio, area=asked.goal.area)
    return total.clock_time * (asked.goal.ratio / total.signal_to_noise) ** 2


def finest_period(asked: Combinations, choice: Combination, found: Judged, depth: Depth | None
                  ) -> u.Quantity[u.arcsec]:
    """Return the period whose contrast is just enough in the night's hours, not below what the pixels hold.

    `depth`: that the hours reach; without one no sub fits into them.
    """
    hours = hours_a_panel(choice, found)
    if found.total is None or depth is None or not np.isfinite(depth.faintest.value):
        return np.inf * u.arcsec
    periods = forbidden_period(asked, choice, found, choice.binning) * FINER
    left = np.maximum.accumulate(contrast_left(asked, choice, found, choice.binning, periods))
    needed = np.sqrt(float((_body_time(asked, found) / hours).to_value(u.one)))
    return np.interp(needed, left, periods.value, right=np.inf) * u.arcsec


def forbidden_period(asked: Combinations, choice: Combination, found: Judged, binning: int) -> u.Quantity[u.arcsec]:
    """Return the period up to which the pixels hold nothing at a binning, whatever the hours."""
    return shortest_period(_seen(choice, found, binning)["image_scale"], drizzled=asked.drizzled, apart=_apart(found))


def held_share(asked: Combinations, forbidden: u.Quantity[u.arcsec]) -> float:
    """Return the share of the detail wanted that pixels hold: all or none of a period that is named.

    Of the usual one the periods up to `REACH` times finer and coarser count alike, evenly in their logarithms.
    """
    beyond = float(np.log((asked.period / forbidden).to_value(u.one)))
    return float(beyond > 0) if asked.named else float(np.clip((1 + beyond / np.log(REACH)) / 2, 0, 1))


def detail_left(asked: Combinations, choice: Combination, found: Judged, binning: int) -> float:
    """Return what the kept subs leave of the squared contrast of the detail wanted.

    Where the pixels hold a part of it, of that part at its middle; the rest shows nothing.
    """
    share = held_share(asked, forbidden_period(asked, choice, found, binning))
    if share == 0:
        return 0.0
    return share * float(contrast_left(asked, choice, found, binning, asked.period * REACH ** (1 - share))) ** 2


def contrast_left(asked: Combinations, choice: Combination, found: Judged, binning: int, period: u.Quantity[u.arcsec],
                  ) -> np.ndarray:
    """Return what the kept subs leave of the contrast of detail of a period [arcsec], any shape.

    Motion is taken as a Gaussian's that widens the star's noise-equivalent area, 4 pi sigma^2, as much.
    """
    return contrast(period, drizzled=asked.drizzled, apart=_apart(found), **_seen(choice, found, binning),
                    jitter_rms=np.sqrt(_moved(found) / (4 * np.pi)))


def star_spread(choice: Combination, found: Judged, binning: int) -> u.Quantity[u.arcsec**2]:
    """Return the noise-equivalent area of a star in the kept subs."""
    return still_star(**_seen(choice, found, binning)).noise_equivalent_area + _moved(found)


def _apart(found: Judged) -> float:
    """Return the distance in pixels of the samples that record the same light."""
    return max(1.0, float(found.scene.band.share) ** -0.5)


def _seen(choice: Combination, found: Judged, binning: int) -> dict[str, Any]:
    """Return what makes a star without motion at a binning."""
    train = choice.train
    return {"seeing_fwhm": choice.seeing_fwhm, "wavelength": found.scene.band.centre, "aperture": train.aperture,
            "obstruction": train.obstruction, "focus_blur_fwhm": train.optical_blur,
            "image_scale": image_scale(choice.camera.pixel_pitch, train.focal_length, binning=binning)}


def _moved(found: Judged) -> u.Quantity[u.arcsec**2]:
    """Return by how much motion widens the star's noise-equivalent area in the kept subs."""
    still = found.scene.response.still_area
    return max(still / max(float(found.need.better.terms.light[0]), 1e-9) - still, 0.0) * SQUARE
