"""What `planner night` writes besides its answer: calendar, printable sheet, table; and wishes of a project file."""

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.output import note
from planner.errors import InvalidInputError

if TYPE_CHECKING:
    from planner.rig import Rig
    from planner.session.night_plan import NightPlan
    from planner.session.request import Request

CalendarOption = Annotated[Path | None, typer.Option("--ics", metavar="FILE", help="Write the plan for a calendar.")]
SheetOption = Annotated[Path | None, typer.Option("--sheet", metavar="FILE", help="Write one printable page (HTML).")]
TableOption = Annotated[Path | None, typer.Option("--csv", metavar="FILE",
                                                  help="Write the blocks as CSV, or ECSV for a name in .ecsv.")]
ForceOption = Annotated[bool, typer.Option("--force", help="Replace files that are there already.")]


def refuse_existing(calendar: Path | None, sheet: Path | None, table: Path | None, force: bool) -> None:
    """Refuse outputs that are there already or are the same file, before anything is computed or written."""
    named = {"--ics": calendar, "--sheet": sheet, "--csv": table}
    given = {option: path.expanduser() for option, path in named.items() if path is not None}
    for option, path in given.items():
        if path.exists() and not force:
            raise InvalidInputError(option, path, "is there already", "Give another name, or --force to replace it.")
    if len({path.resolve() for path in given.values()}) < len(given):
        raise InvalidInputError(" ".join(given), next(iter(given.values())), "must be different files",
                                "Give each output a name of its own.")


def write_outputs(plan: "NightPlan", calendar: Path | None, sheet: Path | None, table: Path | None, force: bool
                  ) -> None:
    """Write the files asked for and say so on stderr."""
    if calendar is not None:
        from planner.files.calendar import write_night_calendar

        now = datetime.datetime.now(datetime.UTC)
        note(f"Calendar in {write_night_calendar(calendar, plan, now=now, force=force)}")
    if sheet is not None:
        from planner.files.reports import write_night_sheet

        note(f"Night sheet in {write_night_sheet(sheet, plan, force=force)}")
    if table is not None:
        from planner.files.plan_table import write_plan_table

        note(f"Table in {write_plan_table(table, plan, force=force)}")


def project_requests(path: Path, rig: "Rig", targets: Path | None) -> "list[Request]":
    """Return what is wanted tonight of every project of a file; those without a filter of this rig are noted."""
    from planner.files.projects import load_projects
    from planner.files.targets import find_target
    from planner.session.project_request import project_request

    requests = []
    for project in load_projects(path).projects:
        request = project_request(project, find_target(project.target, targets=targets), rig)
        if request is None:
            note(f'{project.target} wants no filter of the rig "{rig.name}": left out.')
        else:
            requests.append(request)
    if not requests:
        raise InvalidInputError("--project", path, f'holds no target for the rig "{rig.name}"',
                                "Name targets, or add a wanted filter of this rig.")
    return requests
