"""Creep between guider and camera: as long as said, towards every side alike, and rounding what the air draws out."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import SkyCoord
from exposure.rigs import GREEN, GUIDER, SITE, rig
from numpy.testing import assert_allclose

from planner.exposure import observing_scene
from planner.exposure.guide_star import GuideStar
from planner.exposure.guided_share import guided_share
from planner.exposure.share_grid import kept_share, share_grid
from planner.exposure.star_motion import still_motion, unguided_motion, windows_of

BROAD = replace(GREEN, centre=540 * u.nm, width=280 * u.nm)
SCENE = observing_scene(rig(), replace(SITE, seeing_spread=0.0), BROAD, declination=-10 * u.deg,
                        hour_angle=[2.0] * u.hourangle)
PER_HOUR = u.arcsec / u.h


def test_a_creep_has_the_variance_of_a_straight_trail_in_every_direction():
    motion = replace(still_motion(SCENE), creep=6 * PER_HOUR)
    grid = share_grid(SCENE, motion, nodes=[60, 600] * u.s)
    found = windows_of(replace(SCENE, dispersed=0 * SCENE.dispersed), motion, **{
        name: getattr(grid, name) for name in ("seconds", "start_rad", "places_arcsec", "phases", "walks", "shakes",
                                               "creeps")}).moments()
    trail = 6 / 3600 * np.array([60, 600])
    whole = (found.ra + found.dec)[:, 0]
    assert_allclose(whole, np.repeat(trail[:, np.newaxis]**2 / 12, whole.shape[1], axis=1), rtol=1e-9)
    assert_allclose(found.ra[:, 0].mean(axis=1), trail**2 / 24, rtol=1e-9)
    assert_allclose(found.across[:, 0].mean(axis=1), 0, atol=1e-9)


@pytest.mark.parametrize("length", [800, 1000, 1200, 1400])
def test_what_it_keeps_is_the_share_of_directions_in_which_it_does_not_stretch(length):
    # Covariances by hand for 720 directions; the air has drawn the star out already. How a star looks that moves so is
    # the response's, which has its own tests.
    ra, dec, across = SCENE.dispersed[:, 0].to_value(u.arcsec**2)
    angle = np.linspace(0, np.pi, 720, endpoint=False)
    way = np.stack([np.cos(angle), np.sin(angle)])
    crept = (length / 400)**2 / 12 * way[:, np.newaxis] * way
    moved = np.array([[ra, across], [across, dec]])[:, :, np.newaxis] + crept
    minor, major = np.linalg.eigvalsh(np.moveaxis(moved, -1, 0)).T
    elongation, _ = SCENE.response.elongation_and_area(major, minor, 0 * major)
    share = kept_share(SCENE, replace(still_motion(SCENE), creep=9 * PER_HOUR))
    assert share.at(np.array([float(length)]))[0] == pytest.approx(np.mean(elongation <= 0.1), abs=0.02)


@pytest.mark.parametrize(("turned", "expected"), [(0, 0), (90, 1), (180, 0)])
def test_a_creep_of_known_direction_stretches_or_rounds_what_the_air_drew_out(turned, expected):
    # Towards the zenith, whose position angle at 2 h is astropy's, or across it.
    zenith = SkyCoord(0 * u.deg, SITE.latitude)
    upward = SkyCoord(-30 * u.deg, -10 * u.deg).position_angle(zenith) + turned * u.deg
    guider = replace(GUIDER, differential_flexure=7 * PER_HOUR, differential_flexure_angle=upward)
    scene = replace(SCENE, rig=rig(guider=guider))
    star = GuideStar(magnitude=8 * u.mag, offset=[0, 0] * u.deg, source="catalogue")
    way = guided_share(scene, unguided_motion(scene), star).motion.creep_way
    share = kept_share(SCENE, replace(still_motion(SCENE), creep=7 * PER_HOUR, creep_way=way))
    assert share.at(np.array([1000.0]))[0] == expected
