"""How much light came through: the stars of each frame against the same stars on the other frames of a series."""

from collections.abc import Sequence

import numpy as np

from planner.measure.frame.series import FEWEST_MATCHES, MATCH_REACH, matched_pairs
from planner.measure.stars.selection import Stars

CLEAR_SHARE = 90  # percentile of the series' light that counts as clear


def light_of(stars: Sequence[Stars], exposure_s: Sequence[float | None], shape: tuple[int, int]) -> np.ndarray:
    """Return the light of each frame per time as a share of the clearest frames'; NaN where stars do not match.

    `stars`: of each frame, all through one filter. `exposure_s`: where one is not known, all count as alike. `shape`:
    rows and columns of the frames.
    The median over matched stars of light against the frame with most stars: what the air takes as the target sinks is
    in it, what a star's width does to its peak is not.
    """
    count = len(stars)
    light = np.full(count, np.nan)
    base = int(np.argmax([one.count for one in stars])) if count else 0
    if count < 2 or stars[base].count < FEWEST_MATCHES:
        return light
    known = all(value is not None and value > 0 for value in exposure_s)
    time = np.array([float(value) if known and value is not None else 1.0 for value in exposure_s])
    for index, one in enumerate(stars):
        here, there = matched_pairs(stars[base], one, shape, MATCH_REACH)
        if here.size >= FEWEST_MATCHES:
            light[index] = np.median(one.flux[there] / stars[base].flux[here]) / time[index]
    clear = np.nanpercentile(light, CLEAR_SHARE) if np.isfinite(light).any() else np.nan
    return light / clear


def weights_of(light: np.ndarray, fwhm: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """Return the weight of each frame for faint stars, the best 1: squared light over FWHM and noise of a pixel.

    The squared signal to noise of a point on a bright sky (King 1983, PASP 95, 163); all frames of one exposure.
    """
    weight = (light / np.where(fwhm * noise > 0, fwhm * noise, np.nan)) ** 2
    return weight / np.nanmax(weight) if np.isfinite(weight).any() else weight
