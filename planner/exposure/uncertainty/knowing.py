r"""What a measurement is worth: the expected gain of knowing some inputs better before the length is chosen.

The speed of every way and length over the draws is regressed once on all inputs, as a sum of parabolas. A measurement
with a normal error moves what is believed of the inputs :math:`x \sim N(0, 1)` to a mean :math:`m \sim N(0, K)`, with

.. math:: K = H^T (H H^T + R)^{-1} H

and its worth is :math:`\langle\max_a f_a(m)\rangle - \max_a \langle f_a\rangle`: partial perfect information by
regression on the same draws [SOB14]_, sample information in the Gaussian approximation [JA18]_.

References
----------
.. [SOB14] M. Strong, J. E. Oakley and A. Brennan, Med. Decis. Making 34, 311 (2014), doi:10.1177/0272989X13505910.
.. [JA18] H. Jalal and F. Alarid-Escudero, Med. Decis. Making 38, 174 (2018), doi:10.1177/0272989X17715627.
"""

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.constants import OUTER_SCALE
from planner.exposure.guide_star import GUIDE_BAND
from planner.exposure.scene import Scene
from planner.exposure.uncertainty.inputs import OpenInput
from planner.exposure.uncertainty.log_information import ROW_S, log_errors
from planner.fields import Key
from planner.sky import seeing
from planner.tracking import image_motion
from planner.tracking.moments.even_draws import even_normals

FINDINGS = 512  # of a measurement, to average over
LOG_MINUTES = (10, 20, 60)
ENOUGH = 0.8  # of what the longest log brings: a shorter one will do
WORTH_SAYING = 3 / 60  # hours a night: less is not worth a clear hour
LOG = "drift log"
# What is measured otherwise: how it is said, which figure it tells, with what standard error (of the logarithm, or in
# arcmin), and the minutes of the night it takes. Common practice, no source.
OTHERS = {
    "polar alignment": ("Measure the polar axis with solved positions", "polar axis", 0.2, 10),
    "seeing": ("Take a test frame for tonight's seeing", "seeing", 0.1, 2),
    "sky brightness": ("Measure the brightness of your sky", "sky", 0.05, 2),
    "read noise": ("Measure the read noise of your camera by day", "read noise", 0.03, 0),
}


@dataclass(frozen=True, kw_only=True)
class MeasurementWorth:
    """What one measurement would bring."""

    measurement: Annotated[str, "its name"]
    minutes: Annotated[float, "that it takes at night"]
    hours_per_night: Annotated[u.Quantity[u.h], "clock time saved in the window", Key("gain_hours_per_night")]
    sentence: Annotated[str, "what to measure, and what it brings"]


class Knowledge:
    """The speed of every action as a sum of parabolas in the inputs."""

    def __init__(self, speeds: np.ndarray, off: np.ndarray):
        """Fit speeds (draws, actions) on inputs (draws, k), in standard deviations."""
        self.coefficients = np.linalg.lstsq(_features(off, 1.0), speeds, rcond=None)[0]
        self.unknown = float(self.coefficients[0].max())  # the best action's mean speed

    def expected_best(self, known: np.ndarray) -> float:
        """Return the mean speed of the best action once the covariance `known` (k, k) of what is believed is found."""
        values, vectors = np.linalg.eigh(known)
        root = vectors * np.sqrt(np.clip(values, 0, None))
        believed = _findings(len(known)) @ root.T
        return float((_features(believed, np.diag(known)) @ self.coefficients).max(axis=1).mean())


@functools.lru_cache(maxsize=8)
def _findings(count: int) -> np.ndarray:
    return even_normals(FINDINGS, count)


def _features(off: np.ndarray, spread: np.ndarray | float) -> np.ndarray:
    """Return 1, x and the centred square of each input, (n, 1 + 2 k)."""
    return np.concatenate([np.ones((len(off), 1)), off, off**2 - spread], axis=1)


def found_by(slopes: np.ndarray, errors: np.ndarray) -> np.ndarray:
    """Return the covariance of what is believed after measuring slopes (n, k) times the inputs, with errors (n,)."""
    return slopes.T @ np.linalg.solve(slopes @ slopes.T + np.diag(errors**2), slopes)


@dataclass(frozen=True, kw_only=True)
class _Plan:
    """One measurement that could be made: its words, its minutes, and what it measures of the inputs."""

    name: str
    words: str
    minutes: float
    slopes: np.ndarray  # (n, k), in standard deviations of the inputs
    errors: np.ndarray  # (n,)


def _plans(scene: Scene, inputs: Sequence[OpenInput]) -> list[_Plan]:
    """Return every measurement that tells something of the inputs."""
    plans = [_Plan(name=LOG, words=f"Record a drift log of {minutes} minutes", minutes=minutes, slopes=slopes,
                   errors=errors)
             for minutes in LOG_MINUTES for slopes, errors in [_log_design(scene, inputs, minutes)]]
    for name, (words, figure, error, minutes) in OTHERS.items():
        about = np.array([item.spread if item.figure == figure else 0.0 for item in inputs])
        slopes = np.diag(about)[about > 0]
        plans.append(_Plan(name=name, words=words, minutes=minutes, slopes=slopes,
                           errors=np.full(len(slopes), error)))
    return [plan for plan in plans if len(plan.slopes)]


