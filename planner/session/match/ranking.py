"""Which combination is best: the figures to rank on, the order, and which choices another one dominates."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from astropy import units as u

from planner.session.match.combination import Combination


class Ranking(NamedTuple):
    """A figure to rank on: its meaning and unit with a target and without, how it is had, and which end is best."""

    meaning: str
    meaning_without_target: str
    unit: str
    unit_without_target: str
    figure: Callable[[Combination, bool], float]
    most_first: bool = False

    def order(self, combination: Combination, has_target: bool) -> float:
        """Return the figure, or its negative where most is best: what sorts the best first."""
        figure = self.figure(combination, has_target)
        return -figure if self.most_first else figure


def whole_target(one_field: u.Quantity[u.h], combination: Combination, has_target: bool) -> float:
    """Return the time for the whole target [h], all panels; without a target that for one square degree [h/deg2]."""
    hours = float(one_field.to_value(u.h))
    if has_target:
        return hours * combination.framing.panels
    return hours / float(combination.field_area.to_value(u.deg**2))


def _in_one_frame(combination: Combination, has_target: bool) -> float:
    return combination.framing.share if has_target else float(combination.field_area.to_value(u.deg**2))


RANKINGS: Mapping[str, Ranking] = {
    "detail": Ranking("hours for fine detail over the whole target", "hours for fine detail per square degree",
                      "h", "h_per_deg2", lambda c, has_target: whole_target(c.detail_time, c, has_target)),
    "surface": Ranking("hours for the faint surface over the whole target",
                       "hours for the faint surface per square degree",
                       "h", "h_per_deg2", lambda c, has_target: whole_target(c.surface_time, c, has_target)),
    "sharpness": Ranking("the width of a star as recorded", "the width of a star as recorded", "arcsec", "arcsec",
                         lambda c, has_target: float(c.fwhm.to_value(u.arcsec))),
    "field": Ranking("the share of the target in one frame", "the sky in one frame", "fraction", "deg2",
                     _in_one_frame, most_first=True),
}


def ranked(weighed: Sequence[Combination], ranking: str, *, has_target: bool) -> tuple[Combination, ...]:
    """Return the choices best first, with their ranks and who dominates them.

    A choice is outclassed by another that is nowhere worse and somewhere better in: width of the star, hours for the
    surface, hours for detail, panels (without a target: size of the field), and share of the target in one frame.
    """
    order = sorted(weighed, key=lambda c: (RANKINGS[ranking].order(c, has_target),
                                           RANKINGS["detail"].order(c, has_target), figures_to_beat(c, has_target)))
    table = np.array([figures_to_beat(c, has_target) for c in order])
    return tuple(replace(choice, rank=place + 1, outclassed_by=_first_that_outclasses(table, place))
                 for place, choice in enumerate(order))


def _first_that_outclasses(table: np.ndarray, place: int) -> int | None:
    """Return the rank of the first row that is nowhere more and somewhere less than the row at a place."""
    own = table[place]
    beats = np.flatnonzero((table <= own).all(axis=1) & (table < own).any(axis=1))
    return int(beats[0]) + 1 if beats.size else None


def figures_to_beat(combination: Combination, has_target: bool) -> tuple[float, ...]:
    """Return the figures on which one choice may dominate another, each better when less."""
    framed = combination.framing
    size = (framed.panels, -framed.share) if has_target else (-float(combination.field_area.to_value(u.deg**2)), 0.0)
    return (float(combination.fwhm.to_value(u.arcsec)), float(combination.surface_time.to_value(u.h)),
            float(combination.detail_time.to_value(u.h)), *size)
