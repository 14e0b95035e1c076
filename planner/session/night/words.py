"""The plan of a night in sentences: the headline, how good it is, what is left out and why."""

from astropy import units as u

from planner.session.night.plan import NightPlan
from planner.visibility import clock_text

MANY = 4  # targets that a headline names


def headline(plan: NightPlan) -> str:
    """Return what there is to do, in one line."""
    if not plan.blocks:
        return f"Nothing to do on the night of {plan.date}"
    names = list(dict.fromkeys(block.target.name for block in plan.blocks))
    shown = names if len(names) <= MANY else [*names[:MANY - 1], f"{len(names) - MANY + 1} more"]
    listed = shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
    start, end = clock_text(plan.blocks[0].start, plan.site), clock_text(plan.blocks[-1].end, plan.site)
    return f"{listed}, from {start} to {end}"


def good_text(plan: NightPlan) -> str:
    """Return how much the plan gains, and what is proven about it, in plain words."""
    hours = sum((block.equivalent_hours.to_value(u.h) for block in plan.blocks), 0.0)
    clock = sum(((block.end - block.start).to_value(u.h) for block in plan.blocks), 0.0)
    share = ("No order of these targets gains more" if plan.gap < 0.0005
             else f"No order of these targets gains more than {max(plan.gap, 0.001):.1%} beyond this one")
    return (f"{clock:.1f} h of the clock give what {hours:.1f} h would give with a perfect camera and mount and the "
            f"target in the zenith of a dark, moonless sky. {share}: value {plan.value:.2f}, proven bound "
            f"{plan.bound:.2f} (hours times priority, less what changes cost).")


def unplanned(plan: NightPlan) -> list[tuple[str, str]]:
    """Return the targets without a block, and why."""
    return [(outlook.request.target.name, outlook.reason) for outlook in plan.outlooks if outlook.reason]
