"""What another rig or site changes in the advice: verdict and sub-exposure before and after, for one target."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from astropy import units as u

from planner.fields import told
from planner.rig import Rig, Site
from planner.session.advice.answer import LOWEST_ALTITUDE, Advice, advise, filter_named, night_for
from planner.session.advice.guide_star import NearbyStars
from planner.session.advice.text import headline, length_text
from planner.visibility import target_window
from planner.visibility.target import Target


@dataclass(frozen=True, kw_only=True)
class ShortAdvice:
    """The verdict and lengths of an advice; None for a way that does not work."""

    verdict: Annotated[str, "unguided, either, guided or neither"]
    sub_exposure: Annotated[u.Quantity[u.s] | None, "recommended length"]
    unguided: Annotated[u.Quantity[u.s] | None, "best length without guiding"]
    unguided_longest: Annotated[u.Quantity[u.s] | None, "longest good length without guiding"]
    guided: Annotated[u.Quantity[u.s] | None, "best length with guiding"]
    guided_longest: Annotated[u.Quantity[u.s] | None, "longest good length with guiding"]


@dataclass(frozen=True, kw_only=True)
class AdviceChange:
    """The advice for one target with the rig as it was thought to be, and as it was measured."""

    sentence: Annotated[str, "both headlines, or that nothing changes"]
    before: Advice
    after: Advice

    @property
    def changed(self) -> Annotated[bool, "whether the verdict or the recommended length differs"]:
        """Whether the verdict or the recommended length differs."""
        return headline(self.before) != headline(self.after)

    target = told(str, "for which the advice is compared", lambda change: change.after.target.name)
    rig = told(str, "whose advice is compared", lambda change: change.before.rig.name)
    site = told(str, "where", lambda change: change.before.site.name)
    night = told(str, "date of its evening", lambda change: change.after.night.date.isoformat())
    short_before = told(ShortAdvice | None, "the advice as it was; null where the target never stands high enough",
                        lambda change: _short(change.before), key="before")
    short_after = told(ShortAdvice | None, "the advice as it becomes; null where the target never stands high enough",
                       lambda change: _short(change.after), key="after")


def _short(advice: Advice) -> ShortAdvice | None:
    if advice.need is None:
        return None
    best, alone, guided = ((None, None) if sub is None or not sub.speed > 0 else (sub.recommended, sub.longest)
                           for sub in (advice.better, advice.need.unguided, advice.need.guided))
    return ShortAdvice(verdict=advice.need.verdict, sub_exposure=best[0], unguided=alone[0], unguided_longest=alone[1],
                       guided=guided[0], guided_longest=guided[1])


def advice_change(before: Rig, after: Rig, site: Site, target: Target, date: datetime.date, *,
                  stars: NearbyStars | None = None, site_after: Site | None = None) -> AdviceChange:
    """Return the advice with a rig before and after a change, and one sentence that compares them.

    `before` and `after`: the same rig as the equipment file has it, and as it was measured or may become. `target`: for
    which the advice is given; `typical_target` finds one. `date` and `stars`: as in `advise`. `site_after`: where it is
    another site that changes the advice.
    """
    first = advise(target, before, site, date, stars=stars)
    second = advise(target, after, site_after or site, date, stars=stars)
    return AdviceChange(sentence=_sentence(first, second), before=first, after=second)


def _sentence(before: Advice, after: Advice) -> str:
    old, new = headline(before), headline(after)
    place = f'rig "{after.rig.name}", night of {after.night.date}'
    alone = _without_guiding(before, after)
    if old == new:
        return f"The advice stays ({place}): {new}.{alone}"
    return f"The advice changes ({place}): before, {old}; now, {new}.{alone}"


def _without_guiding(before: Advice, after: Advice) -> str:
    """Return the unguided lengths where the verdicts do not show them and they differ."""
    needs = [advice.need for advice in (before, after)]
    if any(need is None for need in needs) or all(
            need is None or need.better is need.unguided or need.verdict == "either" for need in needs):
        return ""
    old, new = (length_text(need.unguided) if need is not None and need.unguided.speed > 0 else "no length"
                for need in needs)
    return "" if old == new else f" Without guiding, {old} before and {new} now."


def typical_target(site: Site, date: datetime.date, targets: Sequence[Target], *, rig: Rig) -> Target:
    """Return the target of a list that stands highest tonight, of those up when it is dark.

    Where none is up, the one that comes highest here on other nights.
    """
    dark = night_for(filter_named(rig, None), site, date)
    windows = [target_window(target, site, dark, minimum_altitude=LOWEST_ALTITUDE, mount=rig.mount)
               for target in targets]
    up = [window for window in windows if window.windows] or windows
    return max(up, key=lambda window: window.maximum_altitude.to_value(u.deg)).target
