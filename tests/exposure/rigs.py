"""Invented rigs for the tests of this room; each test replaces what it is about."""

from dataclasses import replace

from astropy import units as u

from planner.exposure.light.photons import LightPath
from planner.rig import Camera, Filter, Guider, Mount, PeriodicTerm, Rig, Site, Telescope

GREEN = Filter(name="green", centre=545 * u.nm, width=88 * u.nm, transmission=1.0)
HYDROGEN = Filter(name="hydrogen", centre=656.3 * u.nm, width=7 * u.nm, transmission=0.9)

SITE = Site(name="hill", latitude=45 * u.deg, longitude=10 * u.deg, height=1000 * u.m,
            sky_brightness=21 * u.mag / u.arcsec**2, seeing=2.5 * u.arcsec)
CAMERA = Camera(name="middle", pixel_pitch=3.8 * u.um, columns=6000, rows=4000, quantum_efficiency=0.8,
                read_noise=1.5 * u.electron, full_well=50000 * u.electron, gain=0.8 * u.electron / u.adu,
                dark_current=0.002 * u.electron / u.s, download=2 * u.s)
TELESCOPE = Telescope(name="reflector", aperture=200 * u.mm, focal_length=1000 * u.mm, obstruction=0.3,
                      transmission=0.85)
EXACT = {"polar_altitude_error": 0 * u.arcmin, "polar_azimuth_error": 0 * u.arcmin}  # an axis known to the last
PERFECT_MOUNT = Mount(name="perfect", errors=EXACT)
# A star crosses many widths within a second: no length of sub keeps any round.
SHAKEN_MOUNT = Mount(name="shaken", errors=EXACT, periodic=(PeriodicTerm(period=0.7 * u.s, amplitude=40 * u.arcsec),))
WORM_MOUNT = Mount(name="worm", periodic=(PeriodicTerm(period=501 * u.s, amplitude=8 * u.arcsec),
                                          PeriodicTerm(period=125 * u.s, amplitude=1.5 * u.arcsec)),
                   jitter=0.2 * u.arcsec, wander=0.1 * u.arcsec / u.min**0.5,
                   polar_altitude_error=2 * u.arcmin, polar_azimuth_error=-3 * u.arcmin)
FRICTION_MOUNT = Mount(name="friction", encoder_counts=2**24, jitter=0.1 * u.arcsec,
                       wander=0.05 * u.arcsec / u.min**0.5, polar_altitude_error=1.5 * u.arcmin,
                       polar_azimuth_error=2 * u.arcmin)
GUIDER = Guider(name="guide scope", aperture=60 * u.mm, focal_length=240 * u.mm, pixel_pitch=4 * u.um,
                columns=1200, rows=900, differential_flexure=2 * u.arcsec / u.h)


def rig(**changes):
    """Return a rig; any field of Rig may be given, and any field of camera or telescope as `camera__field`."""
    parts = {"name": "test", "telescope": TELESCOPE, "camera": CAMERA, "mount": PERFECT_MOUNT, "filters": (GREEN,)}
    for key, value in changes.items():
        if "__" in key:
            part, field = key.split("__")
            parts[part] = replace(parts[part], **{field: value})
        else:
            parts[key] = value
    return Rig(**parts)


def light_path(one=None, band=GREEN):
    """Return the way of light through a rig at the site of these tests."""
    return LightPath(one or rig(), band, SITE)
