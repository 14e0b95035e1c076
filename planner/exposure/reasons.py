"""The reasons behind a verdict, as plain sentences."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from astropy import units as u

from planner.constants import AIR_SPREAD
from planner.exposure.sub_exposure import GUSTS, SubExposure, shortest_best
from planner.tracking import BudgetTerm, GuideLoop

CANCELS = 0.7  # the sum of all drifts stays under this share of their sum in quadrature: worth a sentence
SMOOTH = ("polar altitude error", "polar azimuth error", "refraction", "drive rate", "pointing model", "flexure")
FELT = 0.3  # of the total on that axis: smaller drifts do not decide
SKY_FILLS = "sky alone fills every pixel"
GUIDER_GAIN = 1.05  # a guider that makes subs less than 5 % faster is not worth its weight
AIR_DECIDES = 0.95  # of the subs of a perfect mount kept: fewer, and the air is worth a sentence
SHAKEN_ROUND = 0.02  # of the subs: a mount that keeps so many more than a perfect one shakes drawn-out stars round
MANY_TIMES = 100  # faster than this: the other way keeps next to nothing
NOTABLE = 0.1  # of the sum of all drifts: smaller drifts are not named


def percent(share: float) -> str:
    """Return a share as a person reads it: ``98 %``."""
    return f"{100 * share:.0f} %"


def times(ratio: float) -> str:
    """Return how many times, with the two digits that a speed carries."""
    return f"{float(f'{ratio:.2g}'):g}"


def reasons_of(need: Any, *, neither: float, gusts: u.Quantity[u.h], narrow: bool = False) -> tuple[str, ...]:
    """Return the reasons of a `GuideNeed`, first what decides.

    `neither` is the share of a perfect mount asked for, `gusts` the mean time between them; `narrow`: of the filter.
    """
    filtered = "" if narrow else " or a narrower filter"
    if not need.perfect_speed > 0:
        return (f"The {SKY_FILLS} within {need.unguided.recommended.value:g} s, on any mount. A "
                "narrower filter or a darker sky helps, or more room in a pixel.",)
    sentences = [_outcome(need, neither), _way("Unguided", need.unguided, need, gusts)]
    if need.guided is not None:
        sentences.append(_way("Guided", need.guided, need, gusts))
    sentences.append(f"What moves the star most at {need.budget_exposure.value:.0f} s unguided, the longest with 95 % "
                     f"of the best: {_largest_first(need.budget)}.")
    if need.air_keeps < AIR_DECIDES:
        kept = max(float(sub.kept) for sub in (need.unguided, need.guided) if sub is not None)
        share = "" if kept > need.air_keeps + SHAKEN_ROUND else (
            f": a perfect mount would keep {percent(need.air_keeps)} of the subs")
        sentences.append(f"The air itself widens the stars low down here or draws them out{share}. A higher "
                         f"target{filtered} helps, no mount does.")
    cancelling = cancelling_drifts(need.budget)
    if cancelling:
        sentences.append(cancelling)
    sentences += _guiding(need)
    return tuple(sentences)


def _way(name: str, sub: SubExposure, need: Any, gusts: u.Quantity) -> str:
    if not sub.speed > 0:
        return f"{name}: no sub-exposure of any length keeps its stars round."
    share = sub.speed / need.perfect_speed
    return (f"{name}, {sub.recommended.value:.0f} s is best: {percent(sub.kept)} of the subs kept, {percent(share)} of "
            f"what a perfect mount would bring. Longer is limited by {sub.limited_above_by}"
            f"{_if_gusts_differ(sub, gusts)}, shorter by {sub.limited_below_by}.")


def _if_gusts_differ(sub: SubExposure, gusts: u.Quantity) -> str:
    """Return what half and double the time between gusts would give, where gusts limit: it is hardly ever measured."""
    if sub.limited_above_by != GUSTS:
        return ""
    often, seldom = (_best_with_gusts(sub, gusts, factor) for factor in (0.5, 2.0))
    known = f" (taken to come every {gusts.to_value(u.h):.2g} h"
    if often == seldom:
        return f"{known}; half or twice as often gives the same)"
    return f"{known}; {often:g} s if twice as often, {seldom:g} s if half as often)"


def _best_with_gusts(sub: SubExposure, gusts: u.Quantity, factor: float) -> float:
    """Return the best step of the ladder [s] with another mean time between gusts."""
    more = np.exp(-(sub.ladder.exposure / gusts).to_value(u.one) * (1 / factor - 1))
    speeds = sub.ladder.speed * more
    return float(sub.ladder.exposure.value[shortest_best(speeds)])


def _outcome(need: Any, neither: float) -> str:
    ask = f"{percent(neither)} of what a perfect mount would bring (common practice, no source)"
    if need.verdict == "neither":
        best = max(max(sub.ladder.speed) for sub in (need.unguided, need.guided) if sub is not None)
        quite = "quite " if percent(best / need.perfect_speed) == percent(neither) else ""
        both = (f"Neither way {quite}reaches" if need.guided is not None else
                f"Without guiding, this does not {quite}reach")
        repair = repair_words(need)
        if need.guider_is_enough:
            without = repair if need.repair is None else f"repair first: {repair}"
            return f"{both} {ask}. Add a guider first.{_guider_words(need)} Without one, {without}."
        repair = repair.capitalize() if need.repair is None else f"Repair first: {repair}"
        return f"{both} {ask}. {repair}.{_guider_words(need)}"
    if need.guided is None:
        share = percent(max(need.unguided.ladder.speed) / need.perfect_speed)
        return (f"There is nothing to guide with; unguided reaches {share} of what a perfect mount would bring."
                f"{_guider_words(need)}")
    alone, held = max(need.unguided.ladder.speed), max(need.guided.ladder.speed)
    if need.verdict == "either":
        faster, gain = ("Guiding", held / alone) if held > alone else ("Doing without", alone / held)
        words = f"{faster} is {percent(gain - 1)} faster" if gain >= 1.01 else "The two are equally fast"
        return f"{words}: do what is simpler."
    if need.verdict == "guided":
        many = held > MANY_TIMES * alone
        return "Only guiding keeps the stars round." if many else f"Guiding is {times(held / alone)} times faster."
    if alone > MANY_TIMES * held:
        return "Only without guiding do the stars stay round: the loop adds more than it removes."
    return f"Unguided is {times(alone / held)} times faster than guided: the loop adds more than it removes."


def repair_words(need: Any) -> str:
    """Return what to repair first where neither way is good, and what that alone would bring."""
    if need.repair is None:
        return "no single repair would help"
    still = "" if need.repair_is_enough else ", still too little"
    return (f"{need.repair.cause}; that alone brings {percent(need.repair.speed / need.perfect_speed)} of a perfect "
            f"mount{still}")


def _guider_words(need: Any) -> str:
    if need.with_guider is None:
        return ""
    if need.with_guider < GUIDER_GAIN:
        return " A guide scope would bring next to nothing."
    return f" With a guide scope of 50 mm aperture: {times(need.with_guider)} times faster."


def _largest_first(budget: Sequence[BudgetTerm]) -> str:
    """Return the three largest terms in words, both axes together."""
    squares: dict[str, float] = {}
    for row in budget:
        if not row.term.startswith("total"):
            squares[row.term] = squares.get(row.term, 0.0) + row.rms.to_value(u.arcsec) ** 2
    ordered = sorted(squares, key=lambda name: -squares[name])[:3]
    shown = [f"{name} {np.sqrt(squares[name]):.2f}″" for name in ordered if squares[name] > 0]
    return ", ".join(shown) + " rms" if shown else "none"


def cancelling_drifts(budget: tuple[BudgetTerm, ...]) -> str:
    """Return a sentence where smooth drifts cancel each other on one axis, or an empty one."""
    for axis in ("dec", "ra"):
        rms = {row.term: row.rms.to_value(u.arcsec) for row in budget if row.axis == axis}
        together, parts = rms.get("total drift", 0.0), {name: rms.get(name, 0.0) for name in SMOOTH}
        apart = np.sqrt(sum(part**2 for part in parts.values()))
        named = [name for name in sorted(parts, key=lambda name: -parts[name]) if parts[name] > NOTABLE * apart]
        if apart > max(FELT * rms.get("total", 0.0), 0.01) and together < CANCELS * apart and len(named) > 1:
            mend = [name for name in named[:2] if name != "refraction"]
            return (f"In {'Dec' if axis == 'dec' else 'RA'}, {' and '.join(named[:2])} partly cancel: {together:.2f}″ "
                    f"rms together, {apart:.2f}″ if they were independent. Repairing "
                    f"{'one' if len(mend) == 2 else mend[0]} alone may make it worse.")
    return ""


def _guiding(need: Any) -> list[str]:
    star, loop = need.guide_star, need.loop
    if star is None:
        return []
    if loop is None:
        return [f"No guide star: none brighter than magnitude 18 is {star.source}."]
    main = max(loop.terms, key=lambda row: row.rms.to_value(u.arcsec)).term
    return [f"Guide star of magnitude {star.magnitude.value:.1f}, {star.source}. Guide exposures of "
            f"{loop.exposure.value:g} s, gain {loop.gain:g}, leave {_left_text(loop, 'ra')} rms in RA and "
            f"{_left_text(loop, 'dec')} in Dec, depending on wind and outer scale; most of it is {main}."]


def _left_text(loop: GuideLoop, axis: str) -> str:
    """Return what the loop leaves on one axis: a range, as image motion depends on wind and outer scale."""
    squares = {row.term: row.rms.to_value(u.arcsec) ** 2 for row in loop.terms if row.axis == axis}
    air = squares.pop("image motion", 0.0)
    low, high = (f"{np.sqrt(sum(squares.values()) + air * np.exp(2 * sign * AIR_SPREAD)):.1f}" for sign in (-1, 1))
    return f"about {low}″" if low == high else f"{low} to {high}″"
