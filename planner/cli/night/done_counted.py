"""What `planner done` counts a night's frames for, in equivalent hours."""

from dataclasses import replace
from typing import TYPE_CHECKING

from planner.cli.asked import lowest_altitude
from planner.errors import InvalidInputError

if TYPE_CHECKING:
    from astropy import units as u
    from astropy.time import Time

    from planner.rig import Rig, Site
    from planner.rig.equipment import Equipment
    from planner.session.projects.project import DoneNight
    from planner.visibility.target import Target


def with_counted(record: "DoneNight", target: str, owned: "Equipment", where: tuple[str | None, str | None],
                 asked: tuple[str | None, str | None, str]) -> "tuple[DoneNight, str]":
    """Return the record with what it counts for, and a sentence that says how that was found.

    `target`: as the project file or the catalogue names it. `where`: rig and site named; None for the first rig with
    the filter, and the first site. `asked`: start on the site's clock, equivalent hours and lowest altitude, as typed.
    """
    from planner.files.forms.session import night_moment
    from planner.files.projects.load import COUNTED
    from planner.files.quantities import parse_option

    start, counted, lowest = asked
    if counted is not None:
        if start is not None:
            raise InvalidInputError("--start", start, "does not go with --counted", "Give one of the two.")
        given = parse_option("--counted", counted, COUNTED)
        return replace(record, counted=given), ""
    rig = _rig(owned, where[0], record.filter)
    place = _place(target)
    site = owned.site(where[1])
    begin = None if start is None else night_moment("--start", start, record.night, site)
    if rig is None or place is None:
        lacking = f'no rig has a filter "{record.filter}"' if rig is None else f"the catalogue has no {target}"
        return record, f"All of the open-shutter time counts: {lacking}. Say --counted if it was less."
    return _worked_out(record, place, rig, site, begin, lowest_altitude(lowest))


def _worked_out(record: "DoneNight", place: "Target", rig: "Rig", site: "Site", begin: "Time | None",
                lowest: "u.Quantity") -> "tuple[DoneNight, str]":
    """Let the night's own worth say what the frames count for."""
    from astropy import units as u

    from planner.files.targets.stars import stars_around
    from planner.session.advice.answer import filter_named
    from planner.session.night.done_worth import counted_hours
    from planner.visibility.clock import clock_text

    found = counted_hours(place, rig, site, filter_named(rig, record.filter), record.night, record.time,
                          sub_exposure=record.sub_exposure, start=begin, lowest_altitude=lowest,
                          stars=stars_around(place, rig))
    if found is None:
        raise InvalidInputError("target", place.name, f'was not up in the dark at "{site.name}" on the night of '
                                f"{record.night}",
                                "Correct target, --night, --site or --lowest-altitude, or say --counted.")
    hours = round(found.hours, 2)
    more = "" if record.time <= found.clear else (
        f" {place.name} stood clear of limits and skyline for {found.clear.to_value(u.h):.1f} h"
        f"{'' if begin is None else ' from there'}: no more than these count. Was it clear for longer, say --counted.")
    taken = "from" if begin is not None else "if taken in its best stretch of that night,"
    return replace(record, counted=hours), (
        f"{record.time.to_value(u.h):.2f} h open count for {hours.value:.2f} h, {taken} "
        f"{clock_text(found.start, site)} to {clock_text(found.end, site)}.{more}")


def _rig(owned: "Equipment", name: str | None, band: str) -> "Rig | None":
    """Return the rig named, or the first one that has the filter."""
    if name is not None:
        return owned.rig(name)
    return next((rig for rig in owned.rigs if any(item.name.lower() == band.lower() for item in rig.filters)), None)


def _place(name: str) -> "Target | None":
    from planner.files.targets import find_target

    try:
        return find_target(name)
    except InvalidInputError:
        return None
