"""Invented equipment for the tests of combinations; each test replaces what it is about."""

from dataclasses import replace

from astropy import units as u
from exposure.rigs import CAMERA, GREEN, GUIDER, PERFECT_MOUNT, SITE, TELESCOPE

from planner.rig import Equipment, Filter, Reducer, Rig
from planner.session.match.combinations import weigh_combinations
from planner.visibility.target import Target

SHORT = replace(TELESCOPE, name="short", aperture=80 * u.mm, focal_length=400 * u.mm, obstruction=0.0,
                optical_blur=1 * u.arcsec)
LONG = replace(TELESCOPE, name="long", aperture=300 * u.mm, focal_length=2100 * u.mm, obstruction=0.4)
LARGE_PIXELS = replace(CAMERA, name="large pixels", pixel_pitch=6 * u.um, columns=6000, rows=4000)
REDUCER = Reducer(name="reducer", factor=0.7, transmission=0.9, optical_blur=0.5 * u.arcsec, telescopes=(LONG,))
LUMINANCE = Filter(name="luminance", centre=550 * u.nm, width=300 * u.nm)
RIG = Rig(name="main", telescope=SHORT, camera=CAMERA, mount=PERFECT_MOUNT, guider=GUIDER, filters=(GREEN, LUMINANCE))
OWNED = Equipment(sites=(SITE,), telescopes=(SHORT, LONG), reducers=(REDUCER,), cameras=(CAMERA, LARGE_PIXELS),
                  filters=(GREEN,), mounts=(PERFECT_MOUNT,), guiders=(GUIDER,), rigs=(RIG,))
SMALL = Target(name="small", ra=10 * u.deg, dec=40 * u.deg, size_major=9 * u.arcmin, size_minor=4 * u.arcmin,
               position_angle=170 * u.deg, surface_brightness=23 * u.mag / u.arcsec**2)
WIDE = Target(name="wide", ra=10 * u.deg, dec=40 * u.deg, size_major=180 * u.arcmin, size_minor=70 * u.arcmin,
              position_angle=35 * u.deg, surface_brightness=24 * u.mag / u.arcsec**2)


def weigh(owned=OWNED, *, rig=RIG, site=SITE, band=GREEN, **more):
    """Weigh what is owned, for a field overhead unless a target is given."""
    return weigh_combinations(owned, rig, site, band, **more)


def only(telescope=SHORT, camera=CAMERA, **changes):
    """Own one telescope and one camera."""
    return replace(OWNED, telescopes=(telescope,), cameras=(camera,), **{"reducers": (), **changes})
