"""Whether an axis of a log was held still by a loop: the odds against an unguided star, from where its parts lie.

A loop leaves a star where it is: about one place, as scattered minutes later as now. An unguided one goes with drift,
walk and worm, each as likely as the mount's table (or none) lets it be. Both are normal distributions of the means of
parts of the log, and their sizes are averaged over what is likely beforehand: a Bayes factor, R. E. Kass and A. E.
Raftery, J. Am. Stat. Assoc. 90, 773 (1995), doi:10.1080/01621459.1995.10476572.
"""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.measure.drift.causes import track_of
from planner.measure.drift.model import DriftReport
from planner.measure.posterior.prior import prior_of
from planner.measure.robust import SIGMA_PER_MEDIAN
from planner.rig import Mount

# Drift rates that unguided mounts show, per axis (arcsec/min): an axis some arcmin off, a drive of 100 ppm, the air.
# Common practice, no source; a mount that follows a model of its errors leaves a tenth.
USUAL_RATE, MODELLED_RATE = 0.35, 0.035
HELD_RATE = 0.01  # arcsec/min that a loop lets through: its lag, the guide scope's own flexure (common practice)
PARTS, FEWEST_PARTS = 20, 10  # of a log, to see whether it goes anywhere
FLOOR_ROWS, FLOOR = 8, 0.6  # rows of a part that tell its noise; share of that below which no unguided star scatters
LEVELS = np.geomspace(0.25, 16, 13)  # of the scatter of a part over the noise of its rows
MEMORIES = 0.0, 1.0  # parts for which that scatter lasts
# Any mount: median walk (arcsec in a minute) and worm (arcsec), and the standard deviations of their logarithms.
ANY_WALK, ANY_WORM, ANY_PERIODS = (0.1, 1.2), (1.5, 1.5), np.geomspace(120, 1000, 16)
WALK_SPREAD = 0.7  # at least: an axis at rest walks less
QUANTILES = np.array([-1.8, -1.1, -0.5, 0.0, 0.5, 1.1, 1.8])  # standard deviations, weighted by their density
NEAR = 0.4  # of the logarithm: a term of the log is that of the table
SHRUNK = np.array([0.0, 0.03, 0.1, 0.3, 0.6])  # shares of a worm that loops leave
LEAST_NOISE = 1e-3  # arcsec
OTHER_MOUNT = 0.3  # chance that the table is not that of the mount


@dataclass(frozen=True)
class _Expected:
    """What an unguided axis does: a path (n,), what may be added (n, k) at one sigma, walk and worm.

    Of these the medians (arcsec in a minute; arcsec, of each term) and the standard deviation of the logarithm.
    """

    path: np.ndarray
    shapes: np.ndarray
    walk: tuple[float, float]
    periods: np.ndarray  # (c, terms) s
    amplitudes: np.ndarray  # (terms,)
    worm_spread: float


def held_odds(report: DriftReport, mount: Mount | None) -> tuple[float, float]:
    """Return the logarithms of the odds of a held star against an unguided one, RA and Dec."""
    found = []
    for place, axis in enumerate((report.ra, report.dec)):
        choices = [(1.0, _any_mount(report, place, mount))]
        if mount is not None:
            choices = [(OTHER_MOUNT, choices[0][1]), (1 - OTHER_MOUNT, _this_mount(report, place, mount))]
        found.append(max(_odds(axis.time_s, one, choices) for one in axis.places))
    return found[0], found[1]


def _any_mount(report: DriftReport, place: int, mount: Mount | None) -> _Expected:
    """Return what is expected of a mount that nobody knows."""
    time = report.ra.time_s
    modelled = mount is not None and mount.rate == "model"
    path = np.zeros(time.size)
    if report.log.placed and not modelled:
        path = track_of(report.log, Mount(name="perfect"), time)[place]
    slope = (MODELLED_RATE if modelled else USUAL_RATE) * time[:, None] / 60
    periods = np.zeros((1, 0))
    if place == 0:
        shown = _shown(report)
        usual = np.column_stack([ANY_PERIODS, np.full((ANY_PERIODS.size, max(shown.size - 1, 0)), np.inf)])
        periods = np.vstack([usual, shown]) if shown.size else usual
    return _Expected(path, slope, ANY_WALK, periods, np.full(periods.shape[1], ANY_WORM[0]), ANY_WORM[1])


def _shown(report: DriftReport) -> np.ndarray:
    """Return the periods of the worm's terms that the log itself shows, s."""
    found = np.array([term.period.to_value(u.s) for term in report.ra.periodic])
    return found[found > ANY_PERIODS[0] / 2]


def _this_mount(report: DriftReport, place: int, mount: Mount) -> _Expected:
    """Return what is expected of the mount of a table."""
    any_mount, prior = _any_mount(report, place, mount), prior_of(mount)
    path, shapes = any_mount.path, any_mount.shapes
    if report.log.placed and mount.rate != "model":
        time = report.ra.time_s
        path = track_of(report.log, mount, time, rate_error_ppm=prior.rate.mean)[place]
        steps = [{"rate_error_ppm": prior.rate.mean + prior.rate.sigma}] + [
            {"rate_error_ppm": prior.rate.mean, key: value + known.sigma * u.arcmin}
            for (key, value), known in zip(mount.axis.items(), (prior.altitude, prior.azimuth), strict=True)]
        shapes = np.column_stack([track_of(report.log, mount, time, **step)[place] - path for step in steps])
        flexure = (prior.flexure_ra, prior.flexure_dec)[place]
        shapes = np.column_stack([shapes, flexure.sigma * time / 3600])
    walk = prior.wander.median, max(prior.wander.spread, WALK_SPREAD)
    terms = prior.terms if place == 0 else ()
    table = np.array([term.period.median for term in terms])
    stretch = np.exp(QUANTILES[::2, None] * max((term.period.spread for term in terms), default=0.0))
    periods, shown = stretch * table, _shown(report)
    if shown.size and table.size:
        nearest = shown[np.argmin(np.abs(np.log(table[:, None] / shown)), axis=1)]
        periods = np.vstack([periods, np.where(np.abs(np.log(nearest / table)) < NEAR, nearest, table)])
    return _Expected(path, shapes, walk, periods, np.array([term.amplitude.median for term in terms]),
                     max((term.amplitude.spread for term in terms), default=1.0))


