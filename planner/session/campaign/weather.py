"""The plan of the season under simulated weather: what is reached, and when, in many seasons of random clear nights.

On a clear night the plan's hours come first; what is left of the night goes to the needs whose next hour is worth most.
"""

from dataclasses import dataclass

import numpy as np

from planner.session.optimum.problem import Worth

SEED = 1  # the same question has the same answer
FINISHED = 0.98  # of the hours wanted
# Of nights, whose sky is that of the night before: no source. Against 216 projects of simulated seasons, odds of 0.84
# came true in 0.67 without it.
PERSISTENCE = 0.3


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """Night by which each need is finished in each season, (needs, seasons), −1 for never; hours gained, (needs,)."""

    night: np.ndarray
    expected: np.ndarray  # equivalent hours, mean over the seasons

    def finished(self, rows: np.ndarray) -> float:
        """Return the share of seasons in which all of some needs are finished."""
        return float((self.night[rows] >= 0).all(axis=0).mean())

    def median_night(self, rows: np.ndarray) -> int | None:
        """Return the night by which half of the seasons have finished all of some needs; None if fewer do."""
        last = np.where((self.night[rows] >= 0).all(axis=0), self.night[rows].max(axis=0), np.iinfo(int).max)
        middle = int(np.sort(last)[(last.size - 1) // 2])
        return None if middle == np.iinfo(int).max else middle


def simulated(worth: Worth, clock: np.ndarray, rate: np.ndarray, up: np.ndarray, dark: np.ndarray, clear: np.ndarray, *,
              seasons: int, persistence: float = PERSISTENCE) -> Outcome:
    """Return what becomes of the needs; arguments as of `planner.session.optimum.season.season_plan`, and its clock.

    Watch after watch: two needs that are up in the same hours alone do not both get them.
    """
    watches = dark.shape[1]
    sky = np.repeat(_weather(clear, seasons, persistence), watches, axis=0)
    clock, rate, up = (table.reshape(len(table), -1) for table in (clock, rate, up))
    gained = np.zeros((len(worth.left), seasons))
    night = np.where(worth.done >= FINISHED * worth.wanted, 0, -1)[:, np.newaxis] * np.ones((1, seasons), int)
    for part, hours in enumerate(dark.ravel()):
        free, used = np.where(sky[part], hours, 0.0), np.zeros_like(gained)
        for need in _first(-clock[:, part], clock[:, part]):
            _spend(need, clock[need, part], worth, rate[:, part], gained, used, free)
        slope = worth.weight[:, np.newaxis] * rate[:, part, np.newaxis] / np.sqrt(
            (worth.done[:, np.newaxis] + gained + 0.01 * worth.wanted[:, np.newaxis]) * worth.wanted[:, np.newaxis])
        for need in _first(-slope.mean(axis=1), up[:, part]):
            if not free.any():
                break
            _spend(need, up[need, part] - used[need], worth, rate[:, part], gained, used, free)
        reached = worth.done[:, np.newaxis] + gained >= FINISHED * worth.wanted[:, np.newaxis]
        night = np.where((night < 0) & reached, part // watches, night)
    return Outcome(night=night, expected=gained.mean(axis=1))


def _first(order: np.ndarray, hours: np.ndarray) -> np.ndarray:
    """Return the needs that have hours, in an order, lowest first."""
    needs = np.flatnonzero(hours > 0)
    return needs[np.argsort(order[needs], kind="stable")]


def _weather(clear: np.ndarray, seasons: int, persistence: float) -> np.ndarray:
    """Return which nights are clear, (nights, seasons)."""
    draws, kept = np.random.default_rng(SEED).random((2, len(clear), seasons))
    sky = draws < clear[:, np.newaxis]
    for night in range(1, len(clear)):
        sky[night] = np.where(kept[night] < persistence, sky[night - 1], sky[night])
    return sky


def _spend(need: int, most: float | np.ndarray, worth: Worth, rate: np.ndarray, gained: np.ndarray, used: np.ndarray,
           free: np.ndarray) -> None:
    """Give a need up to so many hours of what is free of a night, in every season, in place."""
    if not rate[need] > 0:
        return
    hours = np.clip(np.minimum(np.minimum(most, free), (worth.left[need] - gained[need]) / rate[need]), 0.0, None)
    gained[need] += hours * rate[need]
    used[need] += hours
    free -= hours
