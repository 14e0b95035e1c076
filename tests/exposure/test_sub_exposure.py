"""The one curve that decides: its formula, its plateau, its words, its edges."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.parts import recommend_sub_exposure
from exposure.rigs import FRICTION_MOUNT, GREEN, HYDROGEN, PERFECT_MOUNT, SHAKEN_MOUNT, SITE, WORM_MOUNT, rig
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.exposure import PIXEL_RATE, SUB_LADDER, observing_scene, perfect_speed, signal_to_noise, speed
from planner.exposure.scene import with_mount
from planner.rig import Filter

WINDOW = np.linspace(-3, 3, 13) * u.hourangle
IDEAL_MOUNT = replace(PERFECT_MOUNT, rate="model")


def scene_of(one, band=GREEN, site=SITE, **more):
    return observing_scene(one, site, band, declination=40 * u.deg, hour_angle=WINDOW, **more)


def test_ladder_is_the_one_of_the_design():
    assert list(SUB_LADDER.value) == [1, 2, 3, 5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 300, 420, 600, 900, 1200,
                                      1800]


def test_speed_is_squared_signal_to_noise_per_clock_time():
    # Independent route: the CCD equation for an hour of subs of t, against an hour without read noise or overhead.
    signal, background, read = 0.02, 0.5, 3.0
    for t in (5.0, 60.0, 600.0):
        frames = 3600 / (t + 4.0)
        real = signal_to_noise(signal * t * u.electron, background=background * t * u.electron,
                               read_noise=read * u.electron, frames=frames)
        ideal = signal_to_noise(signal * 3600 * u.electron, background=background * 3600 * u.electron,
                                read_noise=0 * u.electron)
        ours = speed([t] * u.s, overhead=4 * u.s, background_rate=(signal + background) * PIXEL_RATE,
                     read_noise=read * u.electron, disturbance_interval=1e12 * u.h)
        assert_allclose(ours.speed, (real / ideal).value ** 2)


def test_survival_and_the_mount_multiply():
    ours = speed([600] * u.s, overhead=0 * u.s, background_rate=1 * PIXEL_RATE, read_noise=0 * u.electron,
                 disturbance_interval=10 * u.min, kept=0.5, light=0.8)
    assert_allclose(ours.speed, np.exp(-1) * 0.5 * 0.8)


def test_no_light_at_all_is_not_an_error():
    dark = {"overhead": 1 * u.s, "background_rate": 0 * PIXEL_RATE, "disturbance_interval": 3 * u.h}
    assert speed([10] * u.s, read_noise=2 * u.electron, **dark).speed == 0
    assert speed([10] * u.s, read_noise=0 * u.electron, **dark).speed > 0


@pytest.mark.parametrize("mount", [PERFECT_MOUNT, FRICTION_MOUNT, WORM_MOUNT], ids=lambda mount: mount.name)
def test_recommended_is_the_fastest_step_and_lies_on_the_plateau(mount):
    scene = scene_of(rig(mount=mount))
    sub = recommend_sub_exposure(scene)
    best = sub.ladder.speed.max()
    step = list(SUB_LADDER.value).index(sub.recommended.value)
    assert sub.ladder.speed[step] >= 0.99 * best
    assert np.all(sub.ladder.speed[:step] < 0.99 * best)  # ties go to the shorter
    assert sub.shortest <= sub.recommended <= sub.longest
    for end in (sub.shortest, sub.longest):
        at = np.interp(end.value, sub.curve.exposure.value, sub.curve.speed)
        assert_allclose(at, 0.95 * sub.curve.speed.max(), rtol=5e-3)
    assert_allclose(sub.terms.speed, sub.speed)
    assert 0 < sub.speed <= perfect_speed(scene)


def test_bounds_are_named():
    noisy = scene_of(rig(mount=IDEAL_MOUNT, camera__read_noise=12 * u.electron))
    slow = scene_of(rig(mount=IDEAL_MOUNT, camera__read_noise=0.1 * u.electron, camera__gain=0.1 * u.electron / u.adu,
                        camera__download=30 * u.s))
    assert recommend_sub_exposure(noisy).limited_below_by == "read noise"
    assert recommend_sub_exposure(slow).limited_below_by == "overhead"
    assert recommend_sub_exposure(slow).limited_above_by == "gusts"
    assert recommend_sub_exposure(scene_of(rig(mount=WORM_MOUNT))).limited_above_by == "trailing"
    calm = replace(SITE, disturbance_interval=1e6 * u.h)
    noisy = rig(mount=IDEAL_MOUNT, camera__read_noise=12 * u.electron)
    longest = recommend_sub_exposure(scene_of(noisy, HYDROGEN, calm))
    assert longest.longest == 1800 * u.s
    assert longest.limited_above_by == "nothing: the longest sub considered"


def test_nothing_kept_is_an_answer():
    sub = recommend_sub_exposure(scene_of(rig(mount=SHAKEN_MOUNT)))
    assert (sub.recommended, sub.speed, sub.kept) == (1 * u.s, 0.0, 0.0)
    assert sub.longest == 1 * u.s
    assert sub.limited_above_by == "trailing"


def test_a_faint_sky_wants_longer_subs_and_a_bright_source_shorter_ones():
    wide, narrow = (recommend_sub_exposure(scene_of(rig(mount=IDEAL_MOUNT), band)) for band in (GREEN, HYDROGEN))
    assert narrow.shortest > 2 * wide.shortest
    bright = scene_of(rig(mount=IDEAL_MOUNT), brightness=16 * u.mag / u.arcsec**2)
    assert recommend_sub_exposure(bright).shortest < wide.shortest


def test_the_moon_shortens_the_shortest_useful_sub():
    moon = {"moon_altitude": 50 * u.deg, "moon_separation": 50 * u.deg, "moon_phase_angle": 5 * u.deg}
    dark, lit = scene_of(rig(mount=IDEAL_MOUNT)), scene_of(rig(mount=IDEAL_MOUNT), **moon)
    assert recommend_sub_exposure(lit).shortest < recommend_sub_exposure(dark).shortest


def test_frames_and_data_of_the_window():
    scene = scene_of(rig(mount=IDEAL_MOUNT))
    sub = recommend_sub_exposure(scene)
    assert_allclose(scene.length.to_value(u.h), 6 / 1.0027379, rtol=1e-6)
    assert sub.frames == int(scene.length.to_value(u.s) / (sub.recommended.value + 2 + 10 / 3))
    assert_allclose(sub.data.to_value(u.byte), sub.frames * 6000 * 4000 * 2)


def test_saturated_stars_of_the_field():
    sub = recommend_sub_exposure(scene_of(rig(mount=IDEAL_MOUNT)), star_magnitudes=[3, 8, 14, 18] * u.mag)
    assert sub.saturated_stars == 2
    assert 8 < sub.saturation_magnitude.value < 14


def test_target_below_the_horizon_is_refused_in_one_line():
    with pytest.raises(InvalidInputError, match=r"declination -80\.0 deg\) above the horizon"):
        observing_scene(rig(), SITE, GREEN, declination=-80 * u.deg, hour_angle=WINDOW)


def test_hour_angles_below_the_horizon_are_left_out():
    scene = observing_scene(rig(), SITE, GREEN, declination=0 * u.deg, hour_angle=[-8, -2, 0, 2, 8] * u.hourangle,
                            moon_altitude=[50, 40, 30, 20, 10] * u.deg, moon_separation=90 * u.deg,
                            moon_phase_angle=20 * u.deg)
    assert_allclose(scene.hour_angle.value, [-2, 0, 2])


def test_only_the_mount_changes():
    scene = scene_of(rig(mount=WORM_MOUNT))
    other = with_mount(scene, jitter=1 * u.arcsec)
    assert other.rig.mount.jitter == 1 * u.arcsec
    assert other.response is scene.response


def test_colour_sensor_takes_the_dye():
    wide = Filter(name="clear", centre=550 * u.nm, width=300 * u.nm)
    mono, colour = (scene_of(rig(camera__colour=kind), wide) for kind in ("mono", "bayer"))
    assert colour.band.colour == "green"
    # Each dye takes about a third of the filter; the sky of the green third is not far from the mean.
    assert_allclose((colour.sky_rate / mono.sky_rate).value, 1 / 3, rtol=0.2)


def test_mirror_image_windows_have_the_same_subs():
    # Without air and with a polar error in altitude alone, east and west of the meridian are mirror images.
    mount = replace(PERFECT_MOUNT, polar_altitude_error=8 * u.arcmin)
    east, west = (observing_scene(rig(mount=mount), replace(SITE, pressure=300.1 * u.hPa), GREEN,
                                  declination=40 * u.deg, hour_angle=np.linspace(*ends, 13) * u.hourangle)
                  for ends in ((-4, -2), (2, 4)))
    first, second = (recommend_sub_exposure(scene) for scene in (east, west))
    assert first.recommended == second.recommended
    assert_allclose(first.longest.value, second.longest.value, rtol=1e-3)
    assert_allclose(first.ladder.kept, second.ladder.kept, atol=2e-3)


def test_dithers_come_by_the_clock():
    # Ten seconds of settling every ten minutes: 600 s of clock hold 590 s of subs and downloads, however long they are.
    one = rig(mount=replace(PERFECT_MOUNT, settling_time=10 * u.s), camera__download=0 * u.s)
    lengths = np.array([10, 30, 300]) * u.s
    assert_allclose((lengths / (lengths + one.overhead(lengths))).value, 600 / 610)
    assert one.overhead(1800 * u.s) == 10 * u.s
