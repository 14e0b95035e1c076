"""The words of a season: when targets are best, and how many nights they still take."""

import datetime

from planner.session.year.season import Season, SeasonTarget

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def sentences(row: SeasonTarget, found: Season) -> list[str]:
    """Say of one target when it is best and how many nights it takes."""
    if row.reason or row.best_night is None or row.fortnight is None:
        return [f"{row.target.name}: {row.reason}"]
    at = found.dates.index(row.best_night)
    count = (row.fortnight.last - row.fortnight.first).days + 1
    best = (f"{row.target.name}: best night {day_text(row.best_night)} ({row.useful[at].value:.1f} useful of "
            f"{row.up[at].value:.1f} h)")
    if count > 1:
        best += (f"; best {count} nights {day_text(row.fortnight.first)} to {day_text(row.fortnight.last)} "
                 f"({row.fortnight.hours.value:.0f} h)")
    return [f"{best}.", *to_do_lines(row)]


def to_do_lines(row: SeasonTarget) -> list[str]:
    """Say what is left to do and how many nights that takes."""
    to_do = row.to_do
    if to_do is None:
        return []
    left = ", ".join(f"{name} {time.value:.1f} h{' (not with this rig)' if name in to_do.lacking else ''}"
                     for name, time in to_do.left.items() if time > 0)
    if not left:
        return ["Nothing left to do."]
    if to_do.nights is None:
        return [f"Left to do: {left}: more than these nights hold."]
    if to_do.nights == 0 or to_do.finished is None:
        return [f"Left to do: {left}: not with this rig."]
    nights = f"{to_do.nights} clear night{'s' if to_do.nights > 1 else ''}"
    return [f"Left to do: {left}: {nights} if the best ones, by {day_text(to_do.finished)} if all are clear and for it "
            "alone."]


def headline(found: Season) -> str:
    """Return when the one target, or each of several, is best, in one line."""
    good = [row for row in found.targets if row.fortnight is not None]
    if not good:
        only = found.targets[0] if len(found.targets) == 1 else None
        return f"{only.target.name}: no useful hour" if only else "None of the targets has a useful hour"
    if len(found.targets) > 1:
        return f"{len(good)} of {len(found.targets)} targets have useful hours"
    name, best = good[0].target.name, good[0].fortnight
    return f"{name} is best from {day_text(best.first)} to {day_text(best.last)}" if best else name


def day_text(date: datetime.date) -> str:
    """Return a date as people write it: ``6 December 2026``."""
    return f"{date.day} {date:%B %Y}"
