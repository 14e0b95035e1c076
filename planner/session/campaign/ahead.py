"""Tonight as part of the season: the plan of a night that leaves to later nights what they are better for, and why.

That lines go under the Moon, luminance into the dark, and what sets for the season first is no rule of the program;
these lines show where it came out so.
"""

import datetime
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Annotated, Any

import numpy as np
from astropy import units as u

from planner.exposure.reasons import percent
from planner.fields import Key, Spread, told
from planner.rig import Rig, Site
from planner.session.advice.answer import LOWEST_ALTITUDE
from planner.session.campaign.campaign import CLEAR, NIGHTS, Campaign, campaign
from planner.session.night.model import NightPlan
from planner.session.night.plan import plan_night
from planner.session.night.report.words import cautions, worth_text
from planner.session.projects.request import Request

AHEAD_COLUMNS = ("target", "filter", "tonight", "later", "still wanted", "why tonight")
LEAST = 0.1  # h: less of later nights is not shown, less of tonight as this
UP = 0.5  # h: a night with less of a target is none of its nights
LIT, SETS_IN = 0.4, 45  # lit share from which a Moon is named; nights within which a target sets for the season
BETTER = 1.1  # times as good as its later nights: named


@dataclass(frozen=True, kw_only=True)
class AheadRow:
    """What tonight and the later nights are for, of one target through one filter; equivalent hours."""

    target: Annotated[str, "that wants hours"]
    band: Annotated[str, "through which", Key("filter")]
    tonight: Annotated[float, "that the plan gives", Key("tonight_equivalent_hours")]
    later: Annotated[float, "expected of later nights", Key("later_equivalent_hours")]
    wanted: Annotated[float, "still to do", Key("wanted_equivalent_hours")]
    reason: Annotated[str, "why tonight, or why not"]


@dataclass(frozen=True)
class Ahead:
    """What a night's plan takes of the season, and what it leaves to later nights."""

    found: Annotated[Campaign, Spread(only="first_night last_night clear")]
    plan: NightPlan
    needs = told(tuple[AheadRow, ...], "the most tonight first", lambda ahead: ahead_rows(ahead.found, ahead.plan))


@dataclass(frozen=True)
class NightAnswer:
    """The plan of a night as commands and pages tell it, and the campaign that it follows, if any."""

    plan: Annotated[NightPlan, Spread()]
    found: Campaign | None
    worth_setting_up_sentence = told(str, "whether the night is worth setting up for, and why",
                                     lambda answer: worth_text(answer.plan))
    cautions = told(tuple[str, ...], "what to take care of, in the order of the night",
                    lambda answer: cautions(answer.plan))
    season = told(Ahead | None, "what tonight is for in the season; null where tonight stands alone", lambda answer:
                  None if answer.found is None else Ahead(answer.found, answer.plan))


def plan_ahead(requests: Iterable[Request], rig: Rig, site: Site, date: datetime.date, *, clear: float = CLEAR,
               nights: int = NIGHTS, lowest_altitude: u.Quantity[u.deg] = LOWEST_ALTITUDE, **limits: Any
               ) -> tuple[NightPlan, Campaign]:
    """Return the plan of a night that follows the season's allotment, and the campaign that gave it.

    Arguments as of `planner.session.campaign.campaign.campaign`; `limits` go to `plan_night`.
    """
    wanted = tuple(requests)
    found = campaign(wanted, rig, site, date, nights=nights, clear=clear, lowest_altitude=lowest_altitude)
    plan = plan_night(wanted, rig, site, date, lowest_altitude=lowest_altitude, season=found.expected, **limits)
    return plan, replace(found, tonight=_planned(found, plan))


def _planned(found: Campaign, plan: NightPlan) -> np.ndarray:
    """Return the equivalent hours that a plan brings each need of a campaign, (needs,)."""
    hours: dict[tuple[str, str], float] = {}
    for block in plan.blocks:
        key = (block.target.name, block.band.name)
        hours[key] = hours.get(key, 0.0) + float(block.equivalent_hours.to_value(u.h))
    return np.array([hours.get((found.requests[owner].target.name, need.band.name), 0.0)
                     for owner, need in found.needs])


def ahead_rows(found: Campaign, plan: NightPlan) -> list[AheadRow]:
    """Return what the plan gives tonight, what is left to later nights, and why; the most tonight first."""
    planned, rows = _planned(found, plan).tolist(), []
    for number, (owner, need) in enumerate(found.needs):
        name = found.requests[owner].target.name
        tonight, wanted = planned[number], float(found.worth.left[number])
        later = max(float(found.outcome.expected[number]) - tonight, 0.0)
        if tonight > 0 or later >= LEAST:
            rows.append(AheadRow(target=name, band=need.band.name, tonight=tonight, later=later,
                                 wanted=wanted, reason=_reason(found, number, tonight)))
    return sorted(rows, key=lambda row: -row.tonight)


def ahead_cells(rows: list[AheadRow]) -> list[tuple[str, ...]]:
    """Return the rows as texts, as in AHEAD_COLUMNS."""
    def hours(value: float, least: float) -> str:
        return f"{max(value, LEAST):.1f} h" if value > least else ""

    return [(row.target, row.band, hours(row.tonight, 0.0), hours(row.later, LEAST), f"{row.wanted:.1f} h", row.reason)
            for row in rows]


def ahead_head(found: Campaign) -> str:
    """Return what the rows rest on, in one sentence."""
    return (f"Season: {len(found.dates)} nights to {found.dates[-1]}, later ones clear with probability "
            f"{found.clear:g}; hours counted that the plan takes tonight, and that later nights are expected to bring")


def _reason(found: Campaign, number: int, tonight: float) -> str:
    """Say why now, or why not now."""
    watch, (_, need) = found.watch, found.needs[number]
    hours, rate, lit = watch.up[number].sum(axis=1), watch.night_rate[number], watch.moon[0] >= LIT
    last = int(np.flatnonzero(hours >= UP)[-1]) if (hours >= UP).any() else 0
    later = float(np.average(rate[1:], weights=hours[1:])) if hours[1:].any() else 0.0
    if not hours[0] >= UP:
        return "not up tonight"
    sets = f"sets for the season, last on {found.dates[last]}" if last < SETS_IN and last < len(hours) - 1 else ""
    kept = percent(rate[0] / rate.max()) if rate.max() > 0 else "0 %"
    if tonight > 0:
        if sets:
            return sets
        if lit and need.band.narrow:
            return f"a line under the Moon: {kept} of its best night"
        if rate[0] * BETTER < later:
            return f"nothing better is up: {kept} of its best night"
        return f"{'better tonight than later' if rate[0] > BETTER * later else 'as good as later'}: {kept} of its best"
    if lit and rate[0] * BETTER < later:
        return f"waits for a darker night: {kept} of its best night"
    return sets or "others gain more tonight"
