"""Whether the sides of the pier that came with the sightings are the right ones: the model fits far better on those."""

from collections.abc import Callable

import numpy as np
from scipy.special import fdtri

from planner.measure.drift.doubts import Doubt

FAR_BETTER = 2.0  # times nearer: what a model that lacks a term can gain from wrong sides stays below
CHANCE = 1e-4  # that right sides fit so much worse


def side_doubts(given: np.ndarray, looks_east: np.ndarray, left: Callable[[np.ndarray], tuple[float, int]]
                ) -> tuple[Doubt, ...]:
    """Doubt the sides given (n,), west true, if those of a mount that flips at the meridian, or never, fit far better.

    `looks_east` (n,): where the telescope looked. `left`: of sides (n,) the variance that a fit leaves, arcsec², and
    its degrees of freedom. Two fits are compared as if of two sets of sightings, which is the safe side.
    """
    usual = {"west of the pier while it looks east, else east of it": looks_east,
             "on one side of the pier throughout": np.zeros_like(given)}
    others = [(*left(west), words) for words, west in usual.items()
              if not (np.array_equal(west, given) or np.array_equal(west, ~given))]  # as good with all exchanged
    if not others:
        return ()
    (before, spare), (best, other_spare, words) = left(given), min(others)
    spare = min(spare, other_spare)
    if spare < 1 or before < best * max(FAR_BETTER**2, float(fdtri(spare, spare, 1 - CHANCE))):
        return ()
    return (Doubt(kind="pier side", seen="sides of the pier",
                  rule=f"{before**0.5:.3g}″ are left as given, {best**0.5:.3g}″ with the telescope {words}; those "
                       "given are wrong, and the angles with them",
                  remedy="Correct the sides: where the telescope is, not where it looks."),)
