"""Whether an axis of a log was held still by a loop: the odds against an unguided star, from where its parts lie.

An unguided star goes with drift, walk and worm, each as likely as the mount's table (or none) lets it be. A loop takes
out what is slower than its response: the drift is gone, the walk comes back to one place, and of a worm is left what is
fast. Both are normal distributions of the means of parts of the log, and their sizes, and the loop's response, are
averaged over what is likely beforehand: a Bayes factor, R. E. Kass and A. E.
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
# Standard deviations, weighted by their density.
WALKS, WORMS = np.array([-1.8, -0.5, 0.5, 1.8]), np.array([-1.8, 0.0, 1.8])
STRETCHES = np.array([-1.8, -0.5, 0.5, 1.8])
NEAR = 0.4  # of the logarithm: a term of the log is that of the table
# Time in which a loop takes out most of an error: its cycle over its gain. Slower ones leave a worm as it is.
RESPONSES_S = 5.0, 10.0, 20.0, 40.0, 80.0, 160.0
LOOP_NOISE = 0.1  # arcsec that a loop itself adds (common practice, no source)
NO_WAVE_S = 1e9  # period of a wave that is none
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
        usual = np.column_stack([ANY_PERIODS, np.full((ANY_PERIODS.size, max(shown.size - 1, 0)), NO_WAVE_S)])
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
    stretch = np.exp(STRETCHES[:, None] * max((term.period.spread for term in terms), default=0.0))
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

    def scatters(self, memories: tuple[float, ...]) -> list[np.ndarray]:
        """Covariances of the scatter about a place, one for each memory, at the level of one."""
        turns = np.abs(self.time[:, None] - self.time) / np.median(np.diff(self.time))
        return [self.noise**2 * (np.exp(-turns / memory) if memory else np.eye(self.time.size)) for memory in memories]


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
    minutes = parts.time / 60
    walk, lag = np.minimum(minutes[:, None], minutes), HELD_RATE**2 * np.outer(minutes, minutes)
    held, free = [], []
    for chance, one in choices:
        shapes, path = parts.mean @ one.shapes, parts.mean @ one.path
        walks = (one.walk[0] * np.exp(one.walk[1] * WALKS))[:, None, None, None, None] ** 2
        worms = np.exp(one.worm_spread * WORMS)[:, None, None, None] ** 2
        free.append(np.log(chance) + _likelihood(parts, parts.seen - path, shapes @ shapes.T + walks * walk
                                                 + worms * _waves(one, parts.time), parts.least, MEMORIES))
        for response in RESPONSES_S:
            left = (walks * response / 120 + LOOP_NOISE**2) * _coming_back(parts.time, response)
            held.append(np.log(chance / len(RESPONSES_S)) + _likelihood(
                parts, parts.seen, lag + left + worms * _waves(one, parts.time, response), 0.0, MEMORIES[:1]))
    return float(np.logaddexp.reduce(held) - np.logaddexp.reduce(free))


def _coming_back(time_s: np.ndarray, response_s: float) -> np.ndarray:
    """Return the covariance (p, p) of means over parts of an Ornstein-Uhlenbeck process of unit variance.

    A walk of w a root second that a loop brings back has the variance w² response/2.
    """
    part = float(np.median(np.diff(time_s))) / response_s
    apart = np.abs(time_s[:, None] - time_s) / response_s
    found = 2 / part**2 * (np.cosh(part) - 1) * np.exp(-apart)
    np.fill_diagonal(found, 2 / part * (1 - (1 - np.exp(-part)) / part))
    return found


def _waves(one: _Expected, time_s: np.ndarray, response_s: float | None = None) -> np.ndarray:
    """Return the covariance of waves of unknown phase for each choice of periods, (c, p, p).

    Of a response: what such a loop leaves of them, by a high pass of the first order.
    """
    periods, apart = one.periods[..., None, None], time_s[:, None] - time_s
    seen = np.sinc(np.median(np.diff(time_s)) / periods) ** 2  # a part averages a wave
    if response_s is not None:
        seen = seen / (1 + (periods / (2 * np.pi * response_s)) ** 2)
    return np.sum(one.amplitudes[:, None, None] ** 2 / 2 * seen * np.cos(2 * np.pi * apart / periods), axis=1)


def _likelihood(parts: _Parts, places: np.ndarray, moved: np.ndarray, least: float, memories: tuple[float, ...]
                ) -> float:
    """Return the logarithm of the mean likelihood of places (p,), wherever they are.

    `moved`: covariances (walks, worms, c, p, p); to each of them comes the scatter, at every level that is allowed.
    """
    weights = np.broadcast_to(np.exp(-(WALKS[:, None, None] ** 2 + WORMS[:, None] ** 2) / 2), moved.shape[:3])
    count = places.size
    contrast = np.linalg.qr(np.column_stack([np.ones(count), np.eye(count)[:, 1:]]))[0][:, 1:].T
    levels = LEVELS[least <= LEVELS]
    logs = []
    for scatter in parts.scatters(memories):
        root = np.linalg.cholesky(contrast @ scatter @ contrast.T)
        white = np.linalg.solve(root, contrast)
        sizes, ways = np.linalg.eigh(white @ moved @ white.T)
        found = (np.swapaxes(ways, -1, -2) @ (white @ places))[..., None]
        spread = np.maximum(sizes, 0)[..., None] + levels**2
        logs.append(-np.sum(np.log(spread) + found**2 / spread, axis=-2) / 2 - np.log(np.diag(root)).sum()
                    + np.log(weights / weights.sum())[..., None])
    return float(np.logaddexp.reduce(np.ravel(logs)) - np.log(len(logs) * levels.size))
