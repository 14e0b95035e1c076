"""`planner done`: record what a night brought, or show how far every project is."""

import dataclasses
import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.asked import LOWEST, LowestOption, refuse
from planner.cli.options import EquipmentOption, JsonOption, ProjectOption, SiteOption, new_app, night_date
from planner.cli.output import note, print_json, print_lines, print_table
from planner.errors import InvalidInputError
from planner.fields import document

if TYPE_CHECKING:
    from planner.files.projects import ProjectFile
    from planner.session.projects.project import DoneNight, Project

app = new_app()


@app.command()
def done(
    target: Annotated[list[str] | None, typer.Argument(
        help="Target, as the project file or the catalogue names it, of a mosaic with its panel: \"M 31 panel 2\"; "
             "nothing to show all projects.")] = None,
    band: Annotated[str | None, typer.Option("--filter", metavar="NAME", help="Filter of the frames.")] = None,
    hours: Annotated[str | None, typer.Option("--hours", metavar="TIME",
                                              help='Open-shutter time of the kept frames, like "2.5 h".')] = None,
    subs: Annotated[int | None, typer.Option("--subs", metavar="N", help="Or: how many frames were kept.")] = None,
    length: Annotated[str | None, typer.Option("--sub-exposure", metavar="TIME",
                                               help='And how long each one was, like "180 s".')] = None,
    night: Annotated[str | None, typer.Option("--night", metavar="YYYY-MM-DD",
                                              help="Night, by its evening's date; else the last one.")] = None,
    start: Annotated[str | None, typer.Option("--start", metavar="HH:MM", help="When the first frame began, on the "
                                              "site's clock; else the best stretch of the night.")] = None,
    lowest: LowestOption = LOWEST,
    counted: Annotated[str | None, typer.Option("--counted", metavar="TIME", help='Equivalent hours, like "1.2 h", '
                                                "where you know better than the planner.")] = None,
    wanted: Annotated[str | None, typer.Option("--wanted", metavar="TIME", help="Sets the equivalent hours wanted in "
                                               'this filter, like "8 h"; a new target needs it.')] = None,
    id: Annotated[str | None, typer.Option("--id", metavar="WORD", help="A word of your own for this record: one with "
                                           "the same word is replaced, so that a script may try again.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace what is recorded for this night and filter, "
                                          "instead of adding to it.")] = False,
    undo: Annotated[bool, typer.Option("--undo", help="Take the target's last record out: of --filter, --night or "
                                       "--id where given.")] = False,
    project: ProjectOption = None,
    rig: Annotated[str | None, typer.Option("--rig", metavar="NAME",
                                            help="Rig; the first one with the filter if not given.")] = None,
    site: SiteOption = None, equipment: EquipmentOption = None, json: JsonOption = False,
) -> None:
    """Record a night's frames in the project file, or, without a target, show what is done and left."""
    from planner.files.projects import load_projects

    name = " ".join(target or []).strip()
    if not name:
        alone, like = "needs a target beside it", 'Write it like: planner done "NGC 7331" '
        refuse({"--filter": band, "--hours": hours, "--subs": subs, "--sub-exposure": length, "--night": night,
                "--start": start, "--counted": counted, "--wanted": wanted, "--id": id, "--replace": replace or None},
               alone, f'{like}--filter L --hours "2 h".')
        refuse({"--undo": undo or None}, alone, f"{like}--undo.")
        _answer(load_projects(project), json, (equipment, rig))
        return
    if undo:
        refuse({"--hours": hours, "--subs": subs, "--sub-exposure": length, "--start": start, "--counted": counted,
                "--wanted": wanted, "--replace": replace or None}, "does not go with --undo")
        _undo(name, band, night, id, project)
    else:
        _record(name, band, (hours, subs, length), night, (start, counted, lowest), wanted, project,
                (equipment, rig, site), id, replace)
    _answer(load_projects(project), json, (equipment, rig), name)


def _undo(name: str, band: str | None, night: str | None, id: str | None, project: Path | None) -> None:
    """Take one record out of the file."""
    from planner.files.projects import load_projects
    from planner.files.projects.edit import undo_night
    from planner.files.projects.load import project_and_panel
    from planner.files.writing import version_kept
    from planner.visibility.clock import as_date

    known = _project_named(load_projects(project), name)
    path, gone = undo_night(project, known.target if known else name, night=None if night is None else as_date(night),
                            band=band, id=id, panel=project_and_panel(name)[1])
    note(f"Taken out of {path}: {gone.time.to_value('h'):.2f} h in {gone.filter} on {gone.night}"
         f"{version_kept(path)}.")


