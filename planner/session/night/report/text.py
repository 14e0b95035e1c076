"""The words of a plan: lines and rows that the terminal and a page share."""

from astropy import units as u
from astropy.time import Time

from planner.exposure.reasons import percent
from planner.session.night.model import Block, NightPlan, Outlook
from planner.session.night.report.words import good_text, worth_text
from planner.visibility import clock_text
from planner.visibility.earth_rotation import elapsed, mjd_tt

TARGET_COLUMNS = ("target", "up in the dark", "highest", "planned", "counted", "remarks")
FLIP_COLUMNS = ("target", "earliest", "latest", "planned", "lost")
LONG = 40  # targets of a list: of a longer one those planned are shown
SHORTEST_SHOWN = 1.5  # min: a quick change of filter shows in the blocks already


def header_lines(plan: NightPlan) -> list[str]:
    """Return the night in some lines: when it is dark, the Moon, what else to know."""
    lines = [f'Night of {plan.date}, site "{plan.site.name}", rig "{plan.rig.name}"; times in {plan.site.time_zone}',
             _dark_line(plan), _moon_line(plan)]
    return lines + list(plan.notes)


def target_rows(plan: NightPlan) -> list[tuple[str, ...]]:
    """Return a row for each target, of a long list for each that is planned, as in TARGET_COLUMNS."""
    return [_target_row(outlook, plan) for outlook in plan.outlooks if _shown(outlook, plan)]


def _shown(outlook: Outlook, plan: NightPlan) -> bool:
    return len(plan.outlooks) <= LONG or not plan.blocks or outlook.clock_time.value > 0


def rest_line(plan: NightPlan) -> str:
    """Return how many targets of a long list are not shown, and why; nothing if all are."""
    rest = [outlook for outlook in plan.outlooks if not _shown(outlook, plan)]
    up = sum(bool(outlook.reach.stretches) for outlook in rest)
    return (f"{len(rest)} more targets are not planned: {up} can be observed, but the time is better spent elsewhere "
            f"or too short, {len(rest) - up} cannot tonight. --json has the reason of each.") if rest else ""


def timeline_lines(plan: NightPlan) -> list[str]:
    """Return blocks and what is between them in order of time, a line each, under a line of heads."""
    table: list[tuple[str, ...]] = [("", "", "target", "filter", "subs", "", "telescope", "altitude", "", "")]
    table += [_block_cells(block, plan) for block in plan.blocks]
    widths = [max(len(row[place]) for row in table) for place in range(len(table[0]))]
    lines = [(float(mjd_tt(block.start)), _aligned(cells, widths))
             for block, cells in zip(plan.blocks, table[1:], strict=True)]
    lines += [(float(mjd_tt(event.start)), f"{_span(event.start, event.end, plan)}  · {event.text}")
              for event in plan.events if event.kind != "focus"
              and (event.kind != "filter" or elapsed(event.start, event.end).to_value(u.min) >= SHORTEST_SHOWN)]
    return [_aligned(table[0], widths)] + [line for _, line in sorted(lines, key=lambda pair: pair[0])]


def flip_rows(plan: NightPlan) -> list[tuple[str, ...]]:
    """Return a row for each flip that using all time of a target shown would take, as in FLIP_COLUMNS."""
    shown = {outlook.request.target.name for outlook in plan.outlooks if _shown(outlook, plan)}
    return [(flip.target.name, clock_text(flip.earliest, plan.site), clock_text(flip.latest, plan.site),
             "no flip needed" if flip.planned is None else clock_text(flip.planned, plan.site),
             "" if flip.planned is None else f"{flip.lost.to_value(u.min):.0f} min")
            for flip in plan.flips if flip.target.name in shown]


def bound_line(plan: NightPlan) -> str:
    """Return how good the plan is, whether the night is worth it, and how often the focus wants a look."""
    focus = "" if plan.times is None else f" Focus every {plan.times.refocus.to_value(u.min):.0f} min."
    return f"{good_text(plan)} {worth_text(plan)}{focus}"


