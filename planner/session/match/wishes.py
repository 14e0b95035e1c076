"""Set-ups over a whole list of projects: the best for each target, and the best single one for all of them.

A project's hours are counted on the rig that it was written for. Another set-up takes them in proportion to the times
that both need for the figure that counts for the target, around transit and without Moon: a list is for the year.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.cores import over_cores
from planner.errors import InvalidInputError
from planner.fields import Key, told
from planner.fields import rows as tables
from planner.rig import Equipment, Filter, Rig, Site
from planner.session.match.combinations import StarsAround, weigh_combinations
from planner.session.match.set_ups import AS_GOOD, SetUp, order_figure, set_ups
from planner.visibility.target import Target


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What is left to do of a project, told for the filter that has most of it."""

    target: Target
    band: Filter
    hours: u.Quantity[u.h]  # of all filters, on the observer's rig


@dataclass(frozen=True, kw_only=True)
class Served:
    """One wish with every set-up that works."""

    wish: Wish
    rows: tuple[SetUp, ...]  # best first; those too heavy behind; empty where the target never stands high enough
    figures: dict[str, float]  # h, by set-up
    own: float  # h, of the observer's rig; of the fastest set-up where the rig never gets there
    reached: Annotated[bool, "whether the observer's rig gets there", Key("rig_reaches")]
    target = told(str, "its name", lambda one: one.wish.target.name)
    band = told(str, "the one that has most of it left", lambda one: one.wish.band.name, key="filter")
    left = told(u.h, "equivalent hours still to do, of all filters, on the observer's rig", lambda one: one.wish.hours)
    best = told(str | None, "the best set-up; null where none can do it", lambda one:
                one.light[0] if one.light else None, key="set_up")
    best_hours = told(float, "equivalent hours that it takes; null where none can do it", lambda one:
                      one.hours(one.light[:1]), key="set_up_h")
    set_ups = tables("best first; none where the target never stands high enough", lambda one: [
        (row.name, one.hours([row.name]), row.reason) for row in one.rows], set_up=(str, "what it is made of"),
        takes=(float, "equivalent hours; null for never", Key("takes_h")),
        reason=(str, "why it stands behind others; empty where it does not"))

    def hours(self, names: Sequence[str]) -> float:
        """Return the hours of the wish with the fastest of some set-ups; infinite for none."""
        return self.times(min((self.figures.get(name, np.inf) for name in names), default=np.inf))

    def times(self, figure: float) -> float:
        """Return the hours of the wish for a time of the figure that counts."""
        return float(self.wish.hours.value) * figure / self.own if np.isfinite(figure) else np.inf

    @property
    def light(self) -> list[str]:
        """The set-ups that work and are not too heavy, best first."""
        return [row.name for row in self.rows if row.works and not row.reason]


def serve(equipment: Equipment, rig: Rig, site: Site, wishes: Sequence[Wish], *,
          stars_around: StarsAround | None = None, as_good: float = AS_GOOD) -> tuple[Served, ...]:
    """Return every wish with the set-ups of an observer's equipment.

    `rig`: whose hours the wishes are told in; its mount and guider are used. `stars_around`: as in
    `weigh_combinations`. `as_good`: as in `set_ups`.
    Raises InvalidInputError if there is no wish.
    """
    if not wishes:
        raise InvalidInputError("projects", "none", "must hold hours still to do", "Add some with planner done.")
    return tuple(over_cores(lambda wish: _served(equipment, rig, site, wish, stars_around, as_good), wishes))


def _served(equipment: Equipment, rig: Rig, site: Site, wish: Wish, stars_around: StarsAround | None,
            as_good: float) -> Served:
    asked = weigh_combinations(equipment, rig, site, wish.band, target=wish.target, stars_around=stars_around,
                               binnings=(1,))
    rows = set_ups(asked, as_good=as_good)
    figures = {row.name: order_figure(asked, row) for row in rows if row.works}
    own = [figures.get(row.name, np.inf) for row in rows
           if (row.choice.train.name, row.choice.camera.name) == (rig.telescope.name, rig.camera.name)]
    usual = min([*own, np.inf])
    reached = bool(np.isfinite(usual))
    return Served(wish=wish, rows=rows, figures=figures, reached=reached,
                  own=usual if reached else min([*figures.values(), np.inf]))


def one_for_all(served: Sequence[Served]) -> tuple[str, float]:
    """Return the set-up with which the whole list takes least, and its hours; that serves most of it where none all."""
    seen = [one for one in served if one.light]
    names = sorted({name for one in seen for name in one.light})
    if not names:
        return "", np.inf
    hours = {name: [one.hours([name]) for one in seen] for name in names}
    best = min(names, key=lambda name: (np.count_nonzero(~np.isfinite(hours[name])), _sum(hours[name]), name))
    return best, _sum(hours[best])


def all_hours(served: Sequence[Served]) -> float:
    """Return the hours of the list, each wish with its best set-up; what no set-up can do is left out."""
    return _sum([one.hours(one.light) for one in served])


def _sum(hours: Sequence[float]) -> float:
    return float(sum(value for value in hours if np.isfinite(value)))
