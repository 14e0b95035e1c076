"""A combination as a rig on the observer's mount, with the guider as it works on that telescope."""

from dataclasses import replace

from astropy import units as u

from planner.rig import Guider, Rig, Telescope
from planner.session.match.combination import Combination
from planner.session.match.combinations import Combinations

FARTHEST = 5 * u.deg  # that a pick-off may sit from the centre of the field


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
