"""The words of set-ups over a list of projects, and of what to buy for it."""

from collections.abc import Sequence

import numpy as np
from astropy import units as u

from planner.exposure.reasons import percent
from planner.rig import Rig
from planner.session.match.purchase import Saving
from planner.session.match.set_ups import CLEARLY
from planner.session.match.text import time_text
from planner.session.match.wishes import Served, all_hours, one_for_all

COLUMNS = ("target", "filter", "this rig", "best set-up", "takes", "next")
BUY_COLUMNS = ("one thing changed", "saves of this list", "in a year")


def list_headline(served: Sequence[Served]) -> str:
    """Return what the list takes with the best set-up for each target, and with one for all."""
    name, hours = one_for_all(served)
    if not name:
        return "No set-up can do any of these projects from here"
    seen = [one for one in served if one.light]
    left = sum(not np.isfinite(one.hours([name])) for one in seen)
    without = f", without {left} of the targets" if left else ""
    return (f"Left: {time_text(all_hours(served) * u.h)} (equivalent) with the best set-up for each target; with one "
            f"for all, {name}, {time_text(hours * u.h)}{without}")


def list_text(served: Sequence[Served], rig: Rig) -> str:
    """Return what the hours of the list are."""
    lost = any(one.light and not one.reached for one in served)
    return ("Equivalent hours (target in the zenith of a dark sky, perfect mount: the clock takes more) still to do on "
            f'the rig "{rig.name}", of all filters, and what other set-ups on its mount take for them: in proportion '
            "to the time of the figure that counts, around transit, no Moon." + (
                " Where this rig never gets there, its hours are taken as the fastest set-up's." if lost else ""))


def list_rows(served: Sequence[Served]) -> list[tuple[str, str, str, str, str, str]]:
    """Return per project: target, filter, hours on the observer's rig, the best set-up, its hours, the next one."""
    found = []
    for one in served:
        hours = time_text(one.wish.hours) if one.reached or not one.light else "never"
        if not one.light:
            best = "never high enough" if not one.rows else one.rows[0].reason
            found.append((one.wish.target.name, one.wish.band.name, hours, best, "", ""))
            continue
        second = f"{one.light[1]}, {time_text(one.hours(one.light[1:2]) * u.h)}" if len(one.light) > 1 else ""
        found.append((one.wish.target.name, one.wish.band.name, hours, one.light[0],
                      time_text(one.hours(one.light[:1]) * u.h), second))
    return found


def saving_row(saving: Saving, year: float) -> tuple[str, str, str]:
    """Return what is bought, what it saves of the list and, of the `year` hours that a year offers, in a year."""
    opened = f"{saving.opened} more of the targets" if saving.opened else ""
    felt = saving.share >= CLEARLY
    hours = f"{percent(saving.share)}, most on {saving.most}" if felt else ""
    text = "; ".join(filter(None, (opened, hours))) or saving.reason or (
        f"less than {percent(CLEARLY)}" if saving.hours > 0 else "nothing")
    return saving.name, text, f"{time_text(float(f'{saving.share * year:.2g}') * u.h)}" if felt else ""


def buy_text(served: Sequence[Served], year: float, clear: float) -> str:
    """Return what the savings are shares of."""
    if all_hours(served) == 0:
        return "With what is owned none of the list can be done: there are no hours to compare."
    total, offered = time_text(all_hours(served) * u.h), time_text(float(f"{year:.2g}") * u.h)
    return (f"Shares of the {total} (equivalent) that the list takes with what is owned; each line changes one thing, "
            f"and less than {percent(CLEARLY)} is within the accuracy. In a year: of the {offered} (useful) that a "
            f"year's nights offer such projects, {percent(clear)} of them clear (no source). Weigh the prices.")
