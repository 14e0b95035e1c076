"""A campaign as commands and pages tell it: what becomes of each project, tonight, and the calendar."""

import datetime
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.exposure.reasons import percent
from planner.fields import Key, Spread, rows, told
from planner.session.campaign.campaign import Campaign
from planner.session.campaign.outlook import (
    HOPELESS,
    HOURS,
    CampaignNight,
    advice,
    by_filter,
    calendar,
    hours_of,
    spare_hours,
    unfinished,
)
from planner.session.night.model import NightPlan
from planner.session.projects.project_requests import mosaic_of

COLUMNS = ("project", "finished", "even odds by", "hours: done + expected of wanted")


@dataclass(frozen=True, kw_only=True)
class ProjectOutlook:
    """What becomes of one project."""

    name: Annotated[str, "of the project"]
    priority: Annotated[float, "of all its panels together"]
    odds: Annotated[float, "share of seasons that finish it", Key("finish_probability")]
    finished: Annotated[datetime.date | None, "night by which half of the seasons finish it; null if fewer do",
                        Key("finish_night_median")]
    hours: tuple[tuple[str, float, float, float], ...]  # by filter: its name, wanted, done, done and expected
    needs = rows("by filter", lambda outlook: outlook.hours, filter=(str, "its name"), wanted_hours=(float, "in all"),
                 done_hours=(float, "that are there"), expected_hours=(float, "done, and expected of the season"))


@dataclass(frozen=True)
class CampaignAnswer:
    """The campaign with the plan of its first night."""

    found: Annotated[Campaign, Spread()]
    plan: NightPlan
    projects = told(tuple[ProjectOutlook, ...], "what becomes of each", lambda answer: project_outlooks(answer.found))
    tonight = rows("what the first night is for", lambda answer: hours_of(answer.plan), **HOURS)
    unfinished = rows("projects that fewer than half of the seasons finish", lambda answer: unfinished(answer.found),
                      name=(str, "of the project"), finish_probability=(float, "share of seasons that finish it"),
                      expected_to_lack_hours=(dict[str, float], "by filter"))
    spare_hours = told(float, "of clear dark that stay free", lambda answer: spare_hours(answer.found))
    advice = told(tuple[str, ...], "what to drop or to add", lambda answer: advice(answer.found))
    calendar = told(tuple[CampaignNight, ...], "the first night as planned, others as expected if clear",
                    lambda answer: calendar(answer.found, answer.plan))


def project_outlooks(found: Campaign) -> list[ProjectOutlook]:
    """Return what becomes of each project."""
    return [_outlook(found, number) for number in range(len(found.projects))]


def _outlook(found: Campaign, project: int) -> ProjectOutlook:
    rows, name = found.rows(project), found.projects[project]
    done = np.array([need.done.to_value(u.h) for _, need in found.needs])
    wanted, had, expected = (by_filter(found, rows, hours) for hours in (
        found.worth.wanted, done, found.worth.done + found.outcome.expected))
    return ProjectOutlook(
        name=name, odds=found.outcome.finished(rows), finished=found.finish_night(project),
        priority=sum(request.priority for request in found.requests
                     if name in (request.target.name, mosaic_of(request.target))),
        hours=tuple((band, wanted[band], had[band], expected[band]) for band in wanted))


def project_rows(found: Campaign) -> list[tuple[str, ...]]:
    """Return a row for each project, as in COLUMNS."""
    rows: list[tuple[str, ...]] = []
    for one in project_outlooks(found):
        needs = ", ".join(f"{band} {expected:.1f} of {wanted:.3g}" for band, wanted, _, expected in one.hours)
        late = "never here" if one.name in found.never else (
            "not this season" if one.odds < HOPELESS else "less than even")
        night = late if one.finished is None else one.finished.isoformat()
        rows.append((one.name, percent(one.odds), night, needs))
    return rows
