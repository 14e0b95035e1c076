"""A project: how much time a target is to get in each filter, and what it has had."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated

from astropy import units as u

from planner.checks import Model, plain, quantity
from planner.errors import InvalidInputError
from planner.fields import Spread, rows
from planner.session.projects.request import COMPLETION

PANEL = "{} panel {}"


@dataclass(frozen=True, kw_only=True)
class DoneNight(Model):
    """What one night brought for one target in one filter: open-shutter time of kept frames, and what that counts for.

    An equivalent hour is that of `planner.session.night.slots.slot_worth`: under the Moon or low in the sky a frame
    counts less.
    """

    night: datetime.date = plain("other", meaning="the evening's local date")
    filter: str = plain("text", remedy="Name the filter.")
    time: u.Quantity[u.h] = quantity("h", more_than=0, at_most=24, meaning="open shutter, kept frames",
                                     remedy="Give the hours of that night, at most 24.")
    subs: int | None = plain("whole", default=None, optional=True, more_than=0, at_most=100000,
                             remedy="Count the kept frames.")
    sub_exposure: u.Quantity[u.s] | None = quantity("s", default=None, more_than=0, at_most=7200,
                                                    remedy="Give the length of one frame.")
    counted: u.Quantity[u.h] | None = quantity("h", default=None, at_least=0, at_most=24,
                                               meaning="equivalent hours; the open-shutter time if not known",
                                               remedy="Give the equivalent hours of that night, at most 24.")
    panel: int | None = plain("whole", default=None, optional=True, at_least=1, at_most=100,
                              meaning="of a mosaic, counted from 1; all of them alike if not given",
                              remedy="Give the number of the panel.")
    id: str | None = plain("text", default=None, meaning="of the record: one with the same id takes its place",
                           remedy="Give a word of your own.")

    def __post_init__(self) -> None:
        super().__post_init__()
        if not isinstance(self.night, datetime.date) or isinstance(self.night, datetime.datetime):
            raise InvalidInputError("night", self.night, "must be a date", "Write it like 2026-11-25.")


@dataclass(frozen=True, kw_only=True)
class Project(Model):
    """One target with its wanted hours and its nights so far."""

    target: str = plain("text", meaning="its name", remedy="Name the target as the catalogue or your target list does.")
    priority: float = plain("number", default=1.0, more_than=0, at_most=1000,
                            meaning="worth of this target's hours beside others",
                            remedy="Give 1, or 2 for twice the worth.")
    completion: float = plain("number", default=COMPLETION, at_least=0, at_most=1000,
                              meaning="worth of having all of it, beside all of its hours",
                              remedy=f"Give {COMPLETION:g}, or 0 if parts of it will do.")
    wanted: Mapping[str, u.Quantity[u.h]] = field(default_factory=dict)  # equivalent hours by filter, in file order
    done: tuple[DoneNight, ...] = ()
    # hours wanted are those of each panel; how many there are hangs on the rig's field
    mosaic: bool = plain("truth", default=False, remedy="Write true, or leave it out.")

    @property
    def filters(self) -> tuple[str, ...]:
        """Every filter that is wanted or has been used."""
        return tuple(dict.fromkeys([*self.wanted, *(night.filter for night in self.done)]))

    def done_time(self, band: str) -> u.Quantity[u.h]:
        """Return the open-shutter time of all nights in one filter."""
        return sum((night.time.to_value(u.h) for night in self.done if _same(night.filter, band)), 0.0) * u.h

    def counted_time(self, band: str) -> u.Quantity[u.h]:
        """Return the equivalent hours of all nights in one filter; where none are recorded, the open-shutter time."""
        return sum(((night.time if night.counted is None else night.counted).to_value(u.h) for night in self.done
                    if _same(night.filter, band)), 0.0) * u.h

    def by_panel(self, panels: int) -> tuple["Project", ...]:
        """Return a mosaic as a project for each panel: its own nights, and its share of those that name none."""
        if not self.mosaic or panels < 2:
            return (self,)
        done = [night if night.panel is not None else replace(
            night, time=night.time / panels, counted=None if night.counted is None else night.counted / panels,
            subs=None, sub_exposure=None) for night in self.done]
        return tuple(replace(self, target=PANEL.format(self.target, panel),
                             done=tuple(night for night in done if night.panel in (None, panel)))
                     for panel in range(1, panels + 1))

    def wanted_time(self, band: str) -> u.Quantity[u.h]:
        """Return the equivalent hours wanted in one filter."""
        return sum((time.to_value(u.h) for name, time in self.wanted.items() if _same(name, band)), 0.0) * u.h

    def left(self, band: str) -> u.Quantity[u.h]:
        """Return the equivalent hours still to do in one filter, never below zero."""
        return max(self.wanted_time(band).value - self.counted_time(band).value, 0.0) * u.h


def _same(one: str, other: str) -> bool:
    return one.strip().lower() == other.strip().lower()


@dataclass(frozen=True)
class ProjectSoFar:
    """How far a project is."""

    project: Annotated[Project, Spread(only="target priority")]
    filters = rows("hours by filter", lambda so_far: [
        (band, so_far.project.wanted_time(band), so_far.project.done_time(band), so_far.project.counted_time(band),
         so_far.project.left(band)) for band in so_far.project.filters], filter=(str, "its name"),
        wanted=(u.h, "equivalent hours"), done=(u.h, "open shutter, kept frames"),
        counted=(u.h, "what they count for, in equivalent hours"), left=(u.h, "equivalent hours"))
    done = rows("night by night", lambda so_far: [
        (one.night, one.filter, one.time, one.counted, one.subs, one.id, one.sub_exposure)
        for one in so_far.project.done],
        night=(datetime.date, "its evening"), filter=(str, "its name"), time=(u.h, "open shutter, kept frames"),
        counted=(u.h, "what it counts for, in equivalent hours"), subs=(int | None, "kept frames"),
        id=(str | None, "of the record"), sub_exposure=(u.s, "of one frame"))


@dataclass(frozen=True, kw_only=True)
class DoneAnswer:
    """How far the projects of a file are."""

    project_file: Annotated[str, "its name"]
    is_demo: Annotated[bool, "whether it is the packaged one"]
    projects: Annotated[tuple[ProjectSoFar, ...], "mosaics panel by panel"]
