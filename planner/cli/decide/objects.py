"""`planner objects`: which objects of the catalogue fit a rig, on a night or in a month."""

import calendar
import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.asked import LOWEST, FilterOption, LowestOption, RatioOption, lowest_altitude
from planner.cli.options import EquipmentOption, JsonOption, NightOption, RigOption, SiteOption, new_app, open_equipment
from planner.cli.output import print_json, print_lines, print_table
from planner.errors import InvalidInputError
from planner.fields import document

if TYPE_CHECKING:
    from planner.rig import Site
    from planner.session.year.objects import FittingObjects

app = new_app()


@app.command()
def objects(
    rig: RigOption = None, site: SiteOption = None, night: NightOption = None,
    month: Annotated[str | None, typer.Option("--month", metavar="YYYY-MM", help="All nights of a month.")] = None,
    band: FilterOption = None,
    kind: Annotated[str | None, typer.Option("--kind", metavar="WORD", help="Only this kind, like galaxy, nebula, "
                                                                            "cluster.")] = None,
    count: Annotated[int, typer.Option("--count", metavar="N", help="How many objects to list.")] = 20,
    lowest: LowestOption = LOWEST, ratio: RatioOption = None, equipment: EquipmentOption = None,
    json: JsonOption = False,
) -> None:
    """Rank the whole catalogue for a rig: fit in the field, useful hours, time to a wanted signal-to-noise."""
    gear = open_equipment(equipment)
    chosen_rig, chosen_site = gear.rig(rig), gear.site(site)
    first, nights = _nights(night, month, chosen_site)
    from planner.files.targets.catalogue import all_objects
    from planner.session.advice.answer import filter_named
    from planner.session.year.objects import fitting_objects as fitting_of

    found = fitting_of(all_objects(), chosen_rig, chosen_site, first, nights=nights,
                     band=filter_named(chosen_rig, band), lowest_altitude=lowest_altitude(lowest),
                     signal_to_noise=ratio, count=count, kind=None if kind is None else kind.strip().lower())
    if json:
        print_json(document(found))
    else:
        _show(found)


def _nights(night: str | None, month: str | None, site: "Site") -> tuple[datetime.date, int]:
    """Return the first night and how many: one, or all of a month."""
    from planner.cli.options import night_date

    if month is None:
        return night_date(night, site), 1
    if night is not None:
        raise InvalidInputError("--month", month, "cannot stand beside --night", "Give one of them.")
    try:
        first = datetime.datetime.strptime(month.strip(), "%Y-%m").date()
    except ValueError:
        raise InvalidInputError("--month", month, "must be a month", "Write it like 2026-11.") from None
    return first, calendar.monthrange(first.year, first.month)[1]


def _show(found: "FittingObjects") -> None:
    """Print the ranking and what was left out."""
    measure, dates = found.measure, found.dates
    when = f"night of {dates[0]}" if len(dates) == 1 else f"nights {dates[0]} to {dates[-1]}"
    width, height = (side.value for side in found.field)
    print_lines(
        f'Objects for rig "{measure.rig.name}" (field {width:.2f} x {height:.2f} deg), filter {measure.band.name}, '
        f'site "{measure.site.name}", {when}.',
        "Score = fit x hours / hours of the best placed x hours / (hours + time needed). Hours are useful ones: beside "
        "the moonless zenith on faint, fine detail, the Moon as brightness. Needed: until the mean of its surface "
        f"reaches a signal-to-noise of {found.signal_to_noise:g} on 25 arcsec²; faint parts take longer. Both on a "
        'mount that moves no star: "planner advise" counts yours, and the depth that you want.')
    if not len(found.objects):
        print_lines("Nothing: no object that fits is up in the dark.")
    else:
        print_table("", COLUMNS, [_row(found, at) for at in range(len(found.objects))], right=COLUMNS[3:])
    left = ", ".join(f"{number} {why}" for why, number in found.left_out.items())
    print_lines(f"{found.considered} objects considered; left out: {left}.")
    if found.assumed.any():
        print_lines("~ the catalogue gives no brightness for this light: a typical one is assumed.")


COLUMNS = ("object", "also", "kind", "size '", "fit", "hours", "up h", "needed", "score")


def _row(found: "FittingObjects", at: int) -> tuple[str, ...]:
    objects = found.objects
    needed = found.time[at].value
    return (str(objects.name[at]), found.also(at), str(objects.kind[at]),
            f"{objects.size_major[at].value:.0f}", f"{found.fit[at]:.2f}", f"{found.useful[at].value:.1f}",
            f"{found.up[at].value:.1f}", f"{'~' if found.assumed[at] else ''}{_hours(needed)}",
            f"{found.figure[at]:.2f}")


def _hours(hours: float) -> str:
    if hours < 0.95:
        return f"{max(hours * 60, 1):.0f} min"
    return f"{hours:.1f} h" if hours < 95 else f"{hours:.0f} h"
