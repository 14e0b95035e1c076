"""The season under simulated weather: what is reached, and when, in many seasons of random clear nights.

The observer plans again each night, which is not simulated: of the hours that today's plan has in a clear watch most
are kept, and the others go to the need whose next hour is worth most, its share of a finished project included, where
it brings more than the hours that are still to come.
"""

from dataclasses import dataclass

import numpy as np

from planner.session.optimum.problem import Worth
from planner.session.optimum.season import LEAST_LEFT, windows

SEED = 1  # the same question has the same answer
FINISHED = 0.98  # of the hours wanted
HALF = 0.5
NOTHING = 1e-9  # h
# How much of the plan is kept; by how much a project near its end is kept to, beside its worth by the hour. From 168
# projects of 14 simulated seasons, planned again each night: 45 % were finished, and told. In 54 others told 0.48, true
# 0.50.
KEPT = 0.75
WHOLE = 3.0
# Who plans again each night ends later than the seasons here do: of the projects that are finished, the share done by a
# night is that of the seasons to this power. From 307 projects of the 54 seasons (without it, 0.33 were finished by
# the night for half of the seasons); in 15 fresh ones 0.55 of 86 projects by the night told.
LATER = 2.0
# Of nights, whose sky is that of the night before: no source. Against 216 projects of simulated seasons, odds of 0.84
# came true in 0.67 without it.
PERSISTENCE = 0.3


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """Night by which each need is finished in each season, (needs, seasons), −1 for never, and means of them.

    `clock`, (needs, nights, watches), is of the seasons in which the night is clear: `clear`, (nights,), of all.
    """

    night: np.ndarray
    expected: np.ndarray  # equivalent hours, (needs,)
    clock: np.ndarray
    clear: np.ndarray

    def finished(self, rows: np.ndarray) -> float:
        """Return the share of seasons in which all of some needs are finished."""
        return float((self.night[rows] >= 0).all(axis=0).mean())

    def median_night(self, rows: np.ndarray) -> int | None:
        """Return the night by which all of some needs are finished with a probability of half; None if it is less."""
        ended = np.sort(self.night[rows].max(axis=0)[(self.night[rows] >= 0).all(axis=0)])
        odds = self.finished(rows)
        return None if odds < HALF else int(ended[int(np.ceil((HALF / odds) ** (1 / LATER) * ended.size)) - 1])


