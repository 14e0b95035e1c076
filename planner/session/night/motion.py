"""What the mount does to the stars of each target: the share of subs kept, by length, unguided and guided.

Computed once per target, through the rig's middle filter over the target's hours of the night, and used for all its
filters: the width of a star changes by 4 % from the middle of the visible to its ends. What depends on filter, sky and
Moon (`planner.exposure.speed`) is put on top for every slot.
"""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.exposure.guide_need import EITHER
from planner.exposure.guide_star import GuideStar
from planner.exposure.guided_share import guided_share
from planner.exposure.scene import Scene, observing_scene
from planner.exposure.share_grid import kept_share
from planner.exposure.speed import SUB_LADDER
from planner.exposure.star_motion import StarMotion, unguided_motion
from planner.rig import Rig, Site
from planner.session.advice.guide_star import NearbyStars, guide_star
from planner.visibility.target import Target

HOURS = 7  # hour angles over the target's window
GOOD = 1 - EITHER  # of a perfect mount: guiding could not win by more than what counts as equal


@dataclass(frozen=True, kw_only=True)
class MountMotion:
    """Shares over SUB_LADDER, (methods, lengths): unguided first, guided second where it is worth trying."""

    scene: Scene
    kept: np.ndarray  # share of subs that stay round and small
    light: np.ndarray  # noise-equivalent area without motion over that with it
    star: GuideStar | None


def mount_motion(target: Target, rig: Rig, site: Site, hour_angle: u.Quantity[u.deg],
                 stars: NearbyStars | None = None) -> MountMotion:
    """Return what the mount does to a target's stars between its first and last hour angle of the night.

    `hour_angle` (2,): first and last, target above the horizon between them. `stars`: catalogue stars around the
    target, for the guide star.
    """
    first, last = hour_angle.to_value(u.deg)
    hours = (np.linspace(first, last, HOURS) + 180) % 360 - 180
    scene = observing_scene(rig, site, rig.middle_filter, declination=target.dec, hour_angle=hours * u.deg,
                            motion=target.motion)
    motion = unguided_motion(scene)
    shares = [_shares(scene, motion)]
    star = None
    if rig.guider is not None and (shares[0][0] * shares[0][1])[_useful()].min() < GOOD:
        star = guide_star(rig, target, stars)
        guided = guided_share(scene, motion, star, nodes=SUB_LADDER)
        if guided is not None:
            shares.append(guided.shares.at_one_height().at(SUB_LADDER.to_value(u.s)))
    kept, light = (np.array([share[part] for share in shares]) for part in (0, 1))
    return MountMotion(scene=scene, kept=kept, light=light, star=star)


def _useful() -> np.ndarray:
    """Return the lengths that any filter could ask for: from a minute up to ten."""
    return (SUB_LADDER.value >= 60) & (SUB_LADDER.value <= 600)


def _shares(scene: Scene, motion: StarMotion) -> tuple[np.ndarray, np.ndarray]:
    """Return kept share and light at the ladder's lengths alone: an advice's within 0.02, for a third of the work.

    The subs of a block are compared with each other: those of other hours are not, and each slot counts its own air.
    """
    return kept_share(scene, motion, nodes=SUB_LADDER).at_one_height().at(SUB_LADDER.to_value(u.s))
