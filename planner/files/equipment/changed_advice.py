"""What a measured mount, or another part, changes in the advice; guide stars are of the packaged list."""

import datetime
from dataclasses import dataclass, replace
from typing import Annotated

from planner.files.own_files import packaged_data
from planner.files.targets import find_target, find_targets
from planner.files.targets.stars import stars_around
from planner.rig import Equipment, Mount, Rig, Site
from planner.session.advice.change import AdviceChange, advice_change, typical_target
from planner.session.advice.glance import glance
from planner.visibility.target import Target


@dataclass(frozen=True, kw_only=True)
class Effect:
    """What a measurement changes."""

    saved: Annotated[str | None, "file in which the mount was saved"] = None
    advice: Annotated[AdviceChange | None, "the advice with the mount as it was, and as measured"] = None


@dataclass(frozen=True, kw_only=True)
class NotedEffect(Effect):
    """The same, with what else is to be known of the mount."""

    mount_notes: Annotated[tuple[str, ...], "what else is to be known of the mount"] = ()


def changed_advice(
    rig: Rig, mount: Mount, site: Site, date: datetime.date, *, target: str | None = None
) -> AdviceChange:
    """Return the advice for a rig on its present mount and on the measured one.

    `rig`: as the equipment file has it. `mount`: as measured. `date`: local date of the evening. `target`: as for
    `find_target`; if absent, of the packaged list the one that stands highest that night.
    Raises InvalidInputError if nothing has the target's name.
    """
    chosen = find_target(target) if target is not None else typical_target(
        site, date, find_targets([str(packaged_data("targets.csv"))]), rig=rig)
    return advice_change(rig, replace(rig, mount=mount), site, chosen, date, stars=stars_around(chosen, rig))


def part_changed(before: Equipment, after: Equipment, kind: str, name: str, spelled: str, date: datetime.date,
                 target: Target) -> str | None:
    """Return in words the advice for the first rig that a part belongs to, before and after a change of the part.

    `kind` and `name`: of the part, such as ``"mount"``; `spelled`: its name after the change. A site counts for the
    first rig, and a rig stands on the first site. `target`: for which the advice is given. None
    where no rig has the part.
    """
    site, site_after = before.sites[0], after.sites[0]
    if kind == "site":
        site, site_after = before.site(name), after.site(spelled)
    rig = next((rig for rig in before.rigs if kind == "site" or _has(rig, kind, name)), None)
    if rig is None:
        return None
    changed = after.rig(spelled if kind == "rig" else rig.name)
    stars = stars_around(target, rig)
    change = advice_change(rig, changed, site, target, date, stars=stars, site_after=site_after)
    old, new = (dict(glance(advice)).get("Depth", "none") for advice in (change.before, change.after))
    return change.sentence + ("" if old == new else f" Depth: before, {old}; now, {new}.")


def _has(rig: Rig, kind: str, name: str) -> bool:
    if kind == "rig":
        return rig.name == name
    parts = rig.filters if kind == "filter" else (getattr(rig, kind),)
    return any(part is not None and part.name == name for part in parts)
