"""The season as a linear program: how many hours each need gets in tonight and in the nights that are left.

Tonight is certain, a later night is clear with some probability. A need gains, in a night, at most what its hours above
the limits bring; a night's clock is shared by all. The worth of what is gained is concave, in chords, so that no whole
numbers are needed. Tonight follows the program's own answer for tonight; prices alone would give all to one need.
"""

from dataclasses import dataclass

import numpy as np

from planner.session.optimum.problem import Worth

CHORDS = 6  # of each need's worth
SOONER = 0.995  # an hour counts for so much a night later: of near equals the earlier is taken
MANY = 1e4  # columns: interior point is the faster from about here


@dataclass(frozen=True, kw_only=True)
class SeasonPlan:
    """Hours on the clock by need and night, (needs, nights), and the equivalent hours expected of them."""

    clock: np.ndarray
    expected: np.ndarray

    @property
    def to_come(self) -> np.ndarray:
        """Equivalent hours expected of each need after tonight, (needs,)."""
        return self.expected[:, 1:].sum(axis=1)


def season_plan(worth: Worth, rate: np.ndarray, up: np.ndarray, night: np.ndarray, clear: np.ndarray) -> SeasonPlan:
    """Return the hours that are worth most.

    Parameters
    ----------
    worth : Worth
    rate : ndarray, (needs, nights)
        Equivalent hours per hour of the clock.
    up : ndarray, (needs, nights)
        Hours above the limits in the dark.
    night : ndarray, (nights,)
        Hours of the night that can be used.
    clear : ndarray, (nights,)
        Probability of a clear night; 1 tonight.
    """
    from scipy import sparse
    from scipy.optimize import linprog

    need, at = np.nonzero((up > 0) & (rate > 0) & (worth.left > 0)[:, np.newaxis])
    slope, length = chords(worth)
    count, needs = len(need), len(worth.left)
    brought = (rate * clear * SOONER ** np.arange(len(night)))[need, at]
    segments = np.tile(np.arange(needs), CHORDS)
    columns = np.arange(count)
    rows = sparse.vstack([
        sparse.hstack([sparse.csr_array((np.ones(count), (at, columns)), shape=(len(night), count)),
                       sparse.csr_array((len(night), len(segments)))]),
        sparse.hstack([sparse.csr_array((-brought, (need, columns)), shape=(needs, count)),
                       sparse.csr_array((np.ones(len(segments)), (segments, np.arange(len(segments)))),
                                        shape=(needs, len(segments)))])]).tocsr()
    most = np.concatenate([up[need, at], length.ravel()])
    found = linprog(np.concatenate([np.zeros(count), -slope.ravel()]), A_ub=rows,
                    b_ub=np.concatenate([night, np.zeros(needs)]), bounds=np.stack([np.zeros_like(most), most], axis=1),
                    method="highs-ipm" if count > MANY else "highs-ds")
    clock = np.zeros(up.shape)
    clock[need, at] = np.maximum(found.x[:count], 0)
    return SeasonPlan(clock=clock, expected=clock * rate * clear)


def chords(worth: Worth) -> tuple[np.ndarray, np.ndarray]:
    """Return slopes and lengths of the chords of each need's worth, steep ones first, (chords, needs)."""
    first, last = np.sqrt(worth.done), np.sqrt(worth.done + worth.left)
    root = first + np.linspace(0, 1, CHORDS + 1)[:, np.newaxis] * (last - first)
    length = np.diff(root**2, axis=0)
    rise = worth.weight / np.sqrt(worth.wanted) * np.diff(root, axis=0)
    return np.divide(rise, length, out=np.zeros_like(rise), where=length > 0), length
