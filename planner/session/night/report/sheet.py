"""A night's plan in the words of a sheet of paper: what happens when, on the site's clock.

Everything here is text, ready to be laid out; what a row holds is what one looks for at two in the morning.
"""

from dataclasses import dataclass, replace

from astropy import units as u
from astropy.time import Time

from planner.exposure.reasons import percent
from planner.session.night.model import Block, Event, NightPlan
from planner.session.night.report.words import cautions
from planner.visibility import clock_text
from planner.visibility.earth_rotation import mjd_tt


@dataclass(frozen=True)
class SheetRow:
    """One line of the night; kind is block, flip, or an event's (flats, darks)."""

    kind: str
    start: str
    end: str
    what: str  # the target of a block, the words of anything else
    band: str
    subs: str  # 30 × 300 s
    side: str
    altitude: str
    small: str  # slew, guiding, focus, Moon


@dataclass(frozen=True)
class Sheet:
    """A whole sheet."""

    title: str
    subtitle: str
    zone: str  # of all times; empty where each time names its own
    facts: tuple[tuple[str, str], ...]
    rows: tuple[SheetRow, ...]
    flips: tuple[str, ...]
    others: tuple[tuple[str, str], ...]  # targets without a block, and why
    cautions: tuple[str, ...]
    places: tuple[str, ...] = ()  # of the planned targets: coordinates, camera angle, guide star


class Clock:
    """Times of a night on the site's clock, zone left off where it is the same all night."""

    def __init__(self, plan: NightPlan) -> None:
        self._site = plan.site
        zones = {clock_text(time, plan.site).split(" ", 1)[1] for time in (plan.night.start, plan.night.end)}
        self.zone = zones.pop() if len(zones) == 1 else ""

    def __call__(self, time: Time | None) -> str:
        """Return ``23:11``, or ``23:11 CEST`` in a night with a change of clocks; a dash for None."""
        if time is None:
            return "–"
        text = clock_text(time, self._site)
        return text.split(" ", 1)[0] if self.zone else text


def night_sheet(plan: NightPlan) -> Sheet:
    """Return the sheet of a plan; an empty plan gives its reason in place of rows."""
    clock = Clock(plan)
    return Sheet(
        title=f"Night of {plan.date:%a} {plan.date.day} {plan.date:%B %Y}",
        subtitle=f"{plan.site.name} · rig {plan.rig.name} · {_hours(plan)}", zone=clock.zone,
        facts=_facts(plan, clock), rows=_rows(plan, clock), flips=_flips(plan, clock),
        others=tuple((outlook.request.target.name, outlook.reason) for outlook in plan.outlooks if outlook.reason),
        cautions=(*plan.notes, *cautions(plan, clock)))


def _hours(plan: NightPlan) -> str:
    if not plan.blocks:
        return "no block tonight"
    clock = sum((outlook.clock_time.to_value(u.h) for outlook in plan.outlooks), 0.0)
    return f"{clock:.1f} h in {len(plan.blocks)} block{'s' if len(plan.blocks) > 1 else ''}"


def _facts(plan: NightPlan, clock: Clock) -> tuple[tuple[str, str], ...]:
    """Return Sun, dark and Moon."""
    night, moon = plan.night, plan.moon
    dark = night.reason if night.dark is None else (
        f"{clock(night.dark[0])} to {clock(night.dark[1])} (Sun below −{night.depression.value:g}°)")
    evening = [f"sunset {clock(night.sunset)}", *(f"{one.name} {clock(one.dusk)}" for one in night.twilights)]
    morning = [*(f"{one.name} {clock(one.dawn)}" for one in reversed(night.twilights)),
               f"sunrise {clock(night.sunrise)}"]
    events = sorted([("rises", time) for time in moon.rises] + [("sets", time) for time in moon.sets],
                    key=lambda event: float(mjd_tt(event[1])))
    lunar = ", ".join(f"{word} {clock(time)}" for word, time in events) or moon.reason
    return (("Evening", ", ".join(evening)), ("Dark", dark), ("Morning", ", ".join(morning)),
            ("Moon", f"{percent(moon.illumination)} lit, {lunar}"))


def _rows(plan: NightPlan, clock: Clock) -> tuple[SheetRow, ...]:
    """Return blocks with the flips, flats and darks between them; slews, filters and focus stand with their block."""
    slews = [event for event in plan.events if event.kind == "target"]
    timed = [(float(mjd_tt(block.start)), _block_row(block, slews, clock)) for block in plan.blocks]
    for event in _joined(plan.events):
        if event.kind in ("flats", "flip", "darks", "rest"):
            timed.append((float(mjd_tt(event.start)), SheetRow(
                event.kind, clock(event.start), clock(event.end), event.text, "", "", "", "", "")))
    return tuple(row for _, row in sorted(timed, key=lambda pair: pair[0]))


def _joined(events: tuple[Event, ...]) -> list[Event]:
    """Return events in their order with the flats of one twilight made one."""
    found: list[Event] = []
    for event in events:
        short = event.text.replace(", ", " ").replace(" to ", "–") if event.kind == "flats" else event.text
        if found and event.kind == found[-1].kind == "flats":
            text = f"{found[-1].text}; {short.split(' flats of ')[-1]}"
            found[-1] = replace(found[-1], end=event.end, text=text)
        else:
            found.append(replace(event, text=short))
    return found


def _block_row(block: Block, slews: list[Event], clock: Clock) -> SheetRow:
    small = ["guided" if block.guided else "unguided"]
    slew = next((event for event in slews if abs((event.end - block.start).sec) < 1), None)
    if slew is not None:
        small.insert(0, f"slew {clock(slew.start)}")
    if block.refocus:
        small.append(f"focus {', '.join(clock(time) for time in block.refocus)}")
    if block.moon_up:
        small.append(f"Moon {block.moon_separation.to_value(u.deg):.0f}° away")
    return SheetRow(
        "block", clock(block.start), clock(block.end), block.target.name, block.band.name,
        f"{block.sub_count} × {block.sub_exposure.to_value(u.s):g} s", block.pier_side,
        f"{block.altitude.to_value(u.deg):.0f}°", " · ".join(small))


def _flips(plan: NightPlan, clock: Clock) -> tuple[str, ...]:
    """Return a line for every flip that a planned target may need."""
    planned = {block.target.name for block in plan.blocks}
    lines = []
    for flip in plan.flips:
        if flip.target.name in planned:
            when = "no flip as planned" if flip.planned is None else (
                f"flip planned {clock(flip.planned)}, {flip.lost.to_value(u.min):.0f} min without subs")
            first, last = clock(flip.earliest), clock(flip.latest)
            possible = f"possible {first} to {last}" if first != last else f"possible at {first} only"
            lines.append(f"{flip.target.name}: {when} ({possible})")
    return tuple(lines)
