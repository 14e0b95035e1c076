"""`planner match --projects`: the best set-up for each project and for all of them, and what to buy for the list."""

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from planner.cli.night.season import DEMO_PROJECTS
from planner.cli.output import console, note, print_json, print_table

if TYPE_CHECKING:
    from planner.rig import Equipment, Rig, Site


def match_projects(gear: "Equipment", rig: "Rig", site: "Site", *, project: Path | None, targets: Path | None,
                   buy: bool, json: bool, as_good: float, date: datetime.date) -> None:
    """Print the list with its set-ups, and the candidates to buy."""
    from planner.fields import document
    from planner.files.projects import load_projects
    from planner.files.projects.wanted import wishes_of
    from planner.files.targets.stars import stars_around
    from planner.session.campaign.campaign import CLEAR
    from planner.session.match.answer import ListAnswer
    from planner.session.match.purchase import worth_buying, year_hours
    from planner.session.match.wishes import serve
    from planner.session.match.wishes_text import (
        BUY_COLUMNS,
        COLUMNS,
        buy_text,
        list_headline,
        list_rows,
        list_text,
        saving_row,
    )

    file = load_projects(project)
    if file.is_demo:
        note(DEMO_PROJECTS)
    served = serve(gear, rig, site, wishes_of(file, rig, targets=targets), stars_around=stars_around, as_good=as_good)
    savings = worth_buying(gear, rig, site, served, stars_around=stars_around) if buy else ()
    year = year_hours(served, rig, site, date, clear=CLEAR) if buy else None
    if json:
        print_json(document(ListAnswer(served, savings, year)), "projects")
        return
    out = console()
    out.print(list_headline(served), style="bold", markup=False)
    out.print(list_text(served, rig), style="dim", markup=False)
    print_table("Projects, in equivalent hours", COLUMNS, list_rows(served), right=("this rig", "takes"))
    if year is not None:
        print_table("What to buy", BUY_COLUMNS, [saving_row(one, year) for one in savings], right=BUY_COLUMNS[2:])
        out.print(buy_text(served, year, CLEAR), style="dim", markup=False)
