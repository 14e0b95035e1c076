"""Periodic terms that belong together: the turn of one wheel and its harmonics."""

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from astropy import units as u

HIGHEST_ORDER = 6
# Errors within which a ratio counts as whole. Two unrelated periods pass by chance with 8 errors of their ratio, 4 % at
# the usual 0.005; a true harmonic is missed once in 16 000. The mark is a hint only: no amplitude depends on it.
WITHIN = 4


@dataclass(frozen=True, kw_only=True)
class MeasuredTerm:
    """One periodic term with its errors (1 sigma)."""

    period: Annotated[u.Quantity[u.s], "of the term"]
    period_error: Annotated[u.Quantity[u.s], "of the period"]
    amplitude: Annotated[u.Quantity[u.arcsec], "zero to peak, on the sky where the log was taken"]
    amplitude_error: Annotated[u.Quantity[u.arcsec], "of the amplitude"]
    phase: Annotated[u.Quantity[u.deg], "of the sine at the first row used"]
    false_alarm: Annotated[float, "probability that noise alone shows so strong a term"]
    base_period: Annotated[u.Quantity[u.s] | None, "of the common base, if it is a harmonic or a base"] = None
    order: Annotated[int | None, "of the harmonic, 1 for the base itself"] = None


def with_bases(terms: list[MeasuredTerm]) -> tuple[MeasuredTerm, ...]:
    """Return the terms with those marked that are a base and its harmonics: periods P, P/2, P/3 … within 4 errors."""
    marked = list(terms)
    for base in sorted(range(len(terms)), key=lambda index: -terms[index].period.value):
        if marked[base].order is not None:
            continue
        for other in range(len(terms)):
            order = _order(terms[base], terms[other])
            if order and marked[other].order is None:
                marked[base] = replace(marked[base], base_period=terms[base].period, order=1)
                marked[other] = replace(marked[other], base_period=terms[base].period, order=order)
    return tuple(marked)


def _order(base: MeasuredTerm, other: MeasuredTerm) -> int | None:
    """Return how many of the other's periods fit the base's, if that is a whole number within its error."""
    ratio = float(base.period / other.period)
    error = ratio * np.hypot(float(base.period_error / base.period), float(other.period_error / other.period))
    order = round(ratio)
    # An error above a tenth would let any ratio pass for a whole number.
    if 2 <= order <= HIGHEST_ORDER and abs(ratio - order) < WITHIN * error < 0.3:
        return order
    return None
