"""What a campaign comes to: what stays unfinished, what to drop or add, and a calendar of the nights."""

import datetime
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from astropy import units as u

from planner.exposure.reasons import percent
from planner.fields import Key, rows
from planner.session.campaign.campaign import SEASONS, Campaign
from planner.session.campaign.weather import PERSISTENCE
from planner.session.night.model import NightPlan
from planner.session.projects.neighbours import neighbour_notes

LEAST = 0.1  # h: less is not named
DOUBTFUL, HOPELESS = 0.5, 0.05  # odds below which a project is not counted on; below which it is better dropped
SPARE = 0.1  # of the clear dark that stays free: there is room for more
CALENDAR_COLUMNS = ("night", "dark", "Moon", "first, if it is clear", "then")

HOURS: dict[str, Any] = {"target": (str, "its name"), "filter": (str, "its name"), "hours": (float, "on the clock")}


@dataclass(frozen=True, kw_only=True)
class CampaignNight:
    """One night of the calendar; hours on the clock by target and filter, first what its first watch is for."""

    date: Annotated[datetime.date, "its evening", Key("night")]
    dark_hours: Annotated[float, "on the clock"]
    moon: Annotated[float, "lit share of the Moon", Key("moon_illumination")]
    hours: tuple[tuple[str, str, float], ...]
    each = rows("on the clock, in order of time", lambda night: night.hours, key="hours", **HOURS)


def hours_of(plan: NightPlan) -> tuple[tuple[str, str, float], ...]:
    """Return the hours on the clock that a plan gives by target and filter, in order of time."""
    hours: dict[tuple[str, str], float] = {}
    for block in plan.blocks:
        key = (block.target.name, block.band.name)
        hours[key] = hours.get(key, 0.0) + float((block.end - block.start).to_value(u.h))
    return tuple((*key, length) for key, length in hours.items())


def calendar(found: Campaign, plan: NightPlan) -> list[CampaignNight]:
    """Return the first night as planned, each other with what the seasons in which it is clear give on average."""
    nights = [CampaignNight(date=found.dates[0], dark_hours=float(found.watch.whole[0]),
                            moon=float(found.watch.moon[0]), hours=hours_of(plan))]
    for night, date in list(enumerate(found.dates))[1:]:
        clock = found.visits[:, night]
        used = np.flatnonzero(clock.sum(axis=1) >= LEAST)
        first = [int(np.argmax(clock[number] > 0)) for number in used]
        order = sorted(zip(first, -clock[used, first], used, strict=True), key=lambda one: one[:2])
        nights.append(CampaignNight(
            date=date, dark_hours=float(found.watch.whole[night]), moon=float(found.watch.moon[night]),
            hours=tuple((found.requests[found.needs[number][0]].target.name, found.needs[number][1].band.name,
                         float(clock[number].sum())) for _, _, number in order)))
    return nights


def calendar_rows(nights: list[CampaignNight]) -> list[tuple[str, ...]]:
    """Return the nights as texts, as in CALENDAR_COLUMNS."""
    rows: list[tuple[str, ...]] = []
    for night in nights:
        named = [f"{target} {band} {hours:.1f} h" for target, band, hours in night.hours]
        rows.append((night.date.isoformat(), f"{night.dark_hours:.1f} h", percent(night.moon),
                     named[0] if named else "nothing", ", ".join(named[1:])))
    return rows


def unfinished(found: Campaign) -> list[tuple[str, float, dict[str, float]]]:
    """Return projects that fewer than half of the seasons finish: odds, and hours expected to lack by filter."""
    rows = []
    for project, name in enumerate(found.projects):
        needs = found.rows(project)
        odds = found.outcome.finished(needs)
        if odds < DOUBTFUL:
            lacks = by_filter(found, needs, found.worth.left - found.outcome.expected)
            rows.append((name, odds, {band: hours for band, hours in lacks.items() if hours >= LEAST}))
    return rows


def by_filter(found: Campaign, needs: np.ndarray, hours: np.ndarray) -> dict[str, float]:
    """Return the hours of some needs by filter, those of a mosaic's panels together."""
    each: dict[str, float] = {}
    for number in needs:
        name = found.needs[number][1].band.name
        each[name] = each.get(name, 0.0) + float(hours[number])
    return each


def spare_hours(found: Campaign) -> float:
    """Return the hours of clear dark that the season leaves free, later nights at their odds."""
    free = np.maximum(found.watch.dark - found.outcome.clock.sum(axis=0), 0.0)
    return float((found.chance * free.sum(axis=1)).sum())


def weather_line(found: Campaign) -> str:
    """Say what the odds are made of."""
    return (f"Odds are shares of {SEASONS} simulated seasons to {found.dates[-1]}: later nights are clear with a "
            f"probability of {percent(found.clear)}, and {percent(PERSISTENCE)} of nights keep the sky of the night "
            "before (no source).")


def advice(found: Campaign) -> list[str]:
    """Say what is one job, what will not be finished, and what to drop or to add."""
    late = [one for one in unfinished(found) if one[0] not in found.never]
    lines = [*neighbour_notes(found.main), *(f"{name}: {reason}" for name, reason in found.never.items())]
    for name, odds, lacks in late:
        short = ", ".join(f"{band} {hours:.1f} h" for band, hours in lacks.items())
        how = "is not" if odds < HOPELESS else "is hardly"
        lines.append(f"{name} {how} finished by {found.dates[-1]} ({percent(odds)}): on average it lacks {short}.")
    never = [name for name, odds, _ in late if odds < HOPELESS]
    spare = spare_hours(found)
    dark = float((found.chance * found.watch.dark.sum(axis=1)).sum())
    if never:
        lines.append(f"Drop or put off: {', '.join(never)}. Begin them all the same where a part is worth having.")
    if dark > 0 and spare > SPARE * dark:
        lines.append(f"Room for more: {spare:.0f} h of {dark:.0f} h of clear dark stay free.")
    return lines
