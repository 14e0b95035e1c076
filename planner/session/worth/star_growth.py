"""How much larger a star grows towards the horizon: what the seeing of more air does to fine detail."""

import numpy as np
from astropy import units as u

from planner.optics import image_scale, star_image
from planner.rig import Rig, Site
from planner.sky import airmass, seeing

HIGH_AIR = 2.0  # airmass at which the second star image is computed; areas grow as airmass^1.2 between


def star_growth(rig: Rig, site: Site, altitude: u.Quantity[u.deg]) -> np.ndarray:
    """Return the noise-equivalent area of a still star over that in the zenith.

    `rig`: seen through its middle filter: the growth differs by 2 % to the ends of the visible. `altitude` (any
    shape): apparent, above the horizon.
    Returns (like altitude): 1 or more.
    """
    band, telescope = rig.middle_filter, rig.telescope
    scale = image_scale(rig.camera.pixel_pitch, telescope.focal_length, binning=rig.binning)
    low, high = (star_image(
        seeing_fwhm=seeing(site.seeing, airmass=at * u.one, wavelength=band.centre), wavelength=band.centre,
        aperture=telescope.aperture, obstruction=telescope.obstruction, image_scale=scale,
        focus_blur_fwhm=telescope.field_blur).noise_equivalent_area.to_value(u.arcsec**2) for at in (1.0, HIGH_AIR))
    slope = (high / low - 1) / (HIGH_AIR**1.2 - 1)
    return 1 + slope * (np.maximum(airmass(altitude).value, 1.0) ** 1.2 - 1)
