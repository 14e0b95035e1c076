"""The plan of a night in sentences: the headline, how good it is, what is left out and why."""

from collections.abc import Callable

from astropy import units as u
from astropy.time import Time

from planner.exposure.reasons import percent
from planner.exposure.sub_exposure import PLATEAU
from planner.session.night.draft import STAY
from planner.session.night.model import LEAST_SHARE, NightPlan
from planner.visibility import clock_text

MOON_FIRST = "What the Moon spoils more than others counts for less: dark nights will come for it. "
FEW_TARGETS = ("Targets are few, so that each gets long: beginning one that nothing is done of counts "
               f"{STAY:g} of all that its main filter may bring. ")
MANY = 4  # targets that a headline names
# Common practice, no source.
FLATS_CAUTION = "Flats only once the Sun is down, and never toward it; anew for each camera angle."
FLIP_CAUTION = "Be at the mount for the flip: nothing may touch pier or tripod, and no cable may pull."
SUN_CAUTION = ("Cover the telescope before sunrise{when}: sunlight through it blinds an eye and burns a camera "
               "within a second.")
DARK_CAUTION = "Darks need the telescope covered and no light around."
ALONE_CAUTION = "Dress for the cold, keep the ground clear, and tell someone where you are."


def cautions(plan: NightPlan, clock: Callable[[Time], str] | None = None) -> tuple[str, ...]:
    """Return what to take care of in the order of the night; `clock` writes a moment, with its zone if absent."""
    if not plan.blocks:
        return ()
    kinds, sunrise = {event.kind for event in plan.events}, plan.night.sunrise
    when = "" if sunrise is None else f" at {clock(sunrise) if clock else clock_text(sunrise, plan.site)}"
    return (*([FLATS_CAUTION] if "flats" in kinds else []), ALONE_CAUTION, *([FLIP_CAUTION] if "flip" in kinds else []),
            SUN_CAUTION.format(when=when), *([DARK_CAUTION] if "darks" in kinds else []))


def headline(plan: NightPlan) -> str:
    """Return what there is to do, in one line."""
    if not plan.blocks:
        return f"Nothing to do on the night of {plan.date}"
    names = list(dict.fromkeys(block.target.name for block in plan.blocks))
    shown = names if len(names) <= MANY else [*names[:MANY - 1], f"{len(names) - MANY + 1} more"]
    listed = shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
    start, end = clock_text(plan.blocks[0].start, plan.site), clock_text(plan.blocks[-1].end, plan.site)
    if start.split()[1:] == end.split()[1:]:
        start = start.split()[0]
    return f"{listed}, from {start} to {end}"


def good_text(plan: NightPlan) -> str:
    """Return how much the plan gains, and what is proven about it, in plain words."""
    hours = sum((block.equivalent_hours.to_value(u.h) for block in plan.blocks), 0.0)
    clock = sum(((block.end - block.start).to_value(u.h) for block in plan.blocks), 0.0)
    of, few = ("the targets chosen", FEW_TARGETS) if plan.few else ("all targets", "")
    return (f"{clock:.1f} h of the clock count for {hours:.1f} h of a perfect camera and mount with the target in the "
            f"zenith of a dark, moonless sky. Within {100 * max(plan.gap, 0.001):.1f} % of the best possible plan of "
            f"{of} in slots of {plan.slot.to_value(u.min):g} min, each filter of a target in one go; plans are "
            f"compared by the sum of priority × √(hours counted / hours wanted). {MOON_FIRST if plan.moonlit else ''}"
            f"{few}{_lengths(plan)} They "
            "are for the figures as they stand; the advice on a target also weighs what is not known of these."
            f"{_too_wide(plan)}")


def _lengths(plan: NightPlan) -> str:
    """Return by what the sub lengths were chosen."""
    good = f"one for each filter of a target, with at least {percent(PLATEAU)} of what its best brings"
    return (f"As few sub lengths as will do, {good}: every length is a set of darks." if plan.few_lengths else
            f"Sub lengths are {good}; no darks are taken, so that each is chosen by itself.")


def _too_wide(plan: NightPlan) -> str:
    """Return where the planned targets' stars get too wide, with the space before it; empty where they do nowhere."""
    low = [f"{outlook.request.target.name} {outlook.too_wide_below.to_value(u.deg):.0f}°" for outlook in plan.outlooks
           if outlook.planned > 0 and outlook.too_wide_below is not None]
    return f" Below these altitudes the air makes the stars too wide to keep: {', '.join(low)}." if low else ""


def worth_text(plan: NightPlan) -> str:
    """Return whether the night is worth setting up for, against a dark night of the site."""
    if not plan.blocks:
        return "Not worth setting up: nothing is planned."
    counts = " and ".join(f"{name} count for {percent(share)}" for name, share in plan.dark_shares.items())
    low = [name for name, share in plan.dark_shares.items() if share < LEAST_SHARE]
    start = "Worth setting up" if plan.worth_setting_up else f"Hardly worth setting up for {' or '.join(low)}"
    also = f", hardly for {low[0]}" if low and plan.worth_setting_up else ""
    return f"{start}{also}: {counts} of what they would under the dark, moonless zenith of this site."


def unplanned(plan: NightPlan) -> list[tuple[str, str]]:
    """Return the targets without a block, and why."""
    return [(outlook.request.target.name, outlook.reason) for outlook in plan.outlooks if outlook.reason]
