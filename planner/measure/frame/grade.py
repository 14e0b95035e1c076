"""Grades and trends of test frames: keep, look or reject by the observer's tolerance; what changed over the series."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np

from planner.exposure.reasons import percent, times
from planner.fields import Key
from planner.measure.frame.transparency import Light
from planner.measure.stars.sharp_stars import FEWEST_FOR_PSF
from planner.measure.stars.star_field import SMEARED, StarField

Grading = Literal["keep", "look", "reject"]
Fault = Literal["double", "focus", "cloud", "sky", "shape", "width", "stars"]
KEEP: Final = "keep"
LOOK: Final = "look"
REJECT: Final = "reject"
SIGMAS = 2.0
# A frame whose stars are fainter, or where they do not match fewer, than these shares of the series' has lost light
# (common practice, no source).
THIN_LIGHT, CLOUD_LIGHT = 0.8, 0.55
THIN_CLOUD, CLOUD = 0.7, 0.3
# Variance of a pixel's noise over the usual: from the first on a plain mean of many frames is better without it, since
# (N + 1)²/(N + r) < N where r > 2 + 1/N; from the second on its weight is next to nothing (common practice, no source).
NOISY, DROWNED = 2.0, 4.0
FEWEST_FOR_SERIES, FEWEST_FOR_TREND = 3, 5
TREND_CHANCE = 0.01
# Change over a series that is worth telling: of its median; of an elongation (common practice, no source).
LEAST_CHANGE, LEAST_STRETCH = 0.05, 0.02


@dataclass(frozen=True)
class Grade:
    """The verdict on one frame, its reasons, and what they are about."""

    verdict: Annotated[Grading, "on the frame"]
    reasons: Annotated[tuple[str, ...], "of the verdict"]
    faults: frozenset[Fault] = frozenset()


@dataclass(frozen=True)
class Trend:
    """What changed over a series, as a straight line by medians of pairs."""

    name: Annotated[str, "what changes"]
    unit: Annotated[str, "of the slope"]
    per_hour: Annotated[float, "change per hour or frame", Key("slope")]
    low: Annotated[float, "95 % of it lie above", Key("slope_low")]
    high: Annotated[float, "95 % of it lie below", Key("slope_high")]
    chance: Annotated[float, "that frames in random order show as much"]
    significant: Annotated[bool, "whether it is more than chance"]
    per: Annotated[str, "hour or frame"]


def grades(fields: Sequence[StarField], *, tolerated_axis_ratio: float, tolerated_growth: float,
           light: Sequence[Light] | None = None, noise: np.ndarray | None = None) -> list[Grade]:
    """Return a grade for each frame.

    `fields`: a series of one kind, or one frame. `tolerated_axis_ratio`: smallest minor over major axis of a star to
    keep. `tolerated_growth`: largest growth of the FWHM over the sharpest tenth of the series, as a share. `light`,
    `noise` (n,): of each frame, and variance of a pixel's noise over the typical frame's; NaN where they are not known.
    """
    widths = np.array([field.fwhm.value for field in fields if field.parts is not None])
    widths = widths[np.isfinite(widths)]
    usual = None if len(widths) < FEWEST_FOR_SERIES else _Usual(
        float(np.percentile(widths, 10)), float(np.median([field.found for field in fields])),
        float(np.median([field.used for field in fields])))
    return [_grade(field, 1 - tolerated_axis_ratio, tolerated_growth, usual, one, float(variance))
            for field, one, variance in zip(
                fields, [Light()] * len(fields) if light is None else light,
                np.full(len(fields), np.nan) if noise is None else noise, strict=True)]


@dataclass(frozen=True)
class _Usual:
    """What is usual in a series: the FWHM of its sharpest tenth, stars found, stars used."""

    best: float
    found: float
    used: float


Faults = list[tuple[Fault, str]]


def _grade(field: StarField, limit: float, growth: float, usual: _Usual | None, light: Light,
           noise: float) -> Grade:
    if field.double.value:
        knocked = f"every star is double, {field.double.value:.0f} px apart: the mount or a cable was knocked"
        return _settled([("double", knocked)], [])
    reject: Faults = []
    look: Faults = []
    if field.ring.value:
        reject.append(("focus", f"out of focus: the stars are rings {field.ring.value:.0f} px wide"))
    if light.darkest + SIGMAS * light.darkest_error < THIN_LIGHT:
        where = f", {percent(light.darkest)} towards {light.side}" if light.side else ""
        (reject if light.share + SIGMAS * light.error < CLOUD_LIGHT else look).append(
            ("cloud", f"{percent(light.share)} of the light{where}: cloud or haze"))
    elif np.isfinite(light.share):
        pass
    elif usual is not None and field.found < CLOUD * usual.found:
        reject.append(("cloud", f"{field.found} stars where the series has {usual.found:.0f}: cloud"))
    elif usual is not None and field.found < THIN_CLOUD * usual.found:
        look.append(("cloud", f"{field.found} stars where the series has {usual.found:.0f}: thin cloud"))
    if noise > NOISY:
        (reject if noise > DROWNED else look).append(
            ("sky", f"{times(noise)} times the sky's usual variance: in a plain mean it takes more than "
                    "it brings"))
    if field.parts is None:
        lost = usual is not None and field.used < CLOUD * usual.used and not field.narrow
        bare = field.used == 0 and field.found < FEWEST_FOR_PSF
        (reject if bare or lost or field.elongation_typical > SMEARED else look).append(("stars", field.reason))
        return _settled(reject, look)
    away = field.elongation - limit
    if away > SIGMAS * field.elongation_error:
        reject.append(("shape", f"elongation {field.elongation:.2f}, tolerated {limit:.2f}"))
    elif away > -SIGMAS * field.elongation_error and field.elongation_significant:
        look.append(("shape", f"elongation {field.elongation:.2f} at the limit of {limit:.2f}"))
    elif _corners_exceed(field, limit):
        look.append(("shape", f"elongation {field.worst_elongation:.2f} in a part of the field, tolerated {limit:.2f}"))
    if usual is not None and field.fwhm.value > (1 + growth) * usual.best:
        reject.append(("width", f"FWHM {percent(field.fwhm.value / usual.best - 1)} above the best tenth"))
    return _settled(reject, look)


def wider_than_expected(grade: Grade) -> Grade:
    """Return the grade of a frame on its own, kept so far, whose stars are wider than the rig makes them."""
    if grade.verdict != KEEP:
        return grade
    return Grade(LOOK, ("wider than this rig's stars are in 9 of 10 nights",), frozenset({"width"}))


def _corners_exceed(field: StarField, limit: float) -> bool:
    """Return whether some part of the map is beyond the limit by more than its error, or a corner is."""
    if field.parts is not None and field.parts.varies and max(field.parts.corner_elongation) > limit:
        return True
    with np.errstate(invalid="ignore"):
        return bool(np.any(field.map_elongation - SIGMAS * field.map_elongation_error > limit))


def _settled(reject: Faults, look: Faults) -> Grade:
    every = reject + look
    return Grade(REJECT if reject else LOOK if look else KEEP, tuple(reason for _, reason in every),
                 frozenset(fault for fault, _ in every))


def trends(fields: Sequence[StarField], hours: np.ndarray | None) -> list[Trend]:
    """Return the trends of FWHM, elongation, star count and background; none for fewer than 5 frames.

    `hours` (n,) are the times of the frames; None counts frames.
    """
    chosen = [index for index, field in enumerate(fields) if field.parts is not None]
    if len(chosen) < FEWEST_FOR_TREND:
        return []
    place = np.arange(len(fields), dtype=float) if hours is None else np.asarray(hours, dtype=float)
    place = place[chosen]
    if np.unique(place).size < FEWEST_FOR_TREND:
        return []
    used = [fields[index] for index in chosen]
    levels = [max(f.background, f.noise) for f in used]
    values = (("FWHM", "pix", [field.fwhm.value for field in used]), ("elongation", "", [f.elongation for f in used]),
              ("stars", "", [float(f.found) for f in used]), ("background", "", [f.background for f in used]))
    return [_trend(name, unit, place, np.array(series), LEAST_STRETCH if name == "elongation" else
                   LEAST_CHANGE * float(np.median(levels if name == "background" else series)),
                   "frame" if hours is None else "hour")
            for name, unit, series in values]


def _trend(name: str, unit: str, place: np.ndarray, values: np.ndarray, least: float, per: str) -> Trend:
    """Return one trend, significant where chance alone hardly shows it and it changes the values by so much."""
    from scipy.stats import kendalltau, theilslopes

    if np.ptp(values) == 0:
        return Trend(name, unit, 0.0, 0.0, 0.0, 1.0, False, per)
    slope = theilslopes(values, place)
    chance = float(kendalltau(place, values).pvalue)
    sure = bool(chance < TREND_CHANCE and slope[2] * slope[3] > 0 and abs(slope[0]) * np.ptp(place) > least)
    return Trend(name, unit, float(slope[0]), float(slope[2]), float(slope[3]), chance, sure, per)
