"""What `planner night` writes besides its answer: calendar, printable sheet, table; and wishes of a project file."""

import datetime
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.output import note, print_table
from planner.errors import InvalidInputError

if TYPE_CHECKING:
    from astropy.units import Quantity

    from planner.files.projects import ProjectFile
    from planner.rig import Rig
    from planner.session.campaign.campaign import Campaign
    from planner.session.night.model import NightPlan
    from planner.session.projects.request import Request
    from planner.visibility.target import Target

CalendarOption = Annotated[Path | None, typer.Option("--ics", metavar="FILE", help="Write the plan for a calendar.")]
SheetOption = Annotated[Path | None, typer.Option("--sheet", metavar="FILE", help="Write one printable page (HTML).")]
TableOption = Annotated[Path | None, typer.Option("--csv", metavar="FILE",
                                                  help="Write the blocks as CSV, or ECSV for a name in .ecsv.")]
HydrogenOption = Annotated[bool, typer.Option("--galaxy-hydrogen",
                                              help="Want the H-alpha of galaxies too, where no project says.")]
StayOption = Annotated[str, typer.Option(metavar="TIME", help="Shortest stay on a target, within a sub; less where no "
                                         "more is wanted.")]
BlockOption = Annotated[str, typer.Option(metavar="TIME", help="Shortest time through one filter of a target, within a "
                                          "sub; less where no more is wanted.")]
MarginOption = Annotated[str, typer.Option(metavar="TIME", help="Kept free before the mount must stop or flip.")]
BeginOption = Annotated[str | None, typer.Option("--from", metavar="HH:MM", help="When the first frame may begin.")]
UntilOption = Annotated[str | None, typer.Option("--until", metavar="HH:MM", help="By when the last frame ends.")]
OnlyOption = Annotated[str | None, typer.Option("--filters", metavar="L,R,…", help="Filters to use this night alone.")]
MoonOption = Annotated[str | None, typer.Option(
    "--moon-distance", metavar="L=60,…", help="Degrees that a filter's targets keep from the Moon while it is up; else "
    "it counts as brightness only.")]
FramesOption = Annotated[str | None, typer.Option(
    "--calibration", metavar="flats=20,…", help="Calibration frames to take: flats of each filter, darks of each "
    "length, dark-flats, bias; else 20 flats and 20 darks.")]
LookOption = Annotated[bool | None, typer.Option(
    "--look-ahead/--tonight-alone", show_default=False,
    help="Leave to the coming 120 nights what they are better for, as is done where projects are yours; or not.")]
ClearOption = Annotated[float | None, typer.Option(
    metavar="SHARE", help="Share of later nights that are clear, 0.4 if not given; looks ahead.")]
ForceOption = Annotated[bool, typer.Option("--force", help="Replace files that are there already.")]


MOST_NAMED = 6  # targets that a note lists


def minutes(option: str, text: str) -> "Quantity":
    """Return the time that an option gives."""
    from astropy import units as u

    from planner.checks import Rule
    from planner.files.quantities import parse_option

    rule = Rule(kind="quantity", unit=u.min, at_least=0, at_most=600, remedy='Write it like "45 min".')
    return parse_option(option, text, rule)


def looks_ahead(wanted: bool | None, clear: float | None, project: Path | None) -> bool:
    """Say whether to plan toward the season: as wanted, for the share of clear nights given, or for own projects."""
    if wanted is False and clear is not None:
        raise InvalidInputError("--clear", clear, "says nothing of tonight alone", "Leave out --tonight-alone or it.")
    return has_projects(project) if wanted is None and clear is None else wanted is not False


def has_projects(project: Path | None) -> bool:
    """Say whether the project file given, or the user's own, wants hours of something."""
    from planner.files.projects import load_projects, user_projects_path
    from planner.files.reading import is_there

    if project is None and not is_there(user_projects_path()):
        return False
    return any(item.wanted for item in load_projects(project).projects)


def refuse_existing(calendar: Path | None, sheet: Path | None, table: Path | None, force: bool) -> None:
    """Refuse outputs that cannot be written or are the same file, before anything is computed."""
    from planner.files.writing import refuse_unwritable

    named = {"--ics": calendar, "--sheet": sheet, "--csv": table}
    given = {option: path.expanduser() for option, path in named.items() if path is not None}
    for option, path in given.items():
        refuse_unwritable(option, path, force=force)
    if len({path.resolve() for path in given.values()}) < len(given):
        raise InvalidInputError(" ".join(given), next(iter(given.values())), "must be different files",
                                "Give each output a name of its own.")


