"""A ranking of set-ups, and a list of projects with its set-ups, as commands and pages tell them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from astropy import units as u

from planner.fields import Key, Maybe, Spread, rows, told
from planner.rig import Guider, Mount
from planner.session.match.colour import Shared, are_two_rigs, shared_picture
from planner.session.match.combinations import Combinations
from planner.session.match.goals import two_stars
from planner.session.match.purchase import Saving
from planner.session.match.ranking import RANKINGS
from planner.session.match.set_ups import SetUp
from planner.session.match.text import limits
from planner.session.match.wishes import Served, all_hours, one_for_all
from planner.visibility.target import Target


def _time(name: str, until: str) -> tuple[Any, Any]:
    """Return what tells a time of a set-up: that for the whole target, and that for a square degree without one."""
    def told_as(unit: str, of: str, has_target: bool) -> Any:
        return told(float, f"hours until {until}, {of}; null for never", lambda one: getattr(
            one.row, name).to_value(u.h) if (one.asked.target is not None) is has_target else None, Maybe(),
            key=f"{name}_{unit}")

    return told_as("h", "whole target", True), told_as("h_per_deg2", "a square degree", False)


@dataclass(frozen=True)
class Place:
    """The target."""

    target: Annotated[Target, Spread(only="name ra dec")]
    size = told(tuple[float, ...] | None, "larger and smaller diameter, as far as known", lambda one:
                None if one.target.size_major is None else [
                    axis.to_value(u.arcmin) for axis in (one.target.size_major, one.target.size_minor)
                    if axis is not None], key="size_arcmin")


@dataclass(frozen=True)
class RankedSetUp:
    """A set-up with what the question makes of it."""

    asked: Combinations
    row: Annotated[SetUp, Spread()]
    two_stars = told(u.arcsec, "from which two equal stars show two tops",
                     lambda one: two_stars(one.asked, one.row.choice))
    share = told(float | None, "share of the target in one frame; null without a target", lambda one:
                 one.row.choice.framing.share if one.asked.target is not None else None, key="target_fraction")
    causes = told(tuple[str, ...], "what limits it, in a word or two", lambda one:
                  [limit.cause for limit in limits(one.asked, one.row)], key="limited_by")
    limits = told(tuple[str, ...], "what limits it, in sentences", lambda one:
                  [limit.sentence for limit in limits(one.asked, one.row)])
    surface_time, surface_pace = _time("surface_time", "the goal's area of sky reaches the ratio")
    detail_time, detail_pace = _time("detail_time", "a pattern of the period reaches the ratio")
    star_time, star_pace = _time("star_time", "the star wanted reaches the ratio")


@dataclass(frozen=True)
class MatchAnswer:
    """The question and its set-ups, best first."""

    asked: Annotated[Combinations, Spread()]
    rows: Sequence[SetUp]
    compared: Annotated[Sequence[int], "ranks of the two laid side by side, or none"] = ()
    target = told(Place | None, "null for any field overhead", lambda answer:
                  None if answer.asked.target is None else Place(answer.asked.target))
    seeing = told(u.arcsec, "FWHM at the zenith, 500 nm", lambda answer: answer.asked.site.seeing)
    mount = told(Mount, "its name", lambda answer: answer.asked.rig.mount)
    guider = told(Guider | None, "its name; null without one", lambda answer: answer.asked.rig.guider)
    hour_angle = told(tuple[float, ...] | None, "least and greatest that count; null where none does",
                      lambda answer: None if answer.asked.hours.hour_angle is None else [
                          end(answer.asked.hours.hour_angle).to_value(u.hourangle) for end in (np.min, np.max)],
                      key="hour_angle_h")
    night = told(u.h, "that count in this night; null where those around transit count",
                 lambda answer: answer.asked.hours.length)
    core = told(str | None, "the target's brightest part, with its unit; null: its mean light", lambda answer:
                None if answer.asked.core is None else str(answer.asked.core), key="goal.core")
    ranked_on = told(str, "the figure that counts", lambda answer: RANKINGS[answer.asked.ranking].meaning
                     if answer.asked.target is not None else RANKINGS[answer.asked.ranking].meaning_without_target,
                     key="ranked_on.meaning")
    reason = told(str | None, "why there is no set-up; null where there are some", lambda answer:
                  None if answer.rows else "The target never stands high enough at this site.")
    set_ups = told(tuple[RankedSetUp, ...], "best first",
                   lambda answer: [RankedSetUp(answer.asked, row) for row in answer.rows])
    shared = told(Shared | None, "how those compared share a picture; null where they are not two rigs",
                  lambda answer: answer.shared_by(*(answer.rows[rank - 1] for rank in answer.compared)))

    def shared_by(self, *rigs: SetUp) -> Shared | None:
        """Return how two set-ups share a picture, nothing where they are not two rigs."""
        return shared_picture(self.asked, *rigs) if rigs and are_two_rigs(*rigs) else None


@dataclass(frozen=True)
class ListAnswer:
    """A list of projects with its set-ups, and what to buy for it."""

    projects: Annotated[Sequence[Served], "what is left of each"]
    candidates: Sequence[Saving] = ()
    year: Annotated[float | None, "useful hours that a year's nights offer the list; null without --buy",
                    Key("year_useful_h")] = None
    total = told(float, "equivalent hours of the list, each project with its best set-up",
                 lambda answer: all_hours(answer.projects), key="total_h")
    one_for_all = told(str | None, "set-up with which the list takes least, or that serves most of it; null for none",
                       lambda answer: one_for_all(answer.projects)[0] or None)
    one_for_all_hours = told(float, "equivalent hours that the list takes with it",
                             lambda answer: one_for_all(answer.projects)[1], key="one_for_all_h")
    savings = rows("of one part more, the most first", lambda answer: [
        (one.name, one.hours, one.share, one.share * (answer.year or 0.0), one.opened, one.most, one.reason)
        for one in answer.candidates],
        buy=(str, "the one thing changed"), saved_h=(float, "equivalent hours saved over the list"),
        saved_fraction=(float, "share of the list's hours"),
        saved_in_a_year_h=(float, "useful hours of a year's nights"),
        targets_opened=(int, "projects that nothing owned can do and this can"),
        most_on=(str, "target on which it saves most; empty where it saves nothing"),
        reason=(str, "why it can do none of the list; empty where it can"))
