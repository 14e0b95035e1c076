"""The plan of the season under simulated weather: what is reached, and when, in many seasons of random clear nights.

On a clear night the plan's hours come first; what is left of the night goes to the needs whose next hour is worth most.
"""

from dataclasses import dataclass

import numpy as np

from planner.session.optimum.problem import Worth

SEED = 1  # the same question has the same answer
FINISHED = 0.98  # of the hours wanted
# Of nights, whose sky is that of the night before: no source. Against 216 projects of simulated seasons, odds of 0.84
# came true in 0.67 without it; with it, 0.82 in 0.72.
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
    """Return what becomes of the needs; arguments as of `planner.session.optimum.season.season_plan`, and its clock."""
    sky = _weather(clear, seasons, persistence)
    gained = np.zeros((len(worth.left), seasons))
    night = np.where(worth.done >= FINISHED * worth.wanted, 0, -1)[:, np.newaxis] * np.ones((1, seasons), int)
    for number in range(len(dark)):
        free = np.where(sky[number], dark[number], 0.0)
        used = np.zeros_like(gained)
        for need in np.argsort(-clock[:, number], kind="stable"):
            _spend(need, clock[need, number], worth, rate[:, number], gained, used, free)
        slope = worth.weight[:, np.newaxis] * rate[:, number, np.newaxis] / np.sqrt(
            (worth.done[:, np.newaxis] + gained + 0.01 * worth.wanted[:, np.newaxis]) * worth.wanted[:, np.newaxis])
        for need in np.argsort(-slope.mean(axis=1), kind="stable"):
            _spend(need, up[need, number] - used[need], worth, rate[:, number], gained, used, free)
        reached = worth.done[:, np.newaxis] + gained >= FINISHED * worth.wanted[:, np.newaxis]
        night = np.where((night < 0) & reached, number, night)
    return Outcome(night=night, expected=gained.mean(axis=1))


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