def named_for(path: Path | None, plan: "NightPlan", answers: Sequence[object]) -> Path | None:
    """Return the file of a plan: the one given, with the rig's name in it where several rigs are planned."""
    if path is None or len(answers) < 2:
        return path
    return path.with_name(f"{path.stem}-{plan.rig.name}{path.suffix}")


def write_outputs(plan: "NightPlan", calendar: Path | None, sheet: Path | None, table: Path | None, force: bool
                  ) -> None:
    """Write the files asked for and say so on stderr."""
    if calendar is not None:
        from planner.files.plans.calendar import write_night_calendar

        now = datetime.datetime.now(datetime.UTC)
        note(f"Calendar in {write_night_calendar(calendar, plan, now=now, force=force)}")
    if sheet is not None:
        from planner.files.plans.sheet import write_night_sheet

        note(f"Night sheet in {write_night_sheet(sheet, plan, force=force)}")
    if table is not None:
        from planner.files.plans.table import write_plan_table

        note(f"Table in {write_plan_table(table, plan, force=force)}")


def wishes(names: list[str], listed: "Callable[[], Iterable[Target]]", rigs: "Sequence[Rig]", project: Path | None,
           targets: Path | None, hydrogen: bool = False) -> "list[tuple[Rig, list[Request]]]":
    """Return what is wanted of each rig: what projects still lack, else what one usually wants of a kind of target.

    `names`: targets named; `listed` finds them, or the user's or the demo's list. `project`: a project file; without
    it the user's own, if there is one. Where neither names nor `targets`, a list of the user's, are given, its projects
    are planned alone, unless it holds none for these rigs. `hydrogen`: want the H-alpha of galaxies too, where no
    project says.
    """
    from planner.files.projects import load_projects, user_projects_path
    from planner.files.projects.wanted import listed_beside, requests_for
    from planner.files.reading import is_there

    file = load_projects(project) if project is not None or is_there(user_projects_path()) else None
    if file is not None and not names and targets is None:
        wanted = [(rig, _of_projects(file, rig)) for rig in rigs]
        idle = [rig.name for rig, requests in wanted if not requests]
        if idle and (project is not None or len(idle) < len(wanted)):
            raise InvalidInputError("projects", file.path, f'hold nothing for the rig "{idle[0]}"',
                                    "Name targets, or add a wanted filter of this rig.")
        if not idle:
            beside = listed_beside(file)
            more = f" and {len(beside) - MOST_NAMED} more" if len(beside) > MOST_NAMED else ""
            note(f"Planning what {file.path.name} still wants."
                 + (f" Of your list these are no projects, and left out: {', '.join(beside[:MOST_NAMED])}{more}; "
                    "--targets FILE plans a list." if beside else ""))
            return wanted
        note(f'{file.path.name} wants nothing of the rig "{idle[0]}" yet: the list of targets stands in.')
    return [(rig, list(requests_for([(place, None) for place in listed()], rig, file, targets=targets,
                                    hydrogen=hydrogen))) for rig in rigs]


def _of_projects(file: "ProjectFile", rig: "Rig") -> "list[Request]":
    """Return what the projects want of a rig, each target once; a note says what is left out."""
    from planner.files.targets import find_target
    from planner.session.projects.project_requests import project_requests

    places = {place.name: (place, item) for item in file.projects for place in [find_target(item.target)]}
    requests = [(item.target, project_requests(item, place, rig)) for place, item in places.values()]
    for name, parts in requests:
        if not parts:
            note(f'{name} is left out: the rig "{rig.name}" has none of the filters it needs.')
    return [request for _, parts in requests for request in parts]


def show_season(plan: "NightPlan", found: "Campaign | None", *, all_needs: bool = True) -> None:
    """Print what tonight is for in the season, and what is left to later nights."""
    if found is None:
        return
    from planner.session.campaign.ahead import AHEAD_COLUMNS, ahead_cells, ahead_head, ahead_rows

    print()
    rows = [row for row in ahead_rows(found, plan) if all_needs or row.tonight > 0]
    print_table(ahead_head(found), AHEAD_COLUMNS, ahead_cells(rows), right=("tonight", "later", "still wanted"))
