"""`planner season`: useful hours of targets over the year, the best fortnight, and the nights a project still takes."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli import options
from planner.cli.asked import LOWEST, FilterOption, LowestOption, lowest_altitude
from planner.cli.output import note, print_json, print_lines, print_table
from planner.errors import InvalidInputError
from planner.fields import document

if TYPE_CHECKING:
    from astropy import units as u

    from planner.rig import Rig
    from planner.session.year.season import Left, Season
    from planner.visibility.target import Target

app = options.new_app()
DEMO_PROJECTS = 'Using the packaged demo projects; "planner done" begins a file of your own.'


@app.command()
def season(
    target: Annotated[list[str] | None, typer.Argument(help="Targets, each one word or in quotes, or a list file; "
                                                            "those of the project file if none.")] = None,
    rig: options.RigOption = None, site: options.SiteOption = None, night: options.NightOption = None,
    nights: Annotated[int, typer.Option("--nights", metavar="N", help="How many, from that night on, 1 to 366.")] = 365,
    band: FilterOption = None, lowest: LowestOption = LOWEST,
    hours: Annotated[str | None, typer.Option("--hours", metavar="TIME", help="Equivalent hours still to do in this "
                                              'filter, like "8 h"; else that of the project file.')] = None,
    project: options.ProjectOption = None, targets: options.TargetsOption = None,
    equipment: options.EquipmentOption = None, json: options.JsonOption = False,
) -> None:
    """Say in which weeks targets are best, night by night with --json, and how many nights they still take."""
    chosen_rig, chosen_site, date = options.chosen(equipment, rig, site, night)
    from planner.files.targets.stars import stars_around
    from planner.session.advice.answer import filter_named
    from planner.session.year.season import season as season_of

    chosen = filter_named(chosen_rig, band)
    places, left = _places(target or [], targets, project, hours, chosen.name)
    found = season_of(places, chosen_rig, chosen_site, date, nights=nights, band=chosen,
                      lowest_altitude=lowest_altitude(lowest), left=left,
                      stars_around=lambda place: stars_around(place, chosen_rig))
    _tell_lacking(chosen_rig, left)
    if json:
        print_json(document(found))
    else:
        _show(found)


def _places(words: Sequence[str], targets: Path | None, project: Path | None, hours: str | None, band: str
            ) -> "tuple[list[Target], list[Left | None]]":
    """Return the targets asked for, each once, and what is left to do for them."""
    from planner.files.projects import load_projects
    from planner.files.projects.wanted import left_to_do
    from planner.files.targets import find_target, find_targets

    words = options.joined_names(words)
    file = load_projects(project)
    if not words and not file.projects:
        raise InvalidInputError("target", "(none)", "must be given: the project file holds none",
                                "Write it like: planner season NGC7331.")
    if not words and file.is_demo:
        note(DEMO_PROJECTS)
    places = list(find_targets(list(words))) if words and targets is None else [
        find_target(word, targets=targets) for word in words or [item.target for item in file.projects]]
    places = list({place.name: place for place in places}.values())
    if hours is not None:
        return places, [{band: _hours(hours)}] * len(places)
    counts = None if words and file.is_demo else file
    return places, left_to_do(places, counts, targets=targets)


def _hours(text: str) -> "u.Quantity":
    from planner.files.projects.load import HOURS
    from planner.files.quantities import parse_option

    return parse_option("--hours", text, HOURS)


def _tell_lacking(rig: "Rig", left: "Sequence[Left | None]") -> None:
    """Note which filters of the projects the rig lacks: their hours are not counted."""
    there = {band.name.lower() for band in rig.filters}
    lacking = dict.fromkeys(name for want in left if want for name, time in want.items()
                            if time > 0 and name.lower() not in there)
    if lacking:
        note(f'The rig "{rig.name}" has no filter {", ".join(lacking)}: what is left to do there is not counted.')


def _show(found: "Season") -> None:
    """Print the months of every target, and its best nights."""
    from planner.session.year.text import MONTHS, sentences

    measure, months = found.measure, found.months()
    print_lines(
        f'Useful hours per night, mean of the month: filter {measure.band.name}, rig "{measure.rig.name}", site '
        f'"{measure.site.name}", above {found.lowest_altitude.value:g} deg.',
        "An hour counts by what it gives faint, fine detail, beside one at the moonless zenith; the Moon counts as "
        "brightness; what camera and mount lose comes off where hours to do are turned into nights.")
    columns = ["target", *(MONTHS[month - 1] for _, month in months)]
    rows = [[row.target.name, *(_short(row.useful.value[places].mean()) for places in months.values())]
            for row in found.targets]
    rows.append(["(dark)", *(_short(found.dark_hours.value[places].mean()) for places in months.values())])
    last = f" to {found.dates[-1]}" if len(found.dates) > 1 else ""
    print_lines(f"Nights of {found.dates[0]}{last}:")
    print_table("", columns, rows, right=columns[1:])
    for row in found.targets:
        print_lines("\n  ".join(sentences(row, found)))
    print_lines(*found.notes)


def _short(hours: float) -> str:
    return f"{hours:.1f}" if hours >= 0.05 else "·"
