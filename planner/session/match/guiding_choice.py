"""A set-up as a rig on the observer's mount, with the guider as it works on that telescope."""

from dataclasses import replace

from astropy import units as u

from planner.rig import Camera, Guider, Rig, Telescope

FARTHEST = 5 * u.deg  # that a pick-off may sit from the centre of the field


def rig_with(rig: Rig, train: Telescope, camera: Camera, *, name: str, binning: int = 1) -> Rig:
    """Return another telescope and camera on the rig's mount."""
    return replace(rig, name=name, telescope=train, camera=camera, binning=binning, reducer=None,
                   guider=guider_on(rig.guider, train))


def guider_on(guider: Guider | None, train: Telescope) -> Guider | None:
    """Return the guider on this telescope: a pick-off looks through it, at the same place in the focal plane."""
    if guider is None or not guider.off_axis:
        return guider
    offset = guider.off_axis_offset * (guider.focal_length / train.focal_length).to_value(u.one)
    return replace(guider, aperture=train.aperture, focal_length=train.focal_length,
                   off_axis_offset=min(offset, FARTHEST))
