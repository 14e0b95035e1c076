"""How much light came through: the stars of each frame against the same stars on the other frames of a series."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.measure.frame.field_shape import side_text
from planner.measure.frame.series import FEWEST_MATCHES, MATCH_REACH, matched_pairs
from planner.measure.robust import MEDIAN_ERROR
from planner.measure.stars.selection import Stars
from planner.measure.stars.star_field import StarField

CLEAR_SHARE = 90  # percentile of the series' light that counts as clear
BRIGHT = 50  # percentile of the light of a frame's stars above which one that is missing was dimmed
EDGE = 0.04  # of a side of the picture, within which a star may be missing because it was cut
SURE = 3.0  # errors by which two halves of a picture differ
LEAST_ERROR = 1e-3  # of a median
TOWARDS = np.exp(2j * np.pi * np.arange(8) / 8)  # directions of halves of the picture


@dataclass(frozen=True, kw_only=True)
class Light:
    """Light of a frame per time as a share of the clearest frames', over all of its pixels and in its darkest half.

    NaN where stars do not match or too few of them tell all of their light.
    """

    share: float = np.nan
    error: float = np.nan
    darkest: float = np.nan
    darkest_error: float = np.nan
    side: str = ""  # where the darkest half lies, if it surely is darker than the opposite one


def light_of(fields: Sequence[StarField], exposure_s: Sequence[float | None]) -> list[Light]:
    """Return the light of each frame.

    `fields`: all through one filter, of one shape. `exposure_s`: where one is not known, all count as alike.
    The median over matched stars of all their light against the frame with most stars: what the air takes as the
    target sinks is in it, what a star's width does to its core is not. Of halves of the picture, whose mean is what
    all pixels lose; a bright star that is missing is dark.
    """
    lights = [Light() for _ in fields]
    counts = [field.used if np.isfinite(field.light_error) else 0 for field in fields]
    if len(fields) < 2 or max(counts) < FEWEST_MATCHES:
        return lights
    base = fields[int(np.argmax(counts))]
    known = all(value is not None and value > 0 for value in exposure_s)
    time = [float(value) if known and value is not None else 1.0 for value in exposure_s]
    for index, field in enumerate(fields):
        here, there = matched_pairs(base.stars, field.stars, base.shape, MATCH_REACH)
        if here.size >= FEWEST_MATCHES and np.isfinite(field.light_error):
            lights[index] = _light(_halves(base.stars, field, here, there), time[index], field.light_error)
    shares = np.array([light.share for light in lights])
    clear = float(np.nanpercentile(shares, CLEAR_SHARE)) if np.isfinite(shares).any() else np.nan
    return [Light(share=light.share / clear, error=light.error / clear, darkest=light.darkest / clear,
                  darkest_error=light.darkest_error / clear, side=light.side) for light in lights]


def _light(halves: np.ndarray, time: float, relative: float) -> Light:
    """Return the light that halves of the picture (2, h) show in a time; `relative` error is common to all stars."""
    values, errors = halves / time
    dark = int(np.nanargmin(values))
    turned = values.size // 2
    apart = np.roll(values, turned) - values
    sure = np.abs(apart) / np.maximum(np.hypot(errors, np.roll(errors, turned)), LEAST_ERROR)
    # The edge of a cloud runs through halves beside it, whose medians may be those of either side.
    weight = np.where(np.isfinite(values), 1 + sure**2, np.nan)
    share = float(np.nansum(weight * values) / np.nansum(weight))
    # Halves of a pair share no star, those of other pairs do.
    error = float(np.sqrt(np.nansum(weight * errors**2) / np.nansum(weight) / min(values.size, 2)))
    return Light(share=share, error=float(np.hypot(error, share * relative)), darkest=float(values[dark]),
                 darkest_error=float(np.hypot(errors[dark], values[dark] * relative)),
                 side=_side(apart) if np.nanmax(sure) > SURE else "")


def _side(apart: np.ndarray) -> str:
    """Return towards where light is lost; `apart` (h,): of each half, what the opposite one has more."""
    return side_text(float(np.degrees(np.angle(np.nansum(apart * TOWARDS)))))


def _halves(stars: Stars, field: StarField, here: np.ndarray, there: np.ndarray) -> np.ndarray:
    """Return the light of stars and its error in halves of the picture, (2, h), one in each direction.

    NaN for opposite ones of which one has too few stars; all of the picture alone where none has enough.
    """
    ratio = field.stars.flux[there] / stars.flux[here]
    missing = _missing(stars, field, here, there)
    place = np.concatenate([field.stars.x[there] + 1j * field.stars.y[there], missing])
    ratio = np.concatenate([ratio, np.zeros(missing.size)])
    way = place - complex(field.shape[1] - 1, field.shape[0] - 1) / 2
    inside = (way * np.conj(TOWARDS[:, None])).real > 0
    enough = inside.sum(axis=1) >= FEWEST_MATCHES
    enough &= np.roll(enough, TOWARDS.size // 2)
    if not enough.any():
        return np.array([_median(ratio)]).T
    return np.array([_median(ratio[half]) if good else (np.nan, np.nan)
                     for half, good in zip(inside, enough, strict=True)]).T


def _missing(stars: Stars, field: StarField, here: np.ndarray, there: np.ndarray) -> np.ndarray:
    """Return the places, complex, where bright stars of the base should stand in a frame and do not."""
    lost = np.setdiff1d(np.flatnonzero(stars.flux > np.percentile(stars.flux, BRIGHT)), here)
    place = stars.x[lost] + 1j * stars.y[lost] + np.median(
        field.stars.x[there] - stars.x[here] + 1j * (field.stars.y[there] - stars.y[here]))
    rows, columns = field.shape
    place = np.repeat(place, round(100 / (100 - BRIGHT)))  # as many of the faint ones are missing too
    return place[(np.abs(place.real / columns - 0.5) < 0.5 - EDGE) & (np.abs(place.imag / rows - 0.5) < 0.5 - EDGE)]


def _median(ratio: np.ndarray) -> tuple[float, float]:
    """Return a median and its error."""
    middle = float(np.median(ratio))
    return middle, float(MEDIAN_ERROR * np.median(np.abs(ratio - middle)) / np.sqrt(ratio.size))


def weights_of(light: np.ndarray, fwhm: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """Return the weight of each frame for faint stars, the best 1: squared light over FWHM and noise of a pixel.

    The squared signal to noise of a point on a bright sky (King 1983, PASP 95, 163); all frames of one exposure.
    """
    weight = (light / np.where(fwhm * noise > 0, fwhm * noise, np.nan)) ** 2
    return weight / np.nanmax(weight) if np.isfinite(weight).any() else weight