def _span(start: Time, end: Time, plan: NightPlan) -> str:
    """Return ``19:38 to 04:49 CET``; both zones where the clocks change between."""
    first, last = clock_text(start, plan.site), clock_text(end, plan.site)
    return f"{first[:5] if first[6:] == last[6:] else first} to {last}"


def _dark_line(plan: NightPlan) -> str:
    if plan.dark is None:
        text = plan.night.reason
    else:
        text = (f"Dark (Sun below −{plan.night.depression.value:.0f}°): {_span(*plan.dark, plan)}, "
                f"{plan.night.dark_hours.value:.1f} h")
    narrow = plan.twilight_dark
    if narrow is None:
        return text
    return (f"{text.rstrip('.')}; narrow bands (−{narrow.depression.value:.0f}°): "
            f"{_span(narrow.start, narrow.end, plan)}")


def _moon_line(plan: NightPlan) -> str:
    moon = plan.moon
    lit = f"Moon {percent(moon.illumination)} lit"
    if moon.reason:
        return f"{lit}. {moon.reason}"
    events = sorted([(float(mjd_tt(at)), f"rises {clock_text(at, plan.site)}") for at in moon.rises]
                    + [(float(mjd_tt(at)), f"sets {clock_text(at, plan.site)}") for at in moon.sets])
    return f"{lit}, {', '.join(text for _, text in events)}"


def _target_row(outlook: Outlook, plan: NightPlan) -> tuple[str, ...]:
    window = outlook.reach.window
    spans = ", ".join(_span(start, end, plan) for start, end in window.windows)
    planned = outlook.clock_time.to_value(u.h)
    remark = "never dark" if plan.dark is None and outlook.reason == plan.night.reason else outlook.reason
    if planned:
        bands: dict[str, float] = {}
        for block in plan.blocks:
            if block.target.name == outlook.request.target.name:
                bands[block.band.name] = bands.get(block.band.name, 0.0) + block.equivalent_hours.to_value(u.h)
        remark = ", ".join(f"{name} {hours:.1f}{_wanted(outlook, name)}" for name, hours in bands.items())
    return (outlook.request.target.name, spans or "—",
            f"{window.maximum_altitude.to_value(u.deg):.0f}°", f"{planned:.1f} h" if planned else "",
            f"{outlook.planned.to_value(u.h):.2f} h" if planned else "", remark)


def _wanted(outlook: Outlook, band: str) -> str:
    """Return what is still wanted through a filter, ``of 3 h`` or of a ratio; hours alone where nobody said."""
    if outlook.request.usual:
        return " h"
    need = next(need for need in outlook.request.needs if need.band.name == band)
    if need.hours is None:
        return f" of S/N {need.signal_to_noise:g}"
    return f" of {(need.hours - need.done).to_value(u.h):.3g} h"


def _block_cells(block: Block, plan: NightPlan) -> tuple[str, ...]:
    side = f"{block.pier_side} of the pier" if block.pier_side else ""
    moon = f"Moon {block.moon_separation.to_value(u.deg):.0f}° away" if block.moon_up else "Moon down"
    focus = ", ".join(clock_text(at, plan.site)[:5] for at in block.refocus)
    return (_span(block.start, block.end, plan), "", block.target.name, block.band.name,
            f"{block.sub_count} × {block.sub_exposure.to_value(u.s):g} s", "guided" if block.guided else "unguided",
            side, f"{block.altitude.to_value(u.deg):.0f}°", moon,
            f"focus {focus}" if focus else "")


def _aligned(cells: tuple[str, ...], widths: list[int]) -> str:
    """Return cells in columns; subs and altitude to the right."""
    return "  ".join(cell.rjust(width) if place in (4, 7) else cell.ljust(width)
                     for place, (cell, width) in enumerate(zip(cells, widths, strict=True))).rstrip()
