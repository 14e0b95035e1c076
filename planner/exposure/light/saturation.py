"""Saturation: how bright a star may be before its central pixel is full, and how many stars of a field are brighter.

Binning is in software, so it is the single pixel that saturates. The converter's offset is not known and not counted.
"""

import numpy as np
from astropy import units as u

from planner.checks import check_units
from planner.exposure.light.noise import PIXEL_RATE, dark_rate
from planner.exposure.light.photons import LightPath
from planner.rig import Camera


def saturation_limit(camera: Camera) -> u.Quantity[u.electron]:
    """Return the electrons at which one pixel stops: the full well, or the end of the converter's range before it."""
    return min(camera.full_well.value, (2.0**camera.bit_depth - 1) * camera.gain.value) * u.electron


@check_units
def filled_after(camera: Camera, filling: u.Quantity[PIXEL_RATE]) -> u.Quantity[u.s]:
    """Return the length of sub at which light alone, by *unbinned* pixel, fills it, any shape; infinite without."""
    with np.errstate(divide="ignore"):
        return saturation_limit(camera).value / filling.to_value(PIXEL_RATE) * u.s


@check_units
def saturation_magnitude(light: LightPath, *, exposure: u.Quantity[u.s], central_pixel_fraction: float,
                         sky_rate: u.Quantity[PIXEL_RATE], airmass: float = 0.0) -> u.Quantity[u.mag]:
    """Return the magnitude of the brightest star that stays below saturation.

    `exposure` (any shape). `central_pixel_fraction` (broadcast): share of the star's light in its central *unbinned*
    pixel, star centred on it (the worst case). `sky_rate` (broadcast): of the sky, per binned pixel of the rig.
    `airmass`: as in `LightPath.star`.
    Returns (shape of the broadcast): infinite where sky and dark current alone fill the pixel: every star saturates.
    """
    rig, exposure_s = light.rig, exposure.to_value(u.s)
    alone = sky_rate.to_value(PIXEL_RATE) / rig.binning**2 + dark_rate(rig.camera).to_value(PIXEL_RATE)
    room = saturation_limit(rig.camera).to_value(u.electron) - alone * exposure_s
    at_zero = light.star(0 * u.mag, airmass=airmass).to_value(u.electron / u.s)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.maximum(room, 0.0) / (at_zero * central_pixel_fraction * exposure_s)
        return -2.5 * np.log10(share) * u.mag


@check_units
def saturated_stars(magnitudes: u.Quantity[u.mag], limit: u.Quantity[u.mag]) -> np.ndarray:
    """Return how many stars of a field are brighter than a limit.

    `magnitudes` (n,). `limit` (any shape).
    Returns (shape of `limit`).
    """
    ordered = np.sort(np.ravel(magnitudes.to_value(u.mag)))
    return np.searchsorted(ordered, limit.to_value(u.mag), side="left")
