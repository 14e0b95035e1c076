"""The season as a program: how many hours each need gets in tonight and in the nights that are left.

Tonight is certain, a later night is clear with some probability. A need gains, in a night, at most what its hours above
the limits bring; a night's clock is shared by all, and the hours of a target by its filters. The worth of what is
gained is concave, in chords, so that no whole numbers are needed for it. A project is finished or not, which is worth
something by itself: of some choices from what the program without whole numbers nearly finishes the best is taken.
Nights far off are dealt out together, some at a time. Tonight follows the program's own answer for tonight; prices
alone would give all to one need.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from planner.session.optimum.problem import Worth

CHORDS = 6  # of each need's worth
LATER = 0.02  # of the least of an hour's worth that an hour of a later night costs: among equals tonight is used,
SOONER = 0.01  # and for each night that it is later so much more of that
SINGLE, TOGETHER = 4, 6  # nights that stand alone; how many of the rest are dealt out together
LIKELY, UNLIKELY = 0.8, 0.2  # shares of a project in the relaxed program: tried to be finished, or not at all
# Of what later nights are expected to bring, so much is counted on where a project is to be finished: half of all
# weather is worse than expected. In 6 simulated seasons whose hours were split at will, 1 finished 0.40 and 0.85, all
# else alike, 0.50; 0.9 with HOURS of 0.35 (0.2) as much and more hours, 0.7 with COMPLETION of 0.5 (0.3) fewer hours.
SURE = 0.9
LEAST_LEFT = 0.25  # h: of less than this left, an hour is worth no more for finishing
SLACK = 1e-6  # of hours: what differs by less is equal
CERTAIN = 0.999  # of a project in the relaxed program: it is finished anyway
SMALL = 1e4  # columns; of more the interior point is the faster


@dataclass(frozen=True, kw_only=True)
class SeasonPlan:
    """Hours on the clock by need, night and watch, and the equivalent hours expected by need and night.

    `finished` says of each project (owners,) whether the season is to finish it; `freed` is what the season would gain
    by an hour more of each need (needs,).
    """

    clock_in_watch: np.ndarray
    expected: np.ndarray
    finished: np.ndarray
    freed: np.ndarray

    @property
    def to_come(self) -> np.ndarray:
        """Equivalent hours expected of each need after tonight, (needs,)."""
        return self.expected[:, 1:].sum(axis=1)


@dataclass(frozen=True)
class Expected:
    """What the season brings of a need after tonight [h]; what an hour and finishing add, and a freed hour is worth."""

    hours: float = 0.0
    hourly: float = 0.0
    freed: float = 0.0


def expected(worth: Worth, plan: SeasonPlan, owner: np.ndarray, finish: np.ndarray) -> list[Expected]:
    """Return what the season expects of each need.

    Where it is to finish a project, what that is worth is spread over all that the project still lacks.
    """
    lacks = np.maximum(np.bincount(owner, worth.left, len(finish)), LEAST_LEFT)
    each = np.where(plan.finished, finish / lacks, 0.0)[owner] + (0.0 if worth.hourly is None else worth.hourly)
    return [Expected(*row) for row in zip(plan.to_come.tolist(), each.tolist(), plan.freed.tolist(), strict=True)]


def beside(worth: Worth, season: list[Expected]) -> Worth:
    """Return what hours of tonight are worth beside those that the later nights are expected to bring.

    These count as done; to gain them tonight is worth what the freed hours bring elsewhere, and never more than the
    last of those that tonight alone brings.
    """
    to_come, hourly, freed = np.array([(one.hours, one.hourly, one.freed) for one in season]).T
    spare = np.minimum(to_come, worth.left)
    last = worth.weight / (2 * worth.wanted) + hourly
    return replace(worth, done=worth.done + spare, left=worth.left - spare, hourly=hourly, spare=spare,
                   price=np.minimum(freed, last))


def season_plan(worth: Worth, rate: np.ndarray, up: np.ndarray, night: np.ndarray, clear: np.ndarray, *,
                owner: np.ndarray | None = None, finish: np.ndarray | None = None) -> SeasonPlan:
    """Return the hours that are worth most.

    Parameters
    ----------
    rate : ndarray, (needs, nights, watches)
        Equivalent hours per hour of the clock, in each part of a night.
    up : ndarray, (needs, nights, watches)
        Hours above the limits in the dark.
    night : ndarray, (nights, watches)
        Hours that can be used.
    clear : ndarray, (nights,)
        Probability of a clear night; 1 tonight.
    owner : ndarray of int, (needs,), optional
        The project of each need; each its own if absent.
    finish : ndarray, (projects,), optional
        Worth of a project with all needs met, beside that of its hours; 0 if absent.
    """
    owner = np.arange(len(worth.left)) if owner is None else owner
    finish = np.zeros(int(owner.max(initial=-1)) + 1) if finish is None else finish
    part = _parts(len(night))
    useful = up * clear[:, np.newaxis]
    each, hours, window = (_summed(one, part) for one in (useful, useful * rate, windows(useful, owner)))
    mean = np.divide(hours, each, out=np.zeros_like(hours), where=each > 0)
    room = _summed((night * clear[:, np.newaxis])[np.newaxis], part)[0]
    late = np.repeat(np.searchsorted(part, np.arange(part[-1] + 1)), night.shape[1])
    program = _Program(worth, mean.reshape(len(mean), -1), each.reshape(len(each), -1), room.ravel(),
                       window.reshape(len(window), -1), late, owner, finish)
    clock = np.zeros((len(each), room.size))
    clock[program.need, program.at], finished, freed = program.answer()
    given = np.divide(clock.reshape(each.shape), each, out=np.zeros_like(each), where=each > 0)[:, part] * up
    full = given.sum(axis=0)  # of nights dealt out together one may have got more than it holds
    given *= np.divide(night, full, out=np.ones_like(night), where=full > night)
    return SeasonPlan(clock_in_watch=given, expected=(given * rate).sum(axis=2) * clear, finished=finished,
                      freed=freed)


def windows(up: np.ndarray, owner: np.ndarray) -> np.ndarray:
    """Return the hours that all needs of an owner share: those of the one that is up longest, (owners, …)."""
    shared = np.zeros((int(owner.max(initial=-1)) + 1, *up.shape[1:]))
    np.maximum.at(shared, owner, up)
    return shared


def _parts(nights: int) -> np.ndarray:
    """Return the number of the part that each night belongs to, (nights,)."""
    at = np.arange(nights)
    return np.where(at < SINGLE, at, SINGLE + (at - SINGLE) // TOGETHER)


def _summed(values: np.ndarray, part: np.ndarray) -> np.ndarray:
    return np.add.reduceat(values, np.searchsorted(part, np.arange(part[-1] + 1)), axis=1)


class _Program:
    """The program: columns are hours of needs in parts, what later ones bring, pieces of worth, projects finished.

    Rows are the clock of each part, where a project's needs could have more than its window the hours in that, what
    later hours bring each need, what it gains, and what it must be sure of in a finished project.
    """

    def __init__(self, worth: Worth, rate: np.ndarray, up: np.ndarray, night: np.ndarray, window: np.ndarray,
                 late: np.ndarray, owner: np.ndarray, finish: np.ndarray) -> None:
        self.need, self.at = np.nonzero((up > 0) & (rate > 0) & (worth.left > 0)[:, np.newaxis])
        self.left = np.flatnonzero(worth.left > 0)
        slope, length = chords(worth)
        self.hours, self.needs = len(self.need), len(worth.left)
        sums = np.zeros_like(window)
        np.add.at(sums, (owner[self.need], self.at), up[self.need, self.at])
        narrow = (sums > (1 + SLACK) * window) & (window < (1 - SLACK) * night)
        self.shared = np.where(narrow, np.cumsum(narrow).reshape(narrow.shape) - 1, -1)[owner[self.need], self.at]
        self.most_at_once = np.concatenate([night, window[narrow]])  # (clocks and windows,)
        self.first = self.hours + self.needs + slope.size  # column of a project
        self.rows = self._rows(worth, rate, late, owner, len(finish))
        self.limit = np.concatenate([self.most_at_once, np.zeros(self.rows.shape[0] - self.most_at_once.size)])
        self.most = np.concatenate([up[self.need, self.at], np.full(self.needs, np.inf), length.ravel(),
                                    (finish > 0).astype(float)])
        best = slope[-1] * rate.max(axis=1, initial=0.0)
        least = float(best[best > 0].min()) if (best > 0).any() else 0.0
        cost = least * np.where(late > 0, LATER * (1 + SOONER * late), 0.0)
        self.cost = np.concatenate([cost[self.at], np.zeros(self.needs), -slope.ravel(), -finish])

    def _rows(self, worth: Worth, rate: np.ndarray, late: np.ndarray, owner: np.ndarray, projects: int) -> Any:
        from scipy import sparse

        def ones(row: np.ndarray, column: np.ndarray, shape: tuple[int, int], value: Any = 1.0) -> Any:
            return sparse.csr_array((np.broadcast_to(value, row.shape), (row, column)), shape=shape)

        needs, left, hour, pieces = self.needs, self.left, np.arange(self.hours), np.arange(self.needs * CHORDS)
        each, brought = sparse.eye_array(needs, format="csr"), rate[self.need, self.at]
        tonight, later = (ones(self.need[some], hour[some], (needs, self.hours), brought[some])
                          for some in (late[self.at] == 0, late[self.at] > 0))
        windowed = np.flatnonzero(self.shared >= 0)
        clocks = late.size
        at = np.concatenate([self.at, clocks + self.shared[windowed]])
        return sparse.bmat([
            [ones(at, np.concatenate([hour, windowed]), (self.most_at_once.size, self.hours)), None, None, None],
            [-later, each, None, None],
            [-tonight, -each, ones(pieces % needs, pieces, (needs, len(pieces))), None],
            [-tonight[left], -SURE * each[left], None,
             ones(np.arange(len(left)), owner[left], (len(left), projects), worth.left[left])],
        ], format="csr")

    def solved(self, finished: np.ndarray | None = None) -> Any:
        """Return the program's answer, with the projects to finish chosen, or shares of them free."""
        from scipy.optimize import linprog

        low, high = np.zeros_like(self.most), self.most.copy()
        if finished is not None:
            low[self.first:] = high[self.first:] = finished
        return linprog(self.cost, A_ub=self.rows, b_ub=self.limit, bounds=np.stack([low, high], axis=1),
                       method="highs-ipm" if self.hours > SMALL else "highs-ds")

    def _chosen(self, share: np.ndarray) -> Any:
        """Return the best answer found with whole projects finished, from their shares in the relaxed program."""
        order, half = np.argsort(-share, kind="stable"), np.zeros(len(share), bool)
        half[order[:int(np.ceil(share[share >= UNLIKELY].sum()))]] = True  # as many as the shares make whole ones
        likely = share > LIKELY
        first = [likely] if np.array_equal(likely, half) else [likely, half]
        for choices in (first, [share >= CERTAIN], [np.zeros_like(half)]):  # the last can always be had
            tries = [one for one in map(self.solved, choices) if one.status == 0]
            if tries:
                break
        return min(tries, key=lambda one: float(one.fun))

    def answer(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return the hours of `need` in part `at`, which projects get finished, and the worth of an hour more."""
        found = self.solved()
        share = found.x[self.first:]
        if np.any((share > 0) & (share < CERTAIN)):
            found = self._chosen(share)
        _, freed, sure = np.split(-found.ineqlin.marginals, self.most_at_once.size + self.needs * np.arange(1, 3))
        freed[self.left] += sure
        return np.maximum(found.x[:self.hours], 0), found.x[self.first:] >= CERTAIN, freed


def chords(worth: Worth) -> tuple[np.ndarray, np.ndarray]:
    """Return slopes and lengths of the chords of each need's worth, steep ones first, (chords, needs)."""
    first, last = np.sqrt(worth.done), np.sqrt(worth.done + worth.left)
    root = first + np.linspace(0, 1, CHORDS + 1)[:, np.newaxis] * (last - first)
    length = np.diff(root**2, axis=0)
    rise = worth.weight / np.sqrt(worth.wanted) * np.diff(root, axis=0)
    slope = np.divide(rise, length, out=np.zeros_like(rise), where=length > 0)
    return slope if worth.hourly is None else slope + worth.hourly * (length > 0), length
