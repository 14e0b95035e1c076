"""The guide star and what the loop on it leaves: the guider's photons, the air over it, the mount's errors."""

from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from astropy import units as u

from planner.constants import OUTER_SCALE, SIDEREAL_DAY
from planner.errors import InvalidInputError
from planner.exposure.light.photons import above_sea_level, box_photons
from planner.exposure.scene import Scene
from planner.exposure.star_motion import StarMotion
from planner.fields import Key, told
from planner.optics import image_scale, still_star
from planner.rig import Filter, Guider
from planner.sky import expected_guide_star, seeing
from planner.tracking import GuideLoops, guide_loops, guide_star_noise, image_motion
from planner.tracking.guiding import EXPOSURES

# Guide cameras work without a filter: what glass and silicon pass. Common practice, no source.
GUIDE_BAND = Filter(name="guider", centre=600 * u.nm, width=400 * u.nm, transmission=1.0)
# Pixels small enough to leave the width of the guide star to air and optics; the noise formula adds the real ones.
TINY_PIXEL = 0.1 * u.arcsec / u.pix
GALACTIC_POLE = 90 * u.deg  # fewest stars
FOUND = 0.9  # probability that the field holds a star as bright as the one expected


@dataclass(frozen=True, kw_only=True)
class GuideStar:
    """The star the guider watches."""

    # Infinite: none to be expected.
    magnitude: Annotated[u.Quantity[u.mag], "V or G, outside the atmosphere", Key("magnitude_g")]
    offset: u.Quantity[u.deg]  # (2,), east and north of the field centre of the main camera
    source: Annotated[str, "where it comes from"]
    east = told(u.deg, "of the field centre of the main camera", lambda star: star.offset[0])
    north = told(u.deg, "of the field centre of the main camera", lambda star: star.offset[1])


def expected_star(guider: Guider, galactic_latitude: u.Quantity[u.deg] = GALACTIC_POLE) -> GuideStar:
    """Return the guide star to expect in this guider's field (see `expected_guide_star`).

    Its place is not known: a guide scope's lies at the rms distance of a random place in its field, a pick-off's at the
    pick-off, both to the north.
    """
    sides = np.array([guider.columns, guider.rows]) * (guider.pixel_pitch / guider.focal_length).to_value(u.one)
    field_deg = np.degrees(2 * np.arctan(sides / 2))
    magnitude = expected_guide_star(galactic_latitude, np.prod(field_deg) * u.deg**2, probability=FOUND)
    away_deg = guider.off_axis_offset.to_value(u.deg) if guider.off_axis else np.sqrt((field_deg**2).sum() / 12)
    latitude_deg = abs(galactic_latitude.to_value(u.deg))
    return GuideStar(
        magnitude=magnitude, offset=u.Quantity([0, away_deg], u.deg),
        source=f"expected with {100 * FOUND:.0f} % probability from star counts at galactic latitude "
               f"{latitude_deg:.0f}° (counted to magnitude 10, extrapolated beyond)")


def loops_on_star(scene: Scene, star: GuideStar, unguided: StarMotion) -> GuideLoops:
    """Return what guide exposures and gains leave on a star.

    `scene`: its rig must have a guider. `star`: of finite magnitude. `unguided`: what the loop has to correct:
    `unguided_motion`.
    Raises InvalidInputError if the rig has no guider, or the star no light.
    """
    guider = scene.rig.guider
    if guider is None:
        raise InvalidInputError("guider", None, "must be part of the rig to guide", "Add a [[guider]] to the rig.")
    if not np.isfinite(star.magnitude.value):
        raise InvalidInputError("guide star", star.magnitude, "must have a finite magnitude",
                                "Choose a guider with a larger field or aperture.")
    width = seeing(scene.site.seeing, airmass=scene.airmass * u.one, wavelength=GUIDE_BAND.centre)
    rate, sky_rate = _guider_rates(scene, guider, star)
    noise = guide_star_noise(
        star_rate=rate, exposure=EXPOSURES, seeing_fwhm=_width_on_guider(scene, guider, width), sky_rate=sky_rate,
        image_scale=image_scale(guider.pixel_pitch, guider.focal_length), read_noise=guider.read_noise)
    air = image_motion(seeing_fwhm=width, wavelength=GUIDE_BAND.centre, aperture=guider.aperture,
                       outer_scale=OUTER_SCALE)
    drift = _drift_rates(unguided)
    step_rms = unguided.encoder_step.to_value(u.arcsec) * np.cos(scene.declination.to_value(u.rad)) / np.sqrt(12)
    fast = np.sqrt(np.maximum(unguided.jitter.to_value(u.arcsec) ** 2 - scene.rig.sway.to_value(u.arcsec) ** 2, 0))
    return guide_loops(
        centroid_rms=noise, exposures=EXPOSURES, latency=guider.latency, image_motion=air, periods=unguided.periods,
        amplitudes=unguided.amplitudes, declination=scene.declination, drift_rate_ra=drift[0], drift_rate_dec=drift[1],
        wander=unguided.wander, jitter=np.hypot(fast, [step_rms, 0]) * u.arcsec, sway=scene.rig.sway,
        sway_memory=scene.rig.sway_memory)


def _guider_rates(scene: Scene, guider: Guider, star: GuideStar) -> tuple[u.Quantity, u.Quantity]:
    """Return the electrons per second of the guide star, and of the sky in one pixel of the guider.

    The sky is taken as bright, in magnitudes, as through the main camera's filter.
    """
    telescope = scene.rig.telescope
    open_share = 1 - telescope.obstruction**2 if guider.off_axis else 1.0
    catch = (np.pi / 4 * guider.aperture.to_value(u.m) ** 2 * open_share * guider.transmission
             * guider.quantum_efficiency)
    of_zero = box_photons(GUIDE_BAND, np.array(scene.airmass), above_sea_level(scene.site.height)) * catch
    sky_flux = (scene.sky_rate / scene.light.surface(0 * u.mag / u.arcsec**2)).to_value(u.one)
    pixel = (guider.pixel_pitch / guider.focal_length).to_value(u.one) * u.rad.to(u.arcsec)
    sky = box_photons(GUIDE_BAND, np.array(0.0), 0.0) * catch * sky_flux * pixel**2
    return of_zero * 10 ** (-0.4 * star.magnitude.to_value(u.mag)) * u.electron / u.s, sky * u.electron / u.s


def _width_on_guider(scene: Scene, guider: Guider, width: u.Quantity) -> u.Quantity:
    """Return the FWHM of the guide star from air, aperture and optics, without the guider's pixels."""
    telescope = scene.rig.telescope
    optics: dict[str, Any] = {}
    if guider.off_axis:
        optics = {"obstruction": telescope.obstruction, "focus_blur_fwhm": telescope.optical_blur}
    return still_star(seeing_fwhm=width, wavelength=GUIDE_BAND.centre, aperture=guider.aperture,
                      image_scale=TINY_PIXEL, **optics).fwhm


def _drift_rates(motion: StarMotion) -> list[u.Quantity]:
    """Return the rms drift over the track in ra and dec: what the loop must follow."""
    seconds = motion.track.hour_angle.to_value(u.deg) * SIDEREAL_DAY.to_value(u.s) / 360
    rates = [np.gradient(axis.to_value(u.arcsec), seconds) for axis in (motion.track.ra, motion.track.dec)]
    return [float(np.sqrt(np.mean(rate**2))) * u.arcsec / u.s for rate in rates]
