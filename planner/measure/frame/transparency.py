"""How much light came through: the stars of each frame against the same stars on the other frames of a series."""

from collections.abc import Sequence

import numpy as np

from planner.measure.frame.series import FEWEST_MATCHES, MATCH_REACH, matched_pairs
from planner.measure.robust import MEDIAN_ERROR
from planner.measure.stars.star_field import StarField

CLEAR_SHARE = 90  # percentile of the series' light that counts as clear


def light_of(fields: Sequence[StarField], exposure_s: Sequence[float | None]) -> tuple[np.ndarray, np.ndarray]:
    """Return the light of each frame per time as a share of the clearest frames', and its error, (n,) each.

    `fields`: all through one filter, of one shape. `exposure_s`: where one is not known, all count as alike. NaN where
    stars do not match or too few of them tell all of their light.
    The median over matched stars of all their light against the frame with most stars: what the air takes as the
    target sinks is in it, what a star's width does to its core is not.
    """
    light, error = np.full(len(fields), np.nan), np.full(len(fields), np.nan)
    counts = [field.used if np.isfinite(field.light_error) else 0 for field in fields]
    if len(fields) < 2 or max(counts) < FEWEST_MATCHES:
        return light, error
    base = fields[int(np.argmax(counts))]
    known = all(value is not None and value > 0 for value in exposure_s)
    time = np.array([float(value) if known and value is not None else 1.0 for value in exposure_s])
    for index, field in enumerate(fields):
        here, there = matched_pairs(base.stars, field.stars, base.shape, MATCH_REACH)
        if here.size >= FEWEST_MATCHES and np.isfinite(field.light_error):
            ratio = field.stars.flux[there] / base.stars.flux[here]
            light[index] = np.median(ratio) / time[index]
            spread = MEDIAN_ERROR * np.median(np.abs(ratio / np.median(ratio) - 1)) / np.sqrt(here.size)
            error[index] = light[index] * np.hypot(spread, field.light_error)
    clear = np.nanpercentile(light, CLEAR_SHARE) if np.isfinite(light).any() else np.nan
    return light / clear, error / clear


def weights_of(light: np.ndarray, fwhm: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """Return the weight of each frame for faint stars, the best 1: squared light over FWHM and noise of a pixel.

    The squared signal to noise of a point on a bright sky (King 1983, PASP 95, 163); all frames of one exposure.
    """
    weight = (light / np.where(fwhm * noise > 0, fwhm * noise, np.nan)) ** 2
    return weight / np.nanmax(weight) if np.isfinite(weight).any() else weight
