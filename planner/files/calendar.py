"""A night's plan for a calendar: iCalendar text (RFC 5545), times in UTC.

One event for each block and each flip, and one for the dark itself, which does not block the day. The identifier of an
event depends on site, rig, night and its place in the plan, so that a plan made anew replaces the old one.
"""

import datetime
import uuid
from pathlib import Path
from typing import TYPE_CHECKING

from astropy import units as u
from astropy.time import Time

from planner.files.writing import write_answer
from planner.visibility import clock_text
from planner.visibility.clock import to_second

if TYPE_CHECKING:
    from icalendar import Event

    from planner.session.night.plan import Block, NightPlan

WHAT = "calendar file"
PRODUCT = "-//planner//night plan//EN"
_NAMESPACE = uuid.UUID("6f0c2c3e-5d52-4b67-9b8e-8f8a2f8c6a11")  # of this program's events, drawn once
WARN_BEFORE_FLIP = datetime.timedelta(minutes=5)


def night_calendar(plan: "NightPlan", *, now: datetime.datetime) -> str:
    """Return the plan as an iCalendar text, lines ended by CR LF and folded at 75 octets.

    Parameters
    ----------
    plan : NightPlan
    now : datetime.datetime
        The present, with a time zone: RFC 5545 wants to know when an event was written.
    """
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    stamp = now.astimezone(datetime.UTC).replace(microsecond=0)
    for event in [*_dark(plan, stamp), *_blocks(plan, stamp), *_flips(plan, stamp)]:
        calendar.add_component(event)
    return calendar.to_ical().decode("utf-8")


def write_night_calendar(path: Path | str, plan: "NightPlan", *, now: datetime.datetime, force: bool = False) -> Path:
    """Write the calendar; an existing file is kept unless `force`."""
    return write_answer(Path(path), night_calendar(plan, now=now), what=WHAT, force=force)


def _event(plan: "NightPlan", stamp: datetime.datetime, key: str, times: tuple[Time, Time], summary: str, text: str
           ) -> "Event":
    """Return one event; `key` is its place in the plan."""
    from icalendar import Event

    event = Event()
    event.add("uid", f"{uuid.uuid5(_NAMESPACE, f'{plan.site.name}|{plan.rig.name}|{plan.date}|{key}')}")
    event.add("dtstamp", stamp)
    event.add("dtstart", to_second(times[0]))
    event.add("dtend", to_second(times[1]))
    event.add("summary", summary)
    event.add("description", text)
    event.add("location", plan.site.name)
    event.add("geo", (round(plan.site.latitude.to_value(u.deg), 6), _longitude(plan)))
    return event


def _longitude(plan: "NightPlan") -> float:
    longitude = plan.site.longitude.to_value(u.deg)
    return round(longitude - 360 if longitude > 180 else longitude, 6)


def _dark(plan: "NightPlan", stamp: datetime.datetime) -> list["Event"]:
    """Return the dark time, shown as free."""
    if plan.dark is None:
        return []
    text = f"Moon {plan.moon.illumination:.0%} lit. {' '.join(plan.notes)} {plan.reason}".strip()
    event = _event(plan, stamp, "dark", plan.dark, "Dark", text)
    event.add("transp", "TRANSPARENT")
    return [event]


def _blocks(plan: "NightPlan", stamp: datetime.datetime) -> list["Event"]:
    return [_event(plan, stamp, f"block {number}", (block.start, block.end),
                   f"{block.target.name} {block.band.name}", _about(block, plan))
            for number, block in enumerate(plan.blocks, start=1)]


def _about(block: "Block", plan: "NightPlan") -> str:
    """Say what the block is, on the site's clock."""
    lines = [f"{block.sub_count} x {block.sub_exposure.to_value(u.s):g} s, {'guided' if block.guided else 'unguided'}",
             f"{clock_text(block.start, plan.site)} to {clock_text(block.end, plan.site)}",
             f"altitude {block.altitude.to_value(u.deg):.0f} deg"]
    if block.pier_side:
        lines.append(f"telescope {block.pier_side} of the pier")
    if block.refocus:
        lines.append(f"focus at {', '.join(clock_text(time, plan.site) for time in block.refocus)}")
    if block.moon_up:
        lines.append(f"Moon {block.moon_separation.to_value(u.deg):.0f} deg away")
    return "\n".join(lines)


def _flips(plan: "NightPlan", stamp: datetime.datetime) -> list["Event"]:
    """Return the flips, each with an alarm before it."""
    from icalendar import Alarm

    from planner.session.night.report.words import FLIP_CAUTION

    events = []
    for number, flip in enumerate((event for event in plan.events if event.kind == "flip"), start=1):
        event = _event(plan, stamp, f"flip {number}", (flip.start, flip.end), "Meridian flip",
                       f"{flip.text}\n{FLIP_CAUTION}")
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", "Meridian flip")
        alarm.add("trigger", -WARN_BEFORE_FLIP)
        event.add_component(alarm)
        events.append(event)
    return events
