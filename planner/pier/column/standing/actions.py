"""What the pier must survive: a push, somebody who stumbles against it, the storm of the site."""

from dataclasses import dataclass

from astropy import units as u

from planner.constants import STANDARD_GRAVITY
from planner.pier.column.footing import Footing
from planner.pier.column.model import Column, TopLoads

AIR_DENSITY = 1.25 * u.kg / u.m**3  # EN 1991-1-4 clause 4.5
DRAG = 1.2  # of a cylinder or a box square to the wind, upper bound (EN 1991-1-4 clause 7.9, from memory)
# A grown person who leans or falls against something that stands, and at which height (common practice, no source).
STUMBLE, SHOULDER = 300 * u.N, 1.5 * u.m
# Partial factors: loads that come and go, what holds against them, lasting weight (EN 1990 tables A1.2(A) and (B),
# from memory).
VARIABLE, HOLDING, LASTING = 1.5, 0.9, 1.35


@dataclass(frozen=True, kw_only=True)
class Action:
    """One sideways force, not yet multiplied by a partial factor."""

    name: str
    force: u.Quantity[u.N]
    moment: u.Quantity[u.N * u.m]  # about the column's foot


def wind_force(area: u.Quantity[u.m**2], speed: u.Quantity[u.m / u.s]) -> u.Quantity[u.N]:
    """Return the force of a wind on an area square to it: drag times area times half the air's density times speed²."""
    return (DRAG * area * AIR_DENSITY * speed**2 / 2).to(u.N)


def actions(column: Column, footing: Footing, loads: TopLoads) -> tuple[Action, ...]:
    """Return the pushes that the pier must survive; a tripod is taken in before a storm, so it meets its own gust."""
    storm = loads.wind_speed if footing.kind == "tripod" else loads.storm
    reach = column.height + loads.push_height.to(u.m)
    stumble = Action(name=f"somebody who stumbles against it ({STUMBLE:g})", force=STUMBLE,
                     moment=off_balance(loads) + STUMBLE * min(reach, SHOULDER))
    push = Action(name=f"a push of {loads.push:g} at {reach:g}", force=loads.push,
                  moment=off_balance(loads) + loads.push * reach)
    top = wind_force(loads.wind_area, storm)
    shaft = 0 * u.N if loads.sheltered else wind_force(column.width.to(u.m) * column.height, storm)
    gust = Action(name=f"a gust of {storm.value:g} m/s", force=top + shaft,
                  moment=off_balance(loads) + top * (column.height + loads.centre.to(u.m)) + shaft * column.height / 2)
    return push, gust, stumble


def top_weight(loads: TopLoads) -> u.Quantity[u.N]:
    """Return the weight on the column."""
    return (loads.mass * STANDARD_GRAVITY).to(u.N)


def column_weight(column: Column) -> u.Quantity[u.N]:
    """Return the weight of the column with its fill."""
    return (column.mass * STANDARD_GRAVITY).to(u.N)


def off_balance(loads: TopLoads) -> u.Quantity[u.N * u.m]:
    """Return the moment of what is out of balance on top."""
    return (loads.unbalanced * STANDARD_GRAVITY).to(u.N * u.m)