def simulated(worth: Worth, clock: np.ndarray, rate: np.ndarray, up: np.ndarray, dark: np.ndarray, clear: np.ndarray, *,
              seasons: int, owner: np.ndarray | None = None, finish: np.ndarray | None = None,
              persistence: float = PERSISTENCE, tonight: np.ndarray | None = None) -> Outcome:
    """Return what becomes of the needs; arguments as of `planner.session.optimum.season.season_plan`, and its clock.

    Watch after watch: two needs that are up in the same hours alone do not both get them, and those of one project
    share the hours in which it is up. `tonight`: what the first night brings in all seasons, (needs,); as the others
    if absent.
    """
    owner = np.arange(len(worth.left)) if owner is None else owner
    finish = np.zeros(int(owner.max(initial=-1)) + 1) if finish is None else finish
    watches = dark.shape[1]
    sky = np.repeat(_weather(clear, seasons, persistence), watches, axis=0)
    clock, rate, up = (table.reshape(len(table), -1) for table in (clock, rate, up))
    now = rate * _over_later(rate, up * np.repeat(clear, watches))
    window = windows(up, owner)
    gained, spent = np.zeros((len(worth.left), seasons)), np.zeros_like(rate)
    first = 0
    if tonight is not None:
        first, most = watches, (up * rate)[:, :watches].sum(axis=1, keepdims=True)
        gained += np.minimum(tonight, worth.left)[:, np.newaxis]
        spent[:, :watches] = up[:, :watches] * np.minimum(np.divide(
            gained[:, :1], most, out=np.zeros_like(most), where=most > 0), 1.0)
    had = worth.done + gained[:, 0] >= FINISHED * worth.wanted
    night = np.where(had, 0, -1)[:, np.newaxis] * np.ones((1, seasons), int)
    for part, hours in list(enumerate(dark.ravel()))[first:]:
        clears = np.flatnonzero(sky[part])
        here, free = gained[:, clears], np.full(len(clears), hours)
        lacking = (worth.left[:, np.newaxis] - NOTHING > here).any(axis=1)
        needs = np.flatnonzero((up[:, part] * rate[:, part] > 0) & lacking)
        own, shared = (np.repeat(hours[:, part, np.newaxis], len(clears), axis=1) for hours in (up, window))
        room = _Room(free, own, shared, owner)
        for need in _first(clock[:, part], needs):
            _spend(np.full(len(clears), need), KEPT * clock[need, part], worth, rate[:, part], here, room)
        worths = _slope(worth, here, owner, finish, needs) * now[needs, part, np.newaxis]
        for need in needs[np.argsort(-worths, axis=0)]:
            if not free.any():
                break
            _spend(need, np.inf, worth, rate[:, part], here, room)
        brought = (here - gained[:, clears]).sum(axis=1) / max(len(clears), 1)
        spent[needs, part] = brought[needs] / rate[needs, part]
        gained[:, clears] = here
        reached = worth.done[:, np.newaxis] + here >= FINISHED * worth.wanted[:, np.newaxis]
        night[:, clears] = np.where((night[:, clears] < 0) & reached, part // watches, night[:, clears])
    return Outcome(night=night, expected=gained.mean(axis=1), clock=spent.reshape(len(spent), -1, watches),
                   clear=sky[::watches].mean(axis=1))


def _first(clock: np.ndarray, needs: np.ndarray) -> np.ndarray:
    """Return the needs that have hours of the plan, those with the most first."""
    planned = needs[clock[needs] > 0]
    return planned[np.argsort(-clock[planned], kind="stable")]


def _over_later(rate: np.ndarray, chance: np.ndarray) -> np.ndarray:
    """Return what an hour brings over the mean hour from then on, (needs, parts); 1 where none comes."""
    hours, brought = (np.cumsum(table[:, ::-1], axis=1)[:, ::-1] for table in (chance, rate * chance))
    return np.divide(rate * hours, brought, out=np.ones_like(rate), where=brought > 0)


def _slope(worth: Worth, gained: np.ndarray, owner: np.ndarray, finish: np.ndarray, needs: np.ndarray) -> np.ndarray:
    """Return what the next hour of some needs is worth, its share of a finished project included, (n, seasons)."""
    first = np.flatnonzero(np.diff(owner, prepend=-1))  # a project's needs stand together
    project = np.add.reduceat(np.maximum(worth.left[:, np.newaxis] - gained, 0.0), first, axis=0)
    project = np.repeat(project, np.diff(first, append=len(owner)), axis=0)
    weight, done, wanted = (part[needs, np.newaxis] for part in (worth.weight, worth.done, worth.wanted))
    root = np.sqrt((done + gained[needs] + 0.01 * wanted) * wanted)
    return (weight / (2 * root) + (0.0 if worth.hourly is None else worth.hourly[needs, np.newaxis])
            + WHOLE * finish[owner[needs], np.newaxis] / np.maximum(project[needs], LEAST_LEFT))


def _weather(clear: np.ndarray, seasons: int, persistence: float) -> np.ndarray:
    """Return which nights are clear, (nights, seasons)."""
    draws, kept = np.random.default_rng(SEED).random((2, len(clear), seasons))
    sky = draws < clear[:, np.newaxis]
    for night in range(1, len(clear)):
        sky[night] = np.where(kept[night] < persistence, sky[night - 1], sky[night])
    return sky


@dataclass(frozen=True)
class _Room:
    """Hours of one watch that are left, in each season."""

    free: np.ndarray  # (seasons,)
    up: np.ndarray  # of each need, (needs, seasons)
    window: np.ndarray  # of each project, (projects, seasons)
    owner: np.ndarray  # (needs,)


def _spend(need: np.ndarray, most: float, worth: Worth, rate: np.ndarray, gained: np.ndarray, room: _Room) -> None:
    """Give each season's own need (seasons,) up to so many hours of the room that it has, in place."""
    at = need, np.arange(len(need))
    own = room.owner[need], at[1]
    lacks = (worth.left[need] - gained[at]) / rate[need]
    hours = np.minimum.reduce([np.minimum(most, room.free), room.up[at], room.window[own], lacks])
    hours = np.maximum(hours, 0.0)
    gained[at] += hours * rate[need]
    room.up[at] -= hours
    room.window[own] -= hours
    room.free[:] -= hours
