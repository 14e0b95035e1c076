# ruff: noqa: E501
"""A world handed to the planner with its true figures, the seeing as its median; the answer read as method and length."""

import numpy as np
from astropy import units as u
from worlds.motion import creep_way
from worlds.world import World

from planner.exposure.guide_need import GuideNeed, guide_need
from planner.exposure.guide_star import GuideStar
from planner.exposure.scene import Scene, observing_scene
from planner.rig.camera import Camera
from planner.rig.filter import Filter
from planner.rig.guider import Guider
from planner.rig.mount import Mount, PeriodicTerm
from planner.rig.rig import Rig
from planner.rig.site import Site
from planner.rig.telescope import Telescope


def band_of(world: World) -> Filter:
    """Return the filter of a world."""
    return Filter(name="band", centre=world.centre_nm * u.nm, width=world.width_nm * u.nm)


def rig_of(world: World) -> Rig:
    """Return the planner's rig of a world."""
    telescope = Telescope(name="telescope", aperture=world.aperture_mm * u.mm, focal_length=world.focal_mm * u.mm,
                          transmission=0.9, optical_blur=world.blur * u.arcsec)
    camera = Camera(name="camera", pixel_pitch=world.pitch_um * u.um, columns=100, rows=100,
                    quantum_efficiency=world.quantum_efficiency, read_noise=world.read_noise * u.electron,
                    full_well=50000 * u.electron, gain=1 * u.electron / u.adu, download=world.download * u.s,
                    dark_current=world.dark_current * u.electron / u.s, colour="bayer" if world.colour else "mono")
    mount = Mount(name="mount", jitter=world.jitter * u.arcsec, wander=world.wander * u.arcsec / u.min**0.5,
                  polar_altitude_error=world.polar_alt_arcmin * u.arcmin,
                  polar_azimuth_error=world.polar_az_arcmin * u.arcmin, settling_time=world.settle * u.s,
                  periodic=tuple(PeriodicTerm(period=period * u.s, amplitude=size * u.arcsec)
                                 for period, size in world.periodic))
    guider = None
    if world.guider:
        aperture, _, latency = world.guider
        off_axis = aperture > 50
        guider = Guider(name="guider", aperture=aperture * u.mm, focal_length=(world.focal_mm if off_axis else 200) * u.mm,
                        pixel_pitch=4 * u.um, columns=1200, rows=900, latency=latency * u.s, off_axis=off_axis,
                        differential_flexure=world.flexure * u.arcsec / u.h,
                        differential_flexure_angle=(np.pi / 2 - creep_way(world)) * u.rad)
    return Rig(name="rig", telescope=telescope, camera=camera, mount=mount, guider=guider, filters=(band_of(world),),
               dither_interval=world.dither_interval / 60 * u.min)


def scene_of(world: World, rig: Rig) -> Scene:
    """Return the scene of a world with a rig, its seeing as the median."""
    site = Site(name="site", latitude=world.latitude_deg * u.deg, longitude=0 * u.deg, seeing=world.seeing * u.arcsec,
                sky_brightness=world.sky * u.mag / u.arcsec**2, seeing_spread=world.spread,
                disturbance_interval=world.gust_interval / 3600 * u.h, temperature=15 * u.deg_C)
    return observing_scene(rig, site, band_of(world), declination=world.declination_deg * u.deg,
                           hour_angle=np.linspace(*world.hour_angles_h, 16) * u.hourangle)


def guided_by(world: World) -> GuideStar | None:
    """Return the guide star of a world that has a guider."""
    if not world.guider:
        return None
    return GuideStar(magnitude=world.guider[1] * u.mag, offset=[0.2, 0.2] * u.deg, source="catalogue")


def advice(world: World) -> GuideNeed:
    """Return the planner's verdict on a world."""
    return guide_need(scene_of(world, rig_of(world)), guide_star=guided_by(world))


def followed(need: GuideNeed) -> tuple[str, float]:
    """Return the method and the length [s] of one who does what the verdict says; "either" as its headline."""
    guided, sub = need.better is need.guided, need.better
    return "guided" if guided else "unguided", float(sub.recommended.to_value(u.s))
