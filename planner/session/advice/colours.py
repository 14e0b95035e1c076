"""The colours of one frame: what each kind of pixel of a colour sensor records at once, and how deep each gets."""

from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.exposure.depth import Depth, depth_after
from planner.exposure.light.noise import PIXEL_RATE
from planner.exposure.light.recorded_band import RecordedBand, recorded_bands
from planner.exposure.scene import observing_scene
from planner.fields import Key, told
from planner.session.advice.answer import Advice


@dataclass(frozen=True, kw_only=True)
class ColourLight:
    """What one colour of a colour-filter array brings in the recommended subs."""

    band: RecordedBand
    spacing: Annotated[u.Quantity[u.arcsec], "from one pixel of this colour to the next"]
    sky_rate: Annotated[u.Quantity[PIXEL_RATE], "sky on a pixel of this colour", Key("sky_electrons_per_s_per_pixel")]
    depth: Annotated[Depth, "of this colour alone, in the hours of the advice"]
    colour = told(str, "of the pixels", lambda one: one.band.colour)
    centre = told(u.nm, "mean wavelength of what they record", lambda one: one.band.centre)
    width = told(u.nm, "of a box of the same light", lambda one: one.band.width)
    share = told(float, "of all pixels, those of this colour", lambda one: one.band.share, key="pixel_fraction")


def colours_at_once(advice: Advice) -> tuple[ColourLight, ...]:
    """Return the colours that a frame holds, the one with most light first; none on a mono sensor or without a sub."""
    scene, sub = advice.scene, advice.better
    bands = recorded_bands(advice.rig.camera, advice.band)
    if scene is None or sub is None or not sub.speed > 0 or advice.rig.camera.colour == "mono":
        return ()
    colours = []
    for band in bands:
        own = observing_scene(advice.rig, advice.site, band, declination=advice.target.dec, length=scene.length,
                              motion=scene.motion, hour_angle=scene.hour_angle, **advice.skylight)
        pitch = own.image_scale.to_value(u.arcsec / u.pix)
        colours.append(ColourLight(band=band, spacing=pitch / np.sqrt(band.share) * u.arcsec, sky_rate=own.sky_rate,
                                   depth=depth_after(own, sub, scene.length, advice.goal)))
    return tuple(colours)
