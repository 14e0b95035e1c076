# ruff: noqa: E501
"""What every method and length of sub brings in a world: kept subs, and squared signal-to-noise per hour on the clock."""

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from worlds.motion import TICK, best_guided, guided_track, mount_track, sky
from worlds.star import (
    STEP,
    adaptive_moments,
    axis_ratio_and_width,
    contrast,
    gaussian_transfer,
    noise_equivalent_area,
    render,
    still_transfer,
)
from worlds.world import World

LADDER = (1, 2, 3, 5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 300, 420, 600, 900, 1200, 1800)
ROUND = 0.90
OUTLIER = 1.20  # of the night's median width
JITTER_TIME = 0.1  # s


@dataclass(frozen=True)
class Yield:
    """One method in one world, by length."""

    length: np.ndarray
    rate: np.ndarray  # squared signal-to-noise per hour, any unit common to a world
    kept: np.ndarray
    round: np.ndarray  # share
    small: np.ndarray  # share of no outliers in width
    undisturbed: np.ndarray  # share without a gust


def _air(world: World, seconds: np.ndarray, median: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return FWHM in the filter, altitude and parallactic angle of subs that start at `seconds` in nights of a median."""
    view = sky(world, seconds)
    drifting = median * (1 + 0.1 * np.sin(2 * np.pi * seconds / 7200 + 37 * median))
    airmass = 1 / np.sin(view["altitude"])
    return drifting * airmass**0.6 * (world.centre_nm / 500)**-0.2, view["altitude"], view["parallactic"]


def refractivity(wavelength_um: np.ndarray) -> np.ndarray:
    """Return n - 1 of dry air at 15 deg C and 1013.25 hPa (Ciddor 1996, eq. 1, CO2 aside; from memory)."""
    wave = wavelength_um**-2
    return (5792105 / (238.0185 - wave) + 167917 / (57.362 - wave)) * 1e-8


def _shaken(world: World, length: float, subs: int, draw: np.random.Generator) -> np.ndarray:
    """Return the sample covariance (n, 2, 2) of jitter, a process of correlation time JITTER_TIME, in subs of a length."""
    ratio = JITTER_TIME / length
    inside = 1 - 2 * ratio * (1 - ratio * (1 - np.exp(-1 / ratio)))
    freedom = int(np.clip(length / (2 * JITTER_TIME), 2, 200))
    sample = draw.normal(size=(subs, freedom, 2))
    return world.jitter**2 * inside * np.einsum("nti,ntj->nij", sample, sample) / freedom


def _images(world: World, track: np.ndarray, start: np.ndarray, night: np.ndarray, length: float, median: np.ndarray,
            draw: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return star images and grid steps [arcsec] of subs."""
    ticks = max(1, round(length / TICK))
    points = min(max(ticks // 2, 2), 120)
    pick = np.linspace(0, ticks, points, endpoint=False) + (draw.uniform(0, ticks / points, (len(start), points)) if ticks > 120 else 0)
    path = track[night[:, None], start[:, None] + pick.astype(int)]
    fwhm, altitude, parallactic = _air(world, start * TICK, median[night])
    span = np.ptp(path - path.mean(axis=1, keepdims=True), axis=1).max(axis=-1)
    step = STEP * np.sqrt(fwhm**2 + world.scale**2 + world.blur**2 + (2.355 * world.jitter)**2 + 0.4 * np.minimum(span, 8 * fwhm)**2)
    cutoff = world.aperture_mm / 1000 / (world.centre_nm * 1e-9) / 206265
    waves = (world.centre_nm + np.linspace(-0.5, 0.5, 101) * world.width_nm) / 1000
    smear = refractivity(waves).std() * 206265 / np.tan(altitude)  # of even light; uneven in angle
    along = np.stack([np.sin(parallactic), np.cos(parallactic)], axis=-1)
    covariance = (smear**2)[:, None, None] * along[:, :, None] * along[:, None, :] + _shaken(world, length, len(start), draw)
    transfer = still_transfer(fwhm, world.blur, world.scale, step, cutoff)
    return render(path, transfer * gaussian_transfer(covariance, step), step), step


def method_yield(world: World, track: np.ndarray, median: np.ndarray, lengths: np.ndarray, subs: int,
                 draw: np.random.Generator, *, period: float | None = None) -> Yield:
    """Return what a track brings at each length; all lengths start at the same moments, as far as they fit.

    For a star, or for a pattern of a period [arcsec] in a surface: then the mean contrast counts, none up to two pixels.
    """
    night = np.arange(subs) % len(track)
    place = draw.permutation(subs) / subs
    rows = []
    for length in lengths:
        start = (place * (track.shape[1] - max(1, round(length / TICK)) - 1)).astype(int)
        image, step = _images(world, track, start, night, length, median, draw)
        ratio, width = axis_ratio_and_width(adaptive_moments(image, step))
        typical = np.array([np.median(width[night == one]) for one in range(len(track))])[night]
        is_round, is_small = ratio >= ROUND, width <= OUTLIER * typical
        quiet = np.exp(-length / world.gust_interval)
        pixels = noise_equivalent_area(image, step) / world.scale**2
        light = length**2 / (pixels * (world.sky_rate * length + world.read_noise**2))
        if period is not None:
            left = contrast(image, step, period)[is_round & is_small].mean() if (is_round & is_small).any() else 0.0
            light = np.full(subs, left**2 * (period > 2 * world.scale) * length**2 * world.scale**2
                            / (world.sky_rate * length + world.read_noise**2))
        clock = length + world.download + length / world.dither_interval * world.settle if length < world.dither_interval \
            else length + world.download + world.settle
        rows.append((3600 / clock * quiet * (light * is_round * is_small).mean(), quiet * (is_round & is_small).mean(),
                     is_round.mean(), is_small.mean(), quiet))
    return Yield(np.asarray(lengths, float), *np.array(rows).T)


def simulate(world: World, extra: tuple[float, ...] = (), *, loop: tuple[float, float] | None = None, nights: int = 10,
             subs: int = 240) -> dict[str, Yield]:
    """Return the yield of every method that the rig can use, at the ladder and the extra lengths.

    "guided" is the best of the loops that an observer tries; a `loop` of exposure [s] and gain adds "guided as advised".
    """
    lengths = np.array(sorted({*LADDER, *extra}))
    median, track, draw = nights_of(world, nights)
    result = {"unguided": method_yield(world, track, median, lengths, subs, np.random.default_rng([world.seed, 13]))}
    if world.guider:
        tracks = {"guided": best_guided(world, track, median, draw)}
        if loop:
            tracks["guided as advised"] = guided_track(world, track, median, loop, draw)
        for name, guided in tracks.items():
            result[name] = method_yield(world, guided, median, lengths, subs, np.random.default_rng([world.seed, 13]))
    return result


def nights_of(world: World, nights: int) -> tuple[np.ndarray, np.ndarray, np.random.Generator]:
    """Return the nights' median seeing, the unguided track in them, and the generator that goes on from there.

    The medians lie at even quantiles of their law, so that few nights stand for many.
    """
    draw = np.random.default_rng([world.seed, 12])
    even = [NormalDist().inv_cdf((night + 0.5) / nights) for night in range(nights)]
    median = world.seeing * np.exp(world.spread * draw.permutation(even))
    return median, mount_track(world, nights, draw), draw


def loop_track(world: World, loop: tuple[float, float] | None, nights: int = 10) -> tuple[np.ndarray, np.ndarray]:
    """Return median seeing and track in the nights of `simulate`, under a loop of exposure [s] and gain, or without one."""
    median, track, _ = nights_of(world, nights)
    return median, guided_track(world, track, median, loop, np.random.default_rng([world.seed, 16])) if loop else track


def guided_yield(world: World, loop: tuple[float, float], lengths: np.ndarray, *, nights: int = 10, subs: int = 240) -> Yield:
    """Return what one loop of exposure [s] and gain brings in the nights of `simulate`."""
    median, guided = loop_track(world, loop, nights)
    return method_yield(world, guided, median, lengths, subs, np.random.default_rng([world.seed, 13]))


def round_of_first(world: World, loop: tuple[float, float] | None, length: float, count: int) -> np.ndarray:
    """Return how many of the first subs are round and no outliers among themselves, in each night; none where they do not fit."""
    median, track = loop_track(world, loop)
    start = (np.arange(count) * (length + world.download) / TICK).astype(int)
    if start[-1] + length / TICK >= track.shape[1]:
        return np.zeros(0, int)
    night = np.repeat(np.arange(len(track)), count)
    image, step = _images(world, track, np.tile(start, len(track)), night, length, median, np.random.default_rng([world.seed, 18]))
    ratio, width = (one.reshape(-1, count) for one in axis_ratio_and_width(adaptive_moments(image, step)))
    return ((ratio >= ROUND) & (width <= OUTLIER * np.median(width, axis=1, keepdims=True))).sum(axis=1)
