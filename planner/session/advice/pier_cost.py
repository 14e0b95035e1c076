"""What the pier costs: the best way of working with its sway against the best without."""

from dataclasses import dataclass, replace
from typing import Annotated

from astropy import units as u

from planner.exposure.guide_need import GuideNeed, guide_need
from planner.exposure.reasons import percent
from planner.fields import Key, Spread, told
from planner.rig import Rig
from planner.session.advice.answer import Advice

WORTH_SAYING = 0.005  # of the night: less is nothing


@dataclass(frozen=True)
class PierCost:
    """What the pier adds to a rig, and what that costs."""

    rig: Annotated[Rig, Spread(only="sway sway_memory")]
    cost: Annotated[float, "share of the night that its sway costs", Key("cost_fraction")]
    file = told(str | None, "from which the sway is worked out; null if you gave it", lambda pier: pier.rig.sway_from)
    settling_after_slew = told(u.s, "of the pier", lambda pier: pier.rig.sway_settling_time)


def cost_of_pier(advice: Advice) -> PierCost | None:
    """Return what the pier adds and costs; None for a rig that names none."""
    return None if _without_pier(advice.rig) else PierCost(advice.rig, pier_cost(advice))


def pier_cost(advice: Advice) -> float:
    """Return the share of the night that the pier's sway costs, 0 to 1; 0 without a verdict or a sway."""
    scene, need = advice.scene, advice.need
    if scene is None or need is None or advice.rig.sway == 0:
        return 0.0
    still = replace(scene, rig=replace(scene.rig, sway=0 * u.arcsec))
    without = _fastest(guide_need(still, guide_star=advice.star))
    return max(1 - _fastest(need) / without, 0.0) if without > 0 else 0.0


def pier_lines(advice: Advice) -> tuple[tuple[str, str, str], ...]:
    """Return what the pier costs as (label, value, more); nothing for a rig that names no pier."""
    rig = advice.rig
    if advice.need is None or _without_pier(rig):
        return ()
    cost = pier_cost(advice)
    value = "nothing" if cost < WORTH_SAYING else f"{percent(cost)} of the night"
    known = "by the sway that you gave" if rig.sway_from is None else f"by {rig.sway_from}"
    slew = f", still {rig.sway_settling_time.value:.0f} s after a slew" if rig.sway_settling_time > 0 else ""
    held = rig.sway_in_jitter.value
    once = f"; {held:.2f}″ of it stood in the logged jitter and counts once" if held >= 0.005 else ""
    return (("The pier costs", value, f"it sways by {rig.sway.value:.2f}″ rms in your wind, {known}{slew}{once}"),)


def _fastest(need: GuideNeed) -> float:
    ways = [need.unguided] + ([] if need.guided is None else [need.guided])
    return max(float(way.ladder.speed.max()) for way in ways)


def _without_pier(rig: Rig) -> bool:
    return bool(rig.pier is None and rig.sway == 0)
