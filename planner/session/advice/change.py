"""What another rig or site changes in the advice: verdict and sub-exposure before and after, for one target."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from astropy import units as u

from planner.rig import Rig, Site
from planner.session.advice.answer import LOWEST_ALTITUDE, Advice, advise, filter_named, night_for
from planner.session.advice.guide_star import NearbyStars
from planner.session.advice.text import headline, length_text
from planner.visibility import target_window
from planner.visibility.target import Target


@dataclass(frozen=True, kw_only=True)
class AdviceChange:
    """The advice for one target with the rig as it was thought to be, and as it was measured."""

    sentence: str  # plain words: both headlines, or that nothing changes
    before: Advice
    after: Advice

    @property
    def changed(self) -> bool:
        """Whether the verdict or the recommended length differs."""
        return headline(self.before) != headline(self.after)


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
