"""A night's plan for a calendar: iCalendar text (RFC 5545), times in UTC.

One event for each block, slew, flip, and set of calibration frames, and one for the dark itself, which does not block
the day. The identifier of an event depends on site, rig, night and its place in the plan, and its SEQUENCE grows with
the time at which it was written, so that a plan made anew replaces the old one. Events of the file replaced that are no
more are in the new one as cancelled (RFC 5546, sec. 3.2.5).
"""

import datetime
import uuid
from pathlib import Path
from typing import TYPE_CHECKING

from astropy import units as u
from astropy.time import Time

from planner.files.writing import write_answer
from planner.session.night.model import Block, NightPlan
from planner.visibility import clock_text
from planner.visibility.clock import to_second

if TYPE_CHECKING:
    from icalendar import Calendar, Event

WHAT = "calendar file"
PRODUCT = "-//planner//night plan//EN"
_NAMESPACE = uuid.UUID("6f0c2c3e-5d52-4b67-9b8e-8f8a2f8c6a11")  # of this program's events, drawn once
_FIRST = datetime.datetime(2020, 1, 1, tzinfo=datetime.UTC)  # from which sequences count
LARGEST = 5_000_000  # bytes of a calendar that is looked into
WARN_BEFORE_FLIP = datetime.timedelta(minutes=5)


def night_calendar(plan: NightPlan, *, now: datetime.datetime, before: str = "") -> str:
    """Return the plan as an iCalendar text, lines ended by CR LF and folded at 75 octets.

    `now`: the present, with a time zone: RFC 5545 wants to know when an event was written. `before`: the calendar that
    this one replaces, if there is one.
    """
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    stamp = now.astimezone(datetime.UTC).replace(microsecond=0)
    for event in [*_dark(plan, stamp), *_blocks(plan, stamp), *_flips(plan, stamp), *_others(plan, stamp)]:
        calendar.add_component(event)
    for event in _cancelled(plan, stamp, calendar, before):
        calendar.add_component(event)
    return calendar.to_ical().decode("utf-8")


def write_night_calendar(path: Path | str, plan: NightPlan, *, now: datetime.datetime, force: bool = False) -> Path:
    """Write the calendar; an existing file is kept unless `force`."""
    return write_answer(Path(path), night_calendar(plan, now=now, before=_read(Path(path)) if force else ""), what=WHAT,
                        force=force)


def _read(path: Path) -> str:
    """Return the text of a calendar that is there, nothing for anything else."""
    try:
        return path.read_text(encoding="utf-8") if path.is_file() and path.stat().st_size < LARGEST else ""
    except (OSError, UnicodeError):
        return ""


def _cancelled(plan: NightPlan, stamp: datetime.datetime, calendar: "Calendar", before: str) -> list["Event"]:
    """Return the events of this night that another calendar had and this one has not, as cancelled."""
    from icalendar import Calendar

    try:
        old = Calendar.from_ical(before).walk("VEVENT") if before else []
    except ValueError:
        return []
    kept = {str(event["uid"]) for event in calendar.walk("VEVENT")}
    found = []
    for event in old:
        if event.get("x-planner-night") != _mark(plan) or str(event.get("uid")) in kept or "dtstart" not in event:
            continue
        for name in ("sequence", "dtstamp", "status"):
            event.pop(name, None)
        event.subcomponents = []
        event.add("sequence", _sequence(stamp))
        event.add("dtstamp", stamp)
        event.add("status", "CANCELLED")
        found.append(event)
    return found


def _sequence(stamp: datetime.datetime) -> int:
    """Return a number that grows with time: RFC 5545, sec. 3.8.7.4 wants a later revision to have a larger one."""
    return int((stamp - _FIRST).total_seconds())


def _mark(plan: NightPlan) -> str:
    """Return what the events of one site, rig and night share."""
    return str(uuid.uuid5(_NAMESPACE, f"{plan.site.name}|{plan.rig.name}|{plan.date}"))


def _event(plan: NightPlan, stamp: datetime.datetime, key: str, times: tuple[Time, Time], summary: str, text: str
           ) -> "Event":
    """Return one event; `key` is its place in the plan."""
    from icalendar import Event

    event = Event()
    event.add("uid", f"{uuid.uuid5(_NAMESPACE, f'{plan.site.name}|{plan.rig.name}|{plan.date}|{key}')}")
    event.add("dtstamp", stamp)
    event.add("sequence", _sequence(stamp))
    event.add("x-planner-night", _mark(plan))
    event.add("dtstart", to_second(times[0]))
    event.add("dtend", to_second(times[1]))
    event.add("summary", summary)
    event.add("description", text)
    event.add("location", plan.site.name)
    event.add("geo", (round(plan.site.latitude.to_value(u.deg), 6), _longitude(plan)))
    return event


def _longitude(plan: NightPlan) -> float:
    longitude = plan.site.longitude.to_value(u.deg)
    return round(longitude - 360 if longitude > 180 else longitude, 6)


def _dark(plan: NightPlan, stamp: datetime.datetime) -> list["Event"]:
    """Return the dark time, shown as free."""
    if plan.dark is None:
        return []
    text = f"Moon {100 * plan.moon.illumination:.0f} % lit. {' '.join(plan.notes)} {plan.reason}".strip()
    event = _event(plan, stamp, "dark", plan.dark, "Dark", text)
    event.add("transp", "TRANSPARENT")
    return [event]


def _blocks(plan: NightPlan, stamp: datetime.datetime) -> list["Event"]:
    return [_event(plan, stamp, f"block {number}", (block.start, block.end),
                   f"{block.target.name} {block.band.name}", _about(block, plan))
            for number, block in enumerate(plan.blocks, start=1)]


def _about(block: Block, plan: NightPlan) -> str:
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


def _flips(plan: NightPlan, stamp: datetime.datetime) -> list["Event"]:
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


def _others(plan: NightPlan, stamp: datetime.datetime) -> list["Event"]:
    """Return slews and calibration frames; a flat of no length is a remark and no event."""
    from planner.session.night.report.words import DARK_CAUTION, FLATS_CAUTION

    words = {"target": ("Slew", ""), "flats": ("Flats", FLATS_CAUTION), "darks": ("Darks", DARK_CAUTION)}
    return [_event(plan, stamp, f"{kind} {number}", (event.start, event.end), summary, f"{event.text}\n{also}".strip())
            for kind, (summary, also) in words.items()
            for number, event in enumerate((one for one in plan.events if one.kind == kind and one.start < one.end), 1)]