def _record(name: str, band: str | None, amount: tuple[str | None, int | None, str | None], night: str | None,
            worth: tuple[str | None, str | None, str], wanted: str | None, project: Path | None,
            where: tuple[Path | None, str | None, str | None], id: str | None, replaces: bool
            ) -> None:
    """Write one night into the file."""
    from planner.cli.night.done_counted import with_counted
    from planner.cli.night.done_panels import panel_asked, panels_of
    from planner.files.equipment import load_equipment
    from planner.files.projects import load_projects
    from planner.files.projects.edit import record_night
    from planner.files.projects.load import HOURS
    from planner.files.quantities import parse_option
    from planner.files.reading import is_there
    from planner.files.writing import version_kept

    owned, site = load_equipment(where[0]), where[2]
    there = load_projects(project) if project is None or is_there(project.expanduser()) else None
    known = None if there is None or there.is_demo else _project_named(there, name)
    filters = [item.name for rig in owned.rigs for item in rig.filters]
    if band is None:
        names = ", ".join(known.filters if known else dict.fromkeys(filters))
        raise InvalidInputError("--filter", "(none)", "must be given", f"Name the filter of the frames: {names}.")
    spelled = _spelled(band, known, filters)
    record = _night(spelled, amount, night_date(night, owned.site(site)), owned.site(site).time_zone)
    hours = None if wanted is None else parse_option("--wanted", wanted, HOURS)
    panel = panel_asked(name, known, 1 if known is None else panels_of(known, owned, where[1]))
    target = known.target if known else _catalogue_name(name)
    record = dataclasses.replace(record, id=id, panel=panel)
    record, found = with_counted(record, target, owned, where[1:], worth)
    if known is not None and not replaces and any(
            (item.night, item.filter, item.panel) == (record.night, spelled, record.panel)
            and (id is None or item.id != id)
            for item in known.done):
        note(f"There was a record for {spelled} on {record.night} already: this one is added to it. --replace puts it "
             "in its place, --undo takes it out again.")
    path = record_night(project, target, record, wanted=hours, replace=replaces)
    if found:
        note(found)
    note(f"Recorded in {path}{version_kept(path)}.")


def _project_named(file: "ProjectFile", name: str) -> "Project | None":
    """Return the project that a name means, by the file's words or by the catalogue's."""
    from planner.files.projects.load import project_and_panel
    from planner.files.targets import find_target, numbers_of

    found = file.of(name)
    if found is not None or not file.projects:
        return found
    try:
        numbers = set(numbers_of(find_target(project_and_panel(name)[0])))
        return next((item for item in file.projects if numbers & set(numbers_of(find_target(item.target)))), None)
    except InvalidInputError:
        return None


def _catalogue_name(name: str) -> str:
    """Return the catalogue's name of a new target."""
    from planner.files.targets import find_target

    return find_target(name).name


def _spelled(band: str, known: "Project | None", filters: list[str]) -> str:
    """Return a filter's name as the project or the equipment spells it."""
    from planner.checks import did_you_mean

    names = list(dict.fromkeys([*(known.filters if known else ()), *filters]))
    for name in names:
        if name.lower() == band.strip().lower():
            return name
    raise InvalidInputError("--filter", band, "is neither in the project nor in the equipment",
                            did_you_mean(band, names))


def _night(band: str, amount: tuple[str | None, int | None, str | None], date: datetime.date, zone: str) -> "DoneNight":
    """Return the record of a night, from hours or from frames and their length."""
    from astropy import units as u

    from planner.checks import check
    from planner.files.projects.load import LENGTH, NIGHT_HOURS, SUBS
    from planner.files.quantities import parse_option
    from planner.session.projects.project import DoneNight

    hours, subs, length = amount
    if date > night_of_now(zone):
        raise InvalidInputError("--night", date, "must not lie in the future",
                                "Give the evening's date of a past night.")
    if (hours is None) == (subs is None or length is None) or (hours is not None and (subs, length) != (None, None)):
        raise InvalidInputError("--hours", hours or "(none)", "must be given, or --subs and --sub-exposure together",
                                'Write --hours "2 h", or --subs 40 --sub-exposure "180 s".')
    if hours is not None:
        time = parse_option("--hours", hours, NIGHT_HOURS)
        return DoneNight(night=date, filter=band, time=time)
    number = check("--subs", subs, SUBS)
    each = parse_option("--sub-exposure", length or "", LENGTH)
    time = check("--subs x --sub-exposure", (number * each).to(u.h), NIGHT_HOURS)
    return DoneNight(night=date, filter=band, time=time, subs=number, sub_exposure=each)


def night_of_now(zone: str) -> datetime.date:
    """Return today's date on a clock: the latest evening that can have begun."""
    from zoneinfo import ZoneInfo

    return datetime.datetime.now(ZoneInfo(zone)).date()


def _answer(file: "ProjectFile", json: bool, where: tuple[Path | None, str | None], name: str | None = None) -> None:
    """Print how far the projects are: all, or the one just recorded; mosaics panel by panel."""
    from planner.cli.night.done_panels import panel_lines, panels_told
    from planner.files.equipment import load_equipment

    one = None if name is None else _project_named(file, name)
    items = list(file.projects) if name is None else [one] if one else []
    owned = load_equipment(where[0]) if any(item.mosaic for item in items) else None
    panels = [1 if owned is None else panels_told(item, owned, where[1]) for item in items]
    for item, number in zip(items, panels, strict=True):
        for line in panel_lines(item, number):
            note(line)
    chosen = [part for item, number in zip(items, panels, strict=True) for part in item.by_panel(number)]
    if json:
        from planner.session.projects.project import DoneAnswer, ProjectSoFar

        print_json(document(DoneAnswer(project_file=file.path.name, is_demo=file.is_demo,
                                       projects=tuple(map(ProjectSoFar, chosen)))))
        return
    if file.is_demo:
        note("These are the packaged demo's projects; --wanted begins a file of your own.")
    rows = [(item.target if at == 0 else "", band, f"{item.wanted_time(band).value:.1f}",
             f"{item.done_time(band).value:.1f}", f"{item.counted_time(band).value:.1f}",
             f"{item.left(band).value:.1f}",
             str(max((night.night for night in item.done if night.filter.lower() == band.lower()), default="")))
            for item in chosen for at, band in enumerate(item.filters)]
    if not rows:
        print_lines("No projects yet.")
        return
    print_table("", COLUMNS, rows, right=COLUMNS[2:6])
    print_lines("Open h is the shutter's time of kept frames; what it counts for, and what is wanted and left, is in "
                "equivalent hours, as a night is planned.")


COLUMNS = ("target", "filter", "wanted h", "open h", "counted h", "left h", "last night")
