"""What a real mount makes of one combination: guide or not, how long a sub-exposure, and how much time in all."""

from dataclasses import dataclass, replace

from astropy import units as u

from planner.exposure.guide_need import GuideNeed, guide_need
from planner.exposure.integration import Integration, integration_time
from planner.exposure.scene import observing_scene
from planner.exposure.sub_exposure import SubExposure
from planner.rig import Guider, Rig, Telescope
from planner.session.advice.guide_star import guide_star
from planner.session.match.combination import Combination
from planner.session.match.combinations import Combinations

FARTHEST = 5 * u.deg  # that a pick-off may sit from the centre of the field


@dataclass(frozen=True, kw_only=True)
class OnMount:
    """One combination on the observer's mount."""

    combination: Combination
    need: GuideNeed
    total: Integration | None  # for the surface, one field; None where no sub is kept

    @property
    def sub(self) -> SubExposure:
        """The sub-exposure of the method that the verdict names."""
        return self.need.better


def on_mount(asked: Combinations, combination: Combination) -> OnMount:
    """Return the verdict for one of the ranked combinations, over the hours for which they were ranked.

    The guide star is the one to expect with 90 % probability; a pick-off moves with the telescope it looks through.
    """
    rig = rig_of(asked, combination)
    goal, hours = asked.goal, asked.hour_angle
    scene = observing_scene(rig, asked.site, asked.band, declination=asked.declination, hour_angle=hours,
                            brightness=goal.brightness, line=goal.line)
    star = None if asked.target is None else guide_star(rig, asked.target)
    need = guide_need(scene, guide_star=star)
    total = None
    if need.better.speed > 0:
        total = integration_time(scene, need.better, signal_to_noise=goal.ratio, area=goal.area)
    return OnMount(combination=combination, need=need, total=total)


def rig_of(asked: Combinations, combination: Combination) -> Rig:
    """Return the combination as a rig on the mount it was asked for."""
    return replace(asked.rig, name=combination.name, telescope=combination.train, camera=combination.camera,
                   binning=combination.binning, guider=guider_on(asked.rig.guider, combination.train))


def guider_on(guider: Guider | None, train: Telescope) -> Guider | None:
    """Return the guider on this telescope: a pick-off looks through it, at the same place in the focal plane."""
    if guider is None or not guider.off_axis:
        return guider
    offset = guider.off_axis_offset * (guider.focal_length / train.focal_length).to_value(u.one)
    return replace(guider, aperture=train.aperture, focal_length=train.focal_length,
                   off_axis_offset=min(offset, FARTHEST))
