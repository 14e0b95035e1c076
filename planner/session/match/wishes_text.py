"""The words and the document of set-ups over a list of projects, and of what to buy for it."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from astropy import units as u

from planner.session.match.purchase import Saving
from planner.session.match.text import time_text
from planner.session.match.wishes import Served, all_hours, one_for_all


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


def saving_text(saving: Saving) -> str:
    """Return what a candidate saves: ``12 h, most on M 31``."""
    opened = f"{saving.opened} more of the targets" if saving.opened else ""
    hours = f"{time_text(saving.hours * u.h)}, most on {saving.most}" if saving.hours >= 0.1 else ""
    return "; ".join(filter(None, (opened, hours))) or "nothing"


def list_document(served: Sequence[Served], savings: Sequence[Saving]) -> dict[str, Any]:
    """Return the list as plain numbers and texts; keys end in their unit."""
    name, hours = one_for_all(served)
    return {
        "total_h": all_hours(served), "one_for_all": name or None, "one_for_all_h": _finite(hours),
        "projects": [{"target": one.wish.target.name, "filter": one.wish.band.name,
                      "left_h": float(one.wish.hours.value), "rig_reaches": one.reached,
                      "set_up": one.light[0] if one.light else None,
                      "set_up_h": _finite(one.hours(one.light[:1])),
                      "set_ups": [{"set_up": row.name, "takes_h": _finite(one.hours([row.name])),
                                    "reason": row.reason} for row in one.rows]} for one in served],
        "savings": [{"buy": one.name, "saved_h": one.hours, "targets_opened": one.opened, "most_on": one.most}
                    for one in savings],
    }


def _finite(hours: float) -> float | None:
    return hours if np.isfinite(hours) else None