@dataclass(frozen=True)
class _Parts:
    """Means of parts of a log: seconds and arcsec (p,), what turns rows (n,) into them, and the noise of one."""

    time: np.ndarray
    seen: np.ndarray
    mean: np.ndarray  # (p, n)
    noise: float
    least: float  # of `LEVELS` for an unguided star

    @property
    def scatters(self) -> list[np.ndarray]:
        """Covariances of the scatter about a place, one for each memory, at the level of one."""
        turns = np.abs(self.time[:, None] - self.time) / np.median(np.diff(self.time))
        return [self.noise**2 * (np.exp(-turns / memory) if memory else np.eye(self.time.size)) for memory in MEMORIES]


def _parts_of(time: np.ndarray, place: np.ndarray) -> _Parts | None:
    """Return the parts of one axis (n,); None of a log with too few rows."""
    of_part = np.minimum((PARTS * time / time[-1]).astype(int), PARTS - 1) == np.arange(PARTS)[:, None]
    of_part = of_part[of_part.any(axis=1)]
    if len(of_part) < FEWEST_PARTS:
        return None
    mean = of_part / of_part.sum(axis=1)[:, None]
    rows = float(np.median(of_part.sum(axis=1)))
    noise = SIGMA_PER_MEDIAN * float(np.median(np.abs(np.diff(place)))) / np.sqrt(2 * rows)
    return _Parts(mean @ time, mean @ place, mean, max(noise, LEAST_NOISE), FLOOR if rows >= FLOOR_ROWS else 0.0)


def _odds(time_s: np.ndarray, place: np.ndarray, choices: list[tuple[float, _Expected]]) -> float:
    """Return the logarithm of the odds of one axis, of weighted expectations; 0 where the log has too few rows."""
    parts = _parts_of(time_s, place)
    if parts is None:
        return 0.0
    minutes, weights = parts.time / 60, np.exp(-(QUANTILES**2) / 2)
    walk, lag = np.minimum(minutes[:, None], minutes), HELD_RATE**2 * np.outer(minutes, minutes)
    held, free = [], []
    for chance, one in choices:
        waves, shapes = _waves(one, parts.time), parts.mean @ one.shapes
        left = SHRUNK[:, None, None, None] ** 2 * waves
        held.append(np.log(chance) + _likelihood(parts, parts.seen, lag + left, np.ones(left.shape[:2]), 0.0))
        walks, worms = (spread * QUANTILES for spread in (one.walk[1], one.worm_spread))
        moved = (shapes @ shapes.T + (one.walk[0] * np.exp(walks))[:, None, None, None, None] ** 2 * walk
                 + np.exp(worms)[::2, None, None, None] ** 2 * waves)
        free.append(np.log(chance) + _likelihood(
            parts, parts.seen - parts.mean @ one.path, moved,
            np.broadcast_to(weights[:, None, None] * weights[::2, None], moved.shape[:3]), parts.least))
    return float(np.logaddexp.reduce(held) - np.logaddexp.reduce(free))


def _waves(one: _Expected, time_s: np.ndarray) -> np.ndarray:
    """Return the covariance of waves of unknown phase for each choice of periods, (c, p, p)."""
    periods, apart = one.periods[..., None, None], time_s[:, None] - time_s
    seen = np.sinc(np.median(np.diff(time_s)) / periods) ** 2  # a part averages a wave
    return np.sum(one.amplitudes[:, None, None] ** 2 / 2 * seen * np.cos(2 * np.pi * apart / periods), axis=1)


def _likelihood(parts: _Parts, places: np.ndarray, moved: np.ndarray, weights: np.ndarray, least: float) -> float:
    """Return the logarithm of the mean likelihood of places (p,), wherever they are, over covariances (..., p, p).

    To each of them comes the scatter, at every level that is allowed.
    """
    count = places.size
    contrast = np.linalg.qr(np.column_stack([np.ones(count), np.eye(count)[:, 1:]]))[0][:, 1:].T
    levels = LEVELS[least <= LEVELS]
    logs = []
    for scatter in parts.scatters:
        root = np.linalg.cholesky(contrast @ scatter @ contrast.T)
        white = np.linalg.solve(root, contrast)
        sizes, ways = np.linalg.eigh(white @ moved @ white.T)
        found = (np.swapaxes(ways, -1, -2) @ (white @ places))[..., None]
        spread = np.maximum(sizes, 0)[..., None] + levels**2
        logs.append(-np.sum(np.log(spread) + found**2 / spread, axis=-2) / 2 - np.log(np.diag(root)).sum()
                    + np.log(weights / weights.sum())[..., None])
    return float(np.logaddexp.reduce(np.ravel(logs)) - np.log(len(logs) * levels.size))