def worths(scene: Scene, inputs: Sequence[OpenInput], knowledge: Knowledge, least: u.Quantity[u.h],
           ) -> tuple[tuple[MeasurementWorth, ...], tuple[MeasurementWorth, ...]]:
    """Return what each measurement would bring by itself, from the most down; and what to measure one after the other.

    Of these each has what it adds to those before it, until the next adds less than `least`.
    """
    plans = _plans(scene, inputs)
    ranked = alone = _ranked(scene, plans, knowledge, [])
    done: list[_Plan] = []
    order: list[MeasurementWorth] = []
    while ranked and (first := ranked[0]).hours_per_night >= least:
        done.append(next(plan for plan in plans if (plan.name, plan.minutes) == (first.measurement, first.minutes)))
        order.append(first)
        plans = [plan for plan in plans if plan.name != first.measurement]
        ranked = _ranked(scene, plans, knowledge, done)
    return alone, tuple(order)


def _ranked(scene: Scene, plans: list[_Plan], knowledge: Knowledge, done: list[_Plan]) -> tuple[MeasurementWorth, ...]:
    """Return what each measurement adds to those done, from the most down; of the logs the shortest that will do."""
    before = knowledge.expected_best(_found(done)) if done else knowledge.unknown
    gains = [saved_hours(scene, before, knowledge.expected_best(_found([*done, plan]))) for plan in plans]
    best_log = max((gain for gain, plan in zip(gains, plans, strict=True) if plan.name == LOG), default=0 * u.h)
    chosen, logged = [], False
    for gain, plan in zip(gains, plans, strict=True):
        if plan.name == LOG and (logged or gain < ENOUGH * best_log):
            continue
        logged = logged or plan.name == LOG
        chosen.append(MeasurementWorth(measurement=plan.name, minutes=plan.minutes, hours_per_night=gain,
                            sentence=worth_sentence(plan.words, gain)))
    return tuple(sorted(chosen, key=lambda worth: -worth.hours_per_night))


def _found(plans: list[_Plan]) -> np.ndarray:
    """Return the covariance of what is believed after some measurements."""
    return found_by(np.concatenate([plan.slopes for plan in plans]), np.concatenate([plan.errors for plan in plans]))


def saved_hours(scene: Scene, before: float, after: float) -> u.Quantity[u.h]:
    """Return how much sooner the window's result is there at another speed; 0 where that is no faster."""
    return scene.length * (1 - before / after if after > before > 0 else 1.0 if after > before else 0.0)


def _log_design(scene: Scene, inputs: Sequence[OpenInput], minutes: float) -> tuple[np.ndarray, np.ndarray]:
    """Return what a log measures of the inputs: slopes (n, k) in standard deviations, and errors (n,)."""
    errors = log_errors(scene.rig.mount, minutes, air_rms=_air(scene), latitude=scene.site.latitude,
                        hour_angle=scene.hour_angle[scene.hour_angle.size // 2].to(u.deg))
    spread = np.array([item.spread for item in inputs])
    one, rows, noise = np.eye(len(inputs)), [], []
    terms = [term for term in scene.rig.mount.periodic if term.amplitude > 0]
    for place, item in enumerate(inputs):
        error = {"jitter": errors.jitter, "wander": errors.wander}.get(item.name)
        error = next((float(found) for found, term in zip(errors.amplitudes, terms, strict=True) if term == item.term),
                     error)
        if error is not None and np.isfinite(error):
            rows.append(spread[place] * one[place])
            noise.append(error)
    angles = [place for place, item in enumerate(inputs) if item.figure == "polar axis"]
    if len(angles) == len(errors.drift_per_arcmin):
        rows.append(sum(slope * spread[place] * one[place]
                        for slope, place in zip(errors.drift_per_arcmin, angles, strict=True)))
        noise.append(errors.drift)
    return np.array(rows).reshape(-1, len(inputs)), np.array(noise)


def _air(scene: Scene) -> u.Quantity:
    """Return the image motion of the air in one row of a log, through the telescope."""
    telescope = scene.rig.telescope
    width = seeing(scene.site.seeing, airmass=scene.airmass * u.one, wavelength=GUIDE_BAND.centre)
    return image_motion(seeing_fwhm=width, wavelength=GUIDE_BAND.centre, aperture=telescope.aperture,
                        outer_scale=OUTER_SCALE).rms(ROW_S * u.s)


def worth_sentence(words: str, gain: u.Quantity) -> str:
    """Return the worth of a measurement or a change in words."""
    value = gain.to_value(u.h)
    if value < WORTH_SAYING:
        return f"{words}: worth next to nothing here."
    size = f"{value:.1f} h" if value >= 0.95 else f"{value * 60:.0f} min"
    return f"{words}: worth {size} a night."
