"""Grades and trends of test frames: keep, look or reject by the observer's tolerance; what changed over the series."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from planner.exposure.reasons import percent
from planner.measure.stars.sharp_stars import FEWEST_FOR_PSF
from planner.measure.stars.star_field import StarField

Grading = Literal["keep", "look", "reject"]
KEEP: Final = "keep"
LOOK: Final = "look"
REJECT: Final = "reject"
SIGMAS = 2.0
# A frame whose stars are fainter, or where they do not match fewer, than these shares of the series' has lost light
# (common practice, no source).
THIN_LIGHT, CLOUD_LIGHT = 0.8, 0.55
THIN_CLOUD, CLOUD = 0.7, 0.3
FEWEST_FOR_SERIES, FEWEST_FOR_TREND = 3, 5
TREND_CHANCE = 0.01
# Change over a series that is worth telling: of its median; of an elongation (common practice, no source).
LEAST_CHANGE, LEAST_STRETCH = 0.05, 0.02


@dataclass(frozen=True)
class Grade:
    """The verdict on one frame and its reasons."""

    verdict: Grading
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Trend:
    """What changed over a series, as a straight line by medians of pairs."""

    name: str
    unit: str
    per_hour: float  # or per frame, where times are unknown
    low: float  # 95 percent of it
    high: float
    chance: float  # that frames in random order show as much
    significant: bool


def grades(fields: Sequence[StarField], *, tolerated_axis_ratio: float, tolerated_growth: float,
           light: np.ndarray | None = None) -> list[Grade]:
    """Return a grade for each frame.

    `fields`: a series, or one frame. `tolerated_axis_ratio`: smallest minor over major axis of a star to keep.
    `tolerated_growth`: largest growth of the FWHM over the sharpest tenth of the series, as a share. `light` (n,):
    share of the clearest frames' light; NaN where it is not known.
    """
    widths = np.array([field.fwhm.value for field in fields if field.parts is not None])
    widths = widths[np.isfinite(widths)]
    through = np.full(len(fields), np.nan) if light is None else light
    counts = np.array([field.found for field in fields])
    is_series = len(widths) >= FEWEST_FOR_SERIES
    best = float(np.percentile(widths, 10)) if is_series else None
    usual = float(np.median(counts)) if is_series else None
    return [_grade(field, 1 - tolerated_axis_ratio, tolerated_growth, best, usual, float(share))
            for field, share in zip(fields, through, strict=True)]


def _grade(field: StarField, limit: float, growth: float, best: float | None, usual: float | None,
           light: float) -> Grade:
    reject: list[str] = []
    look: list[str] = []
    if field.ring.value:
        reject.append(f"out of focus: the stars are rings {field.ring.value:.0f} px wide")
    if light < THIN_LIGHT:
        (reject if light < CLOUD_LIGHT else look).append(f"{percent(light)} of the light: cloud or haze")
    elif np.isfinite(light):
        pass
    elif usual is not None and field.found < CLOUD * usual:
        reject.append(f"{field.found} stars where the series has {usual:.0f}: cloud")
    elif usual is not None and field.found < THIN_CLOUD * usual:
        look.append(f"{field.found} stars where the series has {usual:.0f}: thin cloud")
    if field.parts is None:
        (reject if field.used == 0 and field.found < FEWEST_FOR_PSF else look).append(field.reason)
        return _settled(reject, look)
    away = field.elongation - limit
    if away > SIGMAS * field.elongation_error:
        reject.append(f"elongation {field.elongation:.2f}, tolerated {limit:.2f}")
    elif away > -SIGMAS * field.elongation_error and field.elongation_significant:
        look.append(f"elongation {field.elongation:.2f} at the limit of {limit:.2f}")
    elif _corners_exceed(field, limit):
        look.append(f"elongation {field.worst_elongation:.2f} in a part of the field, tolerated {limit:.2f}")
    if best is not None and field.fwhm.value > (1 + growth) * best:
        reject.append(f"FWHM {percent(field.fwhm.value / best - 1)} above the best tenth")
    return _settled(reject, look)


def _corners_exceed(field: StarField, limit: float) -> bool:
    """Return whether some part of the map is beyond the limit by more than its error, or a corner is."""
    if field.parts is not None and field.parts.varies and max(field.parts.corner_elongation) > limit:
        return True
    with np.errstate(invalid="ignore"):
        return bool(np.any(field.map_elongation - SIGMAS * field.map_elongation_error > limit))


def _settled(reject: list[str], look: list[str]) -> Grade:
    if reject:
        return Grade(REJECT, tuple(reject + look))
    return Grade(LOOK, tuple(look)) if look else Grade(KEEP, ())


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
                   LEAST_CHANGE * float(np.median(levels if name == "background" else series)))
            for name, unit, series in values]


def _trend(name: str, unit: str, place: np.ndarray, values: np.ndarray, least: float) -> Trend:
    """Return one trend, significant where chance alone hardly shows it and it changes the values by so much."""
    from scipy.stats import kendalltau, theilslopes

    if np.ptp(values) == 0:
        return Trend(name, unit, 0.0, 0.0, 0.0, 1.0, False)
    slope = theilslopes(values, place)
    chance = float(kendalltau(place, values).pvalue)
    sure = bool(chance < TREND_CHANCE and slope[2] * slope[3] > 0 and abs(slope[0]) * np.ptp(place) > least)
    return Trend(name, unit, float(slope[0]), float(slope[2]), float(slope[3]), chance, sure)
