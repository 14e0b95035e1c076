"""A campaign as plain numbers, texts and lists: what `--json` prints; and its rows."""

from typing import Any

import numpy as np
from astropy import units as u

from planner.exposure.reasons import percent
from planner.session.campaign.ahead import ahead_rows
from planner.session.campaign.campaign import SEASONS, Campaign
from planner.session.campaign.outlook import HOPELESS, advice, by_filter, calendar, hours_of, spare_hours, unfinished
from planner.session.night.model import NightPlan
from planner.session.projects.project_requests import mosaic_of

COLUMNS = ("project", "finished", "even odds by", "hours: done + expected of wanted")


def campaign_document(found: Campaign, plan: NightPlan) -> dict[str, Any]:
    """Return the campaign with the plan of its first night; keys end in their unit, a night is its evening's date."""
    return {
        "first_night": found.dates[0].isoformat(), "last_night": found.dates[-1].isoformat(),
        "rig": found.rig.name, "site": found.site.name, "clear_probability": found.clear, "simulated_seasons": SEASONS,
        "projects": [_project(found, row) for row in range(len(found.projects))],
        "tonight": [{"target": target, "filter": band, "hours": hours} for target, band, hours in hours_of(plan)],
        "unfinished": [{"name": name, "finish_probability": odds, "expected_to_lack_hours": lacks}
                       for name, odds, lacks in unfinished(found)],
        "spare_hours": spare_hours(found), "advice": advice(found),
        "calendar": [{"night": night.date.isoformat(), "dark_hours": night.dark_hours, "moon_illumination": night.moon,
                      "hours": [{"target": target, "filter": band, "hours": hours}
                                for target, band, hours in night.hours]} for night in calendar(found, plan)],
    }


def season_document(found: Campaign, plan: NightPlan) -> dict[str, Any]:
    """Return what a night's plan takes of the season, and what it leaves to later nights."""
    return {
        "first_night": found.dates[0].isoformat(), "last_night": found.dates[-1].isoformat(),
        "clear_probability": found.clear,
        "needs": [{"target": row.target, "filter": row.band, "tonight_equivalent_hours": row.tonight,
                   "later_equivalent_hours": row.later, "wanted_equivalent_hours": row.wanted, "reason": row.reason}
                  for row in ahead_rows(found, plan)],
    }


def _project(found: Campaign, project: int) -> dict[str, Any]:
    rows, name = found.rows(project), found.projects[project]
    finish = found.finish_night(project)
    done = np.array([need.done.to_value(u.h) for _, need in found.needs])
    wanted, had, expected = (by_filter(found, rows, hours) for hours in (
        found.worth.wanted, done, found.worth.done + found.outcome.expected))
    return {
        "name": name, "priority": sum(request.priority for request in found.requests
                                      if name in (request.target.name, mosaic_of(request.target))),
        "finish_probability": found.outcome.finished(rows),
        "finish_night_median": None if finish is None else finish.isoformat(),
        "needs": [{"filter": band, "wanted_hours": wanted[band], "done_hours": had[band],
                   "expected_hours": expected[band]} for band in wanted],
    }


def project_rows(found: Campaign) -> list[tuple[str, ...]]:
    """Return a row for each project, as in COLUMNS."""
    rows: list[tuple[str, ...]] = []
    for item in (_project(found, row) for row in range(len(found.projects))):
        needs = ", ".join(f"{need['filter']} {need['expected_hours']:.1f} of {need['wanted_hours']:.3g}"
                          for need in item["needs"])
        odds = item["finish_probability"]
        late = "never here" if item["name"] in found.never else (
            "not this season" if odds < HOPELESS else "less than even")
        rows.append((item["name"], percent(odds), item["finish_night_median"] or late, needs))
    return rows
