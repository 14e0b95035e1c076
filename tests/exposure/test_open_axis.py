"""What nobody knows of the polar axis: the drift it makes, and what that leaves of the subs."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import GREEN, PERFECT_MOUNT, SITE, rig
from numpy.testing import assert_allclose
from worlds.motion import sky
from worlds.world import draw_world

from planner.exposure import observing_scene
from planner.exposure.scene import with_mount
from planner.exposure.share_grid import kept_share
from planner.exposure.star_motion import unguided_motion
from planner.tracking.moments.even_draws import even_normals

OPEN = {"polar_altitude_error": 2 * u.arcmin, "polar_azimuth_error": 3 * u.arcmin}


def scene_of(mount, hours, declination=40 * u.deg):
    return observing_scene(rig(mount=mount), SITE, GREEN, declination=declination, hour_angle=hours * u.hourangle)


@pytest.mark.parametrize(("declination", "hour"), [(0.0, 0.0), (50.0, 1.0), (-15.0, -2.5), (60.0, 3.0)])
def test_the_drift_is_that_of_axes_turned_one_by_one(declination, hour):
    # Rigid rotations of the worlds' own code, with the axis off by one standard deviation either way.
    moment = np.array([0.0, 60.0])
    world = replace(draw_world(1), declination_deg=declination, latitude_deg=45.0, hour_angles_h=(hour, hour + 1),
                    polar_alt_arcmin=0.0, polar_az_arcmin=0.0)
    rates = [np.diff(sky(replace(world, **{name: size}), moment)["drift"], axis=0)[0]
             - np.diff(sky(world, moment)["drift"], axis=0)[0]
             for name, size in (("polar_alt_arcmin", 2.0), ("polar_az_arcmin", 3.0))]
    found = unguided_motion(scene_of(replace(PERFECT_MOUNT, errors=OPEN), [hour], declination * u.deg)).axis_drift
    # 1 %: the hour angle moves on by a quarter of a degree within the minute.
    assert_allclose(found.to_value(u.arcsec / u.min), np.hypot(*rates), rtol=0.01, atol=2e-3)


def test_what_it_keeps_is_the_mean_over_axes_drawn_one_by_one():
    scene = scene_of(replace(PERFECT_MOUNT, errors=OPEN), np.linspace(-3, 3, 9))
    lengths = np.array([60.0, 120, 240, 480])
    found = kept_share(scene, unguided_motion(scene)).at(lengths)[0]
    each = [with_mount(scene, errors=PERFECT_MOUNT.errors, polar_altitude_error=2 * off[0] * u.arcmin,
                       polar_azimuth_error=3 * off[1] * u.arcmin) for off in even_normals(60, 2)]
    shares = [kept_share(one, unguided_motion(one), nodes=np.geomspace(1, 1800, 40) * u.s, middles=7).at(lengths)[0]
              for one in each]
    # 0.05: 60 axes on the one side, 89 subs at each hour angle on the other.
    assert_allclose(found, np.mean(shares, axis=0), atol=0.05)
    assert found[-1] < 0.5 < found[0]  # else the test says nothing


def test_an_axis_that_nobody_gave_counts_as_two_arcminutes_off_each_way():
    scenes = [scene_of(replace(PERFECT_MOUNT, errors=errors), [1.0])
              for errors in ({}, dict.fromkeys(OPEN, 2 * u.arcmin))]
    assert_allclose(*(unguided_motion(scene).axis_drift.value for scene in scenes))
    given = scene_of(replace(PERFECT_MOUNT, errors={}, polar_altitude_error=1 * u.arcmin), [1.0])
    assert not unguided_motion(given).axis_drift.value.any()


def test_an_axis_on_the_pole_is_no_step_from_one_beside_it_and_better_than_one_nobody_gave():
    def kept(**axis):
        scene = scene_of(replace(PERFECT_MOUNT, errors={}, **axis), np.linspace(-3, 3, 9))
        return kept_share(scene, unguided_motion(scene)).at(np.array([480.0]))[0][0]

    on_the_pole = kept(polar_altitude_error=0 * u.arcmin)
    # 0.005: the axis that refraction asks for is a little higher, so that a little error helps.
    assert_allclose(on_the_pole, kept(polar_altitude_error=0.01 * u.arcmin), atol=0.005)
    assert on_the_pole > kept() + 0.1
