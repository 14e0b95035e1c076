"""What a measured mount changes in the advice, with the target and the guide stars that the packaged lists give."""

import datetime
from dataclasses import replace

from planner.files.packaged import packaged_data
from planner.files.targets import find_target, find_targets
from planner.files.targets.around import stars_around
from planner.rig import Mount, Rig, Site
from planner.session.advice.change import AdviceChange, advice_change, typical_target


def changed_advice(
    rig: Rig, mount: Mount, site: Site, date: datetime.date, *, target: str | None = None
) -> AdviceChange:
    """Return the advice for a rig on its present mount and on the measured one.

    `rig`: as the equipment file has it. `mount`: as measured. `date`: local date of the evening. `target`: as for
    `find_target`; if absent, of the packaged list the one that stands highest that night.
    Raises InvalidInputError if nothing has the target's name.
    """
    if target is None:
        chosen = typical_target(site, date, find_targets([str(packaged_data("targets.csv"))]), rig=rig)
    else:
        chosen = find_target(target)
    return advice_change(rig, replace(rig, mount=mount), site, chosen, date, stars=stars_around(chosen, rig))
