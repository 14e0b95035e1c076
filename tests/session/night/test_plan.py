"""The plan of a real night with the demo equipment: rules that every plan keeps, and what an observer expects of it."""

import datetime
import functools
import itertools
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import TETE, AltAz, EarthLocation, SkyCoord, get_sun
from astropy.time import Time
from exposure.parts import recommend_sub_exposure, signal_to_noise_after
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.exposure import SUB_LADDER, guide_need, observing_scene
from planner.exposure.light.photons import LightPath
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_targets
from planner.rig import Mount
from planner.session.night.calibration import Calibration
from planner.session.night.events import timeline
from planner.session.night.limits import NightLimits
from planner.session.night.motion import mount_motion, mount_motions
from planner.session.night.plan import plan_night
from planner.session.night.report.words import good_text, worth_text
from planner.session.night.slots.blocks import _methods
from planner.session.night.slots.slot_worth import (
    FilterWorth,
    area_growth,
    filter_worths,
    guiding_pays,
    sky_over_night,
)
from planner.session.projects.default_request import default_request
from planner.session.projects.request import Need, Request
from planner.session.worth.times import times_of
from planner.visibility import Target, meridian_plan
from planner.visibility.meridian import seen_side

# Moon 3 % lit; 97 %, up all night; half, sets at midnight; midsummer; clocks back; full; clocks forward in the south.
NIGHTS = [("hill", "2026-11-10"), ("hill", "2026-11-25"), ("hill", "2026-11-18"), ("hill", "2026-06-21"),
          ("hill", "2026-10-24"), ("paddock", "2026-11-24"), ("paddock", "2026-10-03")]
DEMO = load_equipment(packaged_data("equipment.toml"))
TARGETS = find_targets([str(packaged_data("targets.csv"))])
NARROW = {"Ha", "OIII", "SII"}

EXACT = dict.fromkeys(("polar_altitude_error", "polar_azimuth_error"), 0 * u.arcmin)  # an axis known to the last


def plan(site="hill", date="2026-11-10", *, rig=None, targets=TARGETS, requests=None, **more):
    chosen = rig if hasattr(rig, "camera") else DEMO.rig(rig)
    requests = [default_request(target, chosen) for target in targets] if requests is None else requests
    place = DEMO.site(site) if isinstance(site, str) else site
    return plan_night(requests, chosen, place, datetime.date.fromisoformat(date), **more)


@functools.cache
def plan_of(site, date):
    return plan(site, date)


@pytest.fixture(scope="module", params=NIGHTS, ids=lambda night: "-".join(night))
def night(request):
    return plan_of(*request.param)


def seconds(start, end):
    return float((end - start).sec)


def test_blocks_follow_one_another_with_time_for_what_is_between(night):
    assert night.blocks
    times = night.times
    for before, after in itertools.pairwise(night.blocks):
        least = times.change if before.target.name != after.target.name else (
            times.flip if before.above_pole != after.above_pole else times.band)
        # 1 ms: rounding of times.
        assert seconds(before.end, after.start) >= least.to_value(u.s) - 1e-3


def test_blocks_hold_whole_subs_and_pauses_and_nothing_else(night):
    mount, camera = night.rig.mount, night.rig.camera
    for block in night.blocks:
        # A dither every ten minutes settles, spread over the subs between.
        overhead = camera.download + mount.settling_time * min((block.sub_exposure + camera.download) / (10 * u.min), 1)
        length = (block.sub_count * block.sub_exposure + (block.sub_count - 1) * overhead
                  + len(block.refocus) * night.times.focus)
        assert_allclose(seconds(block.start, block.end), length.to_value(u.s), atol=1e-3)
        assert all(block.start <= at < block.end for at in block.refocus)
        # With the filter, or not soon after it.
        assert all(at == block.start or (at - block.start).to(u.min) > 10 * u.min for at in block.refocus)


def test_no_sub_is_longer_than_the_sky_leaves_room_in_a_pixel():
    rig = DEMO.rig("nebulae")
    rig = replace(rig, camera=replace(rig.camera, full_well=110 * u.electron), filters=rig.filters[:1])
    blocks = plan(rig=rig, targets=TARGETS[:1]).blocks
    least = LightPath(rig, rig.filters[0], DEMO.site("hill")).sky(altitude=90 * u.deg)  # darker than any block's
    assert blocks
    assert all(block.sub_exposure * least * u.pix < 110 * u.electron for block in blocks)


def test_blocks_are_up_and_in_the_dark_by_a_library(night):
    where = EarthLocation.from_geodetic(night.site.longitude, night.site.latitude, night.site.height)
    for block in night.blocks:
        times = Time([block.start, block.end])
        frame = AltAz(obstime=times, location=where, pressure=night.site.station_pressure,
                      temperature=night.site.temperature, obswl=0.55 * u.um)
        true = AltAz(obstime=times, location=where)
        altitude = SkyCoord(block.target.ra, block.target.dec).transform_to(frame).alt
        # 0.02 deg: refraction at 30 deg differs by less between models.
        assert np.all(altitude > night.lowest_altitude - 0.02 * u.deg)
        depth = 12 if block.band.name in NARROW else 18
        assert np.all(get_sun(times).transform_to(true).alt < -(depth - 0.01) * u.deg)


def test_no_block_leaves_its_side_of_the_pier(night):
    mount = night.rig.mount
    for outlook in night.outlooks:
        stretches = meridian_plan(outlook.reach.window, mount).stretches
        for block in night.blocks:
            if block.target.name == outlook.request.target.name:
                own = [part for part in stretches if part.side == block.above_pole]
                assert any(seconds(part.start, block.start) > -1e-3 and seconds(block.end, part.end) > -1e-3
                           for part in own)


def test_a_flip_is_made_within_its_limits_between_two_subs(night):
    for flip in night.flips:
        if flip.planned is None:
            assert flip.lost == 0 * u.min
            continue
        assert flip.earliest <= flip.planned <= flip.latest
        # Where the last sub ends a little before the far side begins, the telescope waits.
        assert any(abs(seconds(max(block.end, flip.earliest), flip.planned)) < 1e-3
                   and seconds(block.end, flip.planned) < (block.sub_exposure.value + 60) for block in night.blocks)
        assert flip.lost >= night.times.flip * (1 - 1e-6)
    sides = [(one, two) for one, two in itertools.pairwise(night.blocks) if one.target.name == two.target.name
             and one.above_pole != two.above_pole]
    assert len(sides) == sum(flip.planned is not None for flip in night.flips)


def test_value_is_that_of_the_blocks_and_the_bound_is_near(night):
    # By hand from the definition: lines weigh 1, the broad bands of a target by their hours, 1 on average; and all of a
    # picture what the Moon leaves of it, which test_moonlit.py looks at.
    value = 0.0
    for outlook in night.outlooks:
        needs = outlook.request.needs
        broad = [need.hours.value for need in needs if need.band.name not in NARROW]
        left = dict(zip([need.band.name for need in needs], outlook.weights, strict=True))
        for need in needs:
            gained = sum(block.equivalent_hours.value for block in night.blocks
                         if block.target.name == outlook.request.target.name and block.band == need.band)
            weight = 1 if need.band.name in NARROW else need.hours.value / np.mean(broad)
            if need.band.name in NARROW:
                weight *= left[need.band.name]
            else:
                weight *= sum(left[band] for band in left if band not in NARROW) / len(broad)
            value += outlook.request.priority * weight * np.sqrt(min(gained / need.hours.value, 1))
    assert_allclose(night.value, value, rtol=1e-9)
    assert 0 < night.value <= night.bound * (1 + 1e-9)
    assert night.gap <= 0.02  # 0.9 % of the slots, and what whole subs leave over


def test_a_filter_of_a_target_has_its_run_once_and_none_is_a_scrap(night):
    for name in {block.target.name for block in night.blocks}:
        own = [block for block in night.blocks if block.target.name == name]
        bands = [band for band, _ in itertools.groupby(block.band.name for block in own)]
        assert len(bands) == len(set(bands))
        clock = {band: sum(seconds(block.start, block.end) for block in own if block.band.name == band)
                 for band in bands}
        for need in next(one for one in night.outlooks if one.request.target.name == name).request.needs:
            band = need.band.name
            gained = sum(block.equivalent_hours.value for block in own if block.band.name == band)
            # An hour on the frames, flips and changes apart, less a quarter of a slot, half a sub and a look at the
            # focus; or the need is met.
            least = 60 * 60 - 75 - max((block.sub_exposure / 2 + night.times.focus).to_value(u.s) for block in own)
            assert band not in clock or clock[band] > least or gained > 0.95 * need.hours.value


def test_a_target_is_guided_throughout_or_not():
    # A full Moon: short subs, and two ways that are nearly even; an observer stops no loop in the middle of a target.
    found = plan(date="2026-12-24", targets=find_targets(["M 81"]))
    assert len(found.blocks) > 2
    assert len({block.guided for block in found.blocks}) == 1


def test_a_run_that_guiding_hardly_helps_is_guided_with_the_others_of_its_target():
    # By hand: guiding brings 10 % in the first run and half a per cent in the second, of one target or of two.
    gain = np.array([1.10, 1.005])
    rate = np.stack([np.ones((SUB_LADDER.size, 2)), np.tile(gain, (SUB_LADDER.size, 1))])
    worth = FilterWorth(rate=rate, open_share=rate, open_rate=rate, hours_for=np.nan,
                        still_rate=np.ones(0))
    for targets, expected in (((0, 0), [True, True]), ((0, 1), [True, False])):
        states = [SimpleNamespace(target=target, need=0, worth=worth, overhead_s=0 * gain[0]) for target in targets]
        found = _methods([(0, 0, 1), (1, 1, 1)], states, SimpleNamespace(length=1 / 24))
        assert [guided for guided, _ in found] == expected


@pytest.mark.parametrize(("needs", "count"), [((0, 0), 1), ((0, 1), 2)])
def test_a_filter_of_a_target_has_one_length_on_both_sides_of_the_pier(needs, count):
    # By hand: before the flip only short subs are round, after it only long ones are good; one filter takes the better.
    seconds = SUB_LADDER.value[:, np.newaxis]
    rate = np.where([[True, False]], (seconds == 60) + 0.8 * (seconds == 300), (seconds == 300) + 0.7 * (seconds == 60))
    worth = FilterWorth(rate=rate[np.newaxis], open_share=rate, open_rate=rate, hours_for=np.nan,
                        still_rate=np.ones(0))
    states = [SimpleNamespace(target=0, need=need, worth=worth, overhead_s=0.0) for need in needs]
    found = _methods([(0, 0, 1), (1, 1, 1)], states, SimpleNamespace(length=1 / 24))
    assert len({length for _, length in found}) == count
    assert SUB_LADDER.value[found[1][1]] == 300


@pytest.mark.parametrize(("brought", "guided"), [([1.0, 1.02], True), ([1.0, 1.005], False), ([1.0], False)])
def test_a_plan_guides_where_an_advice_does(brought, guided):
    assert guiding_pays(np.array(brought)) is guided


def test_no_need_is_overfilled(night):
    for outlook in night.outlooks:
        for need in outlook.request.needs:
            own = [block for block in night.blocks
                   if block.target.name == outlook.request.target.name and block.band == need.band]
            gained = sum((block.equivalent_hours for block in own), 0 * u.h)
            one_sub = max((block.sub_exposure for block in own), default=0 * u.s)
            assert gained <= need.hours + one_sub


def test_the_timeline_has_calibration_frames_and_focus(night):
    [darks] = [event for event in night.events if event.kind == "darks"]
    flats = [event for event in night.events if event.kind == "flats"]
    for band in {block.band.name for block in night.blocks}:
        assert sum(f"flats of {band}," in event.text for event in flats) == (night.night.sunset is not None)
    for block in night.blocks:
        assert f"{block.sub_exposure.value:g} s" in darks.text
    focused = [event.end for event in night.events if event.kind in ("focus", "target", "flip")]
    for block in night.blocks:
        last = max(at for at in focused if at <= block.end)
        assert seconds(last, block.end) <= (
            night.times.refocus.to_value(u.s) + 2 * block.sub_exposure.value + 360 + 1200)  # none just before a slew


def test_targets_without_a_block_have_a_reason(night):
    for outlook in night.outlooks:
        assert bool(outlook.reason) != any(block.target.name == outlook.request.target.name for block in night.blocks)


def test_the_same_question_has_the_same_plan():
    assert repr(plan(*NIGHTS[0]).blocks) == repr(plan_of(*NIGHTS[0]).blocks)


def hours_by_moon(found):
    """Return planned hours of narrow and broad bands, Moon down and up."""
    hours = {(narrow, up): 0.0 for narrow in (True, False) for up in (True, False)}
    for block in found.blocks:
        hours[block.band.name in NARROW, block.moon_up] += seconds(block.start, block.end) / 3600
    return hours


def test_the_moon_is_left_to_narrow_bands():
    # Wanted: as much through L as through Ha, on one target, and more than the night has. Moon 64 % lit, sets 00:42.
    rig = DEMO.rig("nebulae")
    wanted = [Request(target=find_targets(["NGC 891"])[0], needs=tuple(
        Need(band=band, hours=9 * u.h) for band in rig.filters if band.name in ("L", "Ha")))]
    hours = hours_by_moon(plan(date="2026-11-18", requests=wanted))
    assert hours[True, True] > 2  # narrow while it is up
    assert hours[False, False] > 2  # broad when it is down
    assert hours[False, True] < 0.6  # about one run: near moonset it hardly shines
    full = hours_by_moon(plan(date="2026-11-25", requests=wanted))
    assert full[True, True] > full[False, True]


def test_worth_is_squared_signal_to_noise_by_the_ccd_equation():
    """A faint surface, an hour at one moment against an hour at another: the squared ratio of their sums of frames."""
    rig, site = DEMO.rig("nebulae"), DEMO.site("hill")
    target, band = find_targets(["NGC 891"])[0], DEMO.rig("nebulae").filters[0]
    times = Time("2026-11-18T17:30:00") + np.array([3, 10]) * u.h  # high with the Moon up, low with it down
    sky = sky_over_night([target], site, times)
    motion = mount_motion(target, rig, site, band, u.Quantity([-60, 60], u.deg))
    worth = filter_worths([target], [motion], rig, site, band, sky, area_growth(rig, site, sky))[0]
    faint = 28 * u.mag / u.arcsec**2
    sums = []
    for slot in (0, 1):
        scene = observing_scene(
            rig, site, band, declination=target.dec, hour_angle=sky.hour_angle[0, slot:slot + 1], brightness=faint,
            moon_altitude=sky.moon.apparent_altitude[slot], moon_phase_angle=sky.moon.phase_angle[slot],
            moon_separation=sky.moon_separation[0, slot])
        sub = recommend_sub_exposure(scene)
        sub = replace(sub, recommended=60 * u.s, kept=1.0, terms=replace(sub.terms, survives=np.ones(1)))
        sums.append(signal_to_noise_after(scene, sub, clock_time=10 * u.h).signal_to_noise ** 2)
    minute = int(np.flatnonzero(motion_lengths() == 60)[0])
    growth = area_growth(rig, site, sky)[0]
    kept, light = motion.at(sky.hour_angle[0])  # the mount moves the stars of each hour in its own way
    expected = sums[0] / sums[1] * growth[1] / growth[0] * np.divide(*(kept * light)[0, minute])
    # 1 %: the length of the sidereal night in the scene's altitude (apparent place), and whole frames.
    assert_allclose(worth.rate[0, minute, 0] / worth.rate[0, minute, 1], expected, rtol=1e-2)
    assert abs(sky.altitude[0, 0] - sky.altitude[0, 1]) > 25 * u.deg


def motion_lengths():

    return SUB_LADDER.to_value(u.s)


def test_an_hour_in_the_zenith_of_a_dark_night_counts_as_speed_says():
    # 2 s of download and 10 s of settling every 600 s, no motion: what is left of an hour is t / (t + overhead).
    rig = DEMO.rig("nebulae")
    rig = replace(rig, guider=None, mount=Mount(name="still", settling_time=10 * u.s, errors=EXACT))
    site = replace(DEMO.site("hill"), horizon=None, disturbance_interval=1e4 * u.h)
    band, camera = rig.filters[0], replace(rig.camera, read_noise=0 * u.electron, gain=1e-4 * u.electron / u.adu,
                                             bit_depth=32)
    rig = replace(rig, camera=camera)
    times = Time("2026-11-09T23:00:00") + np.arange(2) * u.h  # new Moon
    zenith = Target("zenith", ra_overhead(site, times[0]), site.latitude)
    sky = sky_over_night([zenith], site, times)
    motion = mount_motion(zenith, rig, site, band, u.Quantity([-10, 10], u.deg))
    worth = filter_worths([zenith], [motion], rig, site, band, sky, area_growth(rig, site, sky))[0]
    length = motion_lengths()
    # 0.5 %: what refraction does to the stars, and 0.1 deg of precession off the zenith; subs up to a minute.
    short = length <= 60
    assert_allclose(worth.rate[0, short, 0], (length / (length + 2) / (1 + 10 / 600))[short], rtol=5e-3)


def ra_overhead(site, time):
    return time.sidereal_time("mean", longitude=site.longitude).to(u.deg)


@pytest.mark.parametrize("name", ["NGC 891", "NGC 3031"])
def test_method_and_length_are_those_of_an_advice_for_that_time(name):
    rig, site = DEMO.rig("nebulae"), DEMO.site("hill")
    for block in plan(targets=find_targets([name]), stars_around=None).blocks:
        middle = block.start + (block.end - block.start) / 2
        sky = sky_over_night([block.target], site, Time([block.start, middle, block.end]))
        scene = observing_scene(rig, site, block.band, declination=block.target.dec, hour_angle=sky.hour_angle[0])
        need = guide_need(scene, galactic_latitude=20 * u.deg)
        chosen = need.guided if block.guided else need.unguided
        step = int(np.flatnonzero(chosen.ladder.exposure == block.sub_exposure)[0])
        # 0.90: the plateau of 0.95, and a coarser count of kept subs through one filter for all.
        assert chosen.ladder.speed[step] >= 0.90 * max(need.guided.speed, need.unguided.speed)


def test_a_wanted_ratio_is_turned_to_hours():
    rig, site = DEMO.rig("nebulae"), DEMO.site("hill")
    target = find_targets(["NGC 7331"])[0]
    wanted = [Request(target=target, needs=(Need(band=rig.filters[1], signal_to_noise=20),))]
    found = plan(requests=wanted)
    # The source through a perfect camera: no read noise, no overhead, in the zenith, by the CCD equation.
    perfect = replace(rig, camera=replace(rig.camera, read_noise=0 * u.electron, download=0 * u.s,
                                                 gain=1e-4 * u.electron / u.adu),
                      mount=Mount(name="still", settling_time=0 * u.s), guider=None)
    scene = observing_scene(perfect, replace(site, horizon=None, disturbance_interval=1e4 * u.h), rig.filters[1],
                            declination=site.latitude, hour_angle=[0] * u.deg, brightness=target.surface_brightness)
    sub = recommend_sub_exposure(scene)
    reached = signal_to_noise_after(scene, replace(sub, kept=1.0), clock_time=10 * u.h, area=25 * u.arcsec**2)
    hours = 10 * (20 / reached.signal_to_noise) ** 2
    # One sub is the step in which a need is filled; 1 %: whole frames of the sum.
    step = max(block.sub_exposure.to_value(u.h) for block in found.blocks)
    assert hours * 0.99 <= found.outlooks[0].planned.to_value(u.h) <= hours * 1.01 + step


def test_a_small_need_is_met_near_the_meridian():
    band, target = DEMO.rig(None).filters[0], find_targets(["NGC 891"])[0]
    block, = plan(requests=[Request(target=target, needs=(Need(band=band, hours=0.5 * u.h),))]).blocks
    assert block.altitude > 75 * u.deg


def test_a_ratio_of_an_unknown_brightness_is_refused():
    target = Target("dark spot", 0 * u.deg, 40 * u.deg)
    wanted = [Request(target=target, needs=(Need(band=DEMO.rig(None).filters[0], signal_to_noise=20),))]
    with pytest.raises(InvalidInputError, match=r"signal_to_noise of dark spot = 20.*Give hours instead"):
        plan(requests=wanted)


def test_a_mount_without_sides_never_flips():
    rig = replace(DEMO.rig("nebulae"), mount=replace(DEMO.rig("nebulae").mount, design="fork"))
    # One target that wants more than the night has: of more targets the choice weighs too.
    wanted = [Request(target=find_targets(["NGC 891"])[0], needs=(Need(band=rig.filters[0], hours=20 * u.h),))]
    found, with_flip = plan(rig=rig, requests=wanted), plan(requests=wanted)
    assert found.flips == ()
    assert with_flip.flips
    assert {block.pier_side for block in found.blocks} == {""}
    assert found.times.flip == 0 * u.min
    assert found.value > with_flip.value


def test_over_travel_makes_a_flip_needless():
    rig = replace(DEMO.rig("nebulae"), mount=replace(DEMO.rig("nebulae").mount, tracks_past_meridian=90 * u.deg))
    found = plan(rig=rig, targets=find_targets(["NGC 891"]))
    assert all(flip.planned is None for flip in found.flips)


def test_no_dark_time_is_an_answer():
    found = plan(replace(DEMO.site("hill"), latitude=66 * u.deg, horizon=None), "2026-06-21")
    assert found.blocks == found.events == ()
    assert found.dark is None
    assert found.reason == "No dark time: the Sun does not set."
    assert (found.value, found.bound) == (0, 0)


def test_midsummer_without_astronomical_dark_leaves_the_darkest_hours():
    found = plan(replace(DEMO.site("hill"), latitude=52 * u.deg, horizon=None), "2026-06-21")
    # The Sun's lower transit is 90 - 52 - 23.44 = 14.6 deg down: three hours of it are below 12 deg.
    assert 12 <= found.night.depression.value < 14.6
    assert found.blocks
    assert any("the darkest" in note for note in found.notes)
    hours = {band: sum(block.equivalent_hours.value for block in found.blocks if (block.band.name in NARROW) == band)
             for band in (True, False)}
    assert hours[True] > hours[False]  # lines mind twilight less


def test_targets_that_are_never_up_are_an_answer():
    found = plan(targets=find_targets(["NGC 3372"]))
    assert found.blocks == ()
    assert found.reason == found.outlooks[0].reason == "Never rises at this site."
    assert "reasons stand beside" in plan(targets=find_targets(["NGC 3372", "NGC 253"])).reason


def test_what_is_done_is_not_done_again():
    band = DEMO.rig(None).filters[0]
    target = find_targets(["NGC 7331"])[0]
    done = plan(requests=[Request(target=target, needs=(Need(band=band, hours=3 * u.h, done=3 * u.h),))])
    assert done.blocks == ()
    assert done.reason == "Nothing is left to do."
    rest = plan(requests=[Request(target=target, needs=(Need(band=band, hours=3 * u.h, done=2 * u.h),))])
    assert_allclose(rest.outlooks[0].planned.value, 1, atol=rest.blocks[0].sub_exposure.to_value(u.h))


def test_priority_brings_a_target_into_the_plan():
    rig = DEMO.rig("nebulae")
    targets = find_targets(["NGC 891", "IC 434"])
    low = plan(requests=[default_request(target, rig) for target in targets])
    high = plan(requests=[default_request(targets[0], rig), replace(default_request(targets[1], rig), priority=5)])
    assert high.outlooks[1].planned > low.outlooks[1].planned + 0.5 * u.h


@pytest.mark.parametrize(("make", "words"), [
    (lambda: plan(targets=()), "targets = none: must be at least one"),
    (lambda: plan(targets=[TARGETS[0], TARGETS[0]]), "is asked for twice"),
    (lambda: plan(slot=0 * u.min), r"slot = 0\.0 min: must be at least 1 min"),
    (lambda: Need(band=DEMO.rig(None).filters[0]), "must be either hours or a signal-to-noise ratio"),
    (lambda: Request(target=TARGETS[0], needs=()), "must name at least one filter"),
    (lambda: plan(lowest_altitude=95 * u.deg), "minimum_altitude = 95"),
])
def test_bad_input_is_one_line(make, words):
    with pytest.raises(InvalidInputError, match=words):
        make()


def test_focus_wants_a_look_before_the_tube_has_cooled_out_of_it():
    # 200 mm f/4 of aluminium, 800 mm long: 18.5 um per K; a quarter wave at 561 nm is 2 λ N² = 18 um to each side.
    rig = DEMO.rig("nebulae")
    every = times_of(rig, DEMO.site("hill"), minimum_block=30 * u.min).refocus
    # 5 %: which filter stands for the rig, 535 to 565 nm.
    assert_allclose(every.to_value(u.min), 2 * 0.561 * 16 / (23.1e-6 * 800e3) * 60, rtol=0.05)


def lone(hours, **more):
    """Plan one target through one filter."""
    band = DEMO.rig(None).filters[0]
    target = find_targets(["NGC 891"])[0]
    needs = (Need(band=band, hours=hours * u.h),)
    return plan(requests=[Request(target=target, needs=needs, priority=more.pop("priority", 1.0))], **more)


@pytest.mark.parametrize("more", [{"hours": 0.002}, {"hours": 2, "minimum_block": 600 * u.min,
                                                     "lowest_altitude": 60 * u.deg},
                                  {"hours": 2, "lowest_altitude": 84.6 * u.deg}])
def test_a_need_that_no_block_is_worth_leaves_the_night_empty(more):
    night = lone(**more)
    assert night.blocks == ()
    assert night.outlooks[0].reason


def test_too_short_for_a_stay_is_said_of_the_stay_asked_for():
    assert "need at least 300 min." in lone(2, lowest_altitude=80 * u.deg,
                                                      minimum_block=300 * u.min).outlooks[0].reason


@pytest.mark.parametrize("priority", [1 / 64, 64])  # powers of two: nothing is rounded another way
def test_the_scale_of_the_priorities_does_not_matter(priority):
    usual, other = lone(2), lone(2, priority=priority)
    assert [block.sub_count for block in other.blocks] == [block.sub_count for block in usual.blocks]
    assert other.value == priority * usual.value


def test_nothing_stands_between_two_blocks_of_one_filter_with_a_rest_between():
    found = plan_of(*NIGHTS[0])
    first = found.blocks[0]
    later = replace(first, start=first.end + 1 * u.h, end=first.end + 2 * u.h)
    kinds = {event.kind for event in timeline((first, later), found.times, ())}
    assert "filter" not in kinds


def test_a_flip_stands_in_the_timeline_when_it_is_planned():
    found = plan_of(*NIGHTS[0])
    planned = {flip.planned.isot for flip in found.flips if flip.planned is not None}
    assert {event.start.isot for event in found.events if event.kind == "flip"} == planned
    # The telescope waits where the last sub ends before the mount may turn over.
    flip = next(flip for flip in found.flips if flip.planned is not None)
    before, after = next(pair for pair in itertools.pairwise(found.blocks)
                         if pair[0].above_pole != pair[1].above_pole and pair[0].target.name == pair[1].target.name)
    waiting = replace(flip, planned=before.end + 1 * u.min)
    (event,) = [event for event in timeline((before, after), found.times, (waiting,))
                if event.kind == "flip"]
    assert event.start == waiting.planned


@pytest.mark.parametrize(("past", "before"), [(0, 0), (-10, -5)])  # sides that meet in one moment, or never
def test_a_flip_has_its_time_where_the_far_side_begins_late(past, before):
    rig = DEMO.rig("nebulae")
    mount = replace(rig.mount, tracks_past_meridian=past * u.deg, starts_before_meridian=before * u.deg)
    found = plan(rig=replace(rig, mount=mount), targets=find_targets(["NGC 7331"]))
    (flip,) = [event for event in found.events if event.kind == "flip"]
    assert seconds(flip.start, flip.end) == pytest.approx(found.times.flip.to_value(u.s), abs=1e-3)
    # By a library: the target is so far past the meridian when the telescope turns over; 0.05 deg is 12 s.
    where = EarthLocation.from_geodetic(found.site.longitude, found.site.latitude, found.site.height)
    target = found.blocks[0].target
    place = SkyCoord(target.ra, target.dec).transform_to(TETE(obstime=flip.start, location=where))
    hour_angle = (flip.start.sidereal_time("apparent", where) - place.ra).wrap_at(180 * u.deg)
    assert hour_angle.deg == pytest.approx(-before, abs=0.05)
    assert not any(block.start < flip.end and block.end > flip.start for block in found.blocks)
    (row,) = [row for row in found.flips if row.planned is not None]
    assert row.planned.isot == flip.start.isot


def test_darks_end_by_sunrise_and_no_rest_stands_beside_them():
    found = plan(calibration=Calibration(darks=60))
    (darks,) = [event for event in found.events if event.kind == "darks"]
    assert darks.end <= found.night.sunrise
    assert "of them after sunrise" in darks.text
    assert not any(event.kind == "rest" and event.end > darks.start for event in found.events)


def test_a_ratio_of_an_unknown_brightness_is_refused_in_any_night():
    north = replace(DEMO.site("hill"), latitude=78 * u.deg)
    wanted = [Request(target=Target("dark spot", 35 * u.deg, 42 * u.deg),
                      needs=(Need(band=DEMO.rig(None).filters[0], signal_to_noise=20),))]
    with pytest.raises(InvalidInputError, match="signal_to_noise of dark spot"):
        plan(north, "2026-06-21", requests=wanted)


def test_each_flip_of_a_night_with_both_transits_stands_on_its_row():
    # From 60 N M 81 passes the pole below in the evening and above in the morning.
    rig = DEMO.rig("nebulae")
    north = replace(DEMO.site("hill"), latitude=60 * u.deg, longitude=18 * u.deg, horizon=None)
    needs = tuple(Need(band=band, hours=9 * u.h) for band in rig.filters if band.name in ("L", "Ha"))
    found = plan(north, "2026-12-05", requests=[Request(target=find_targets(["M 81"])[0], needs=needs)])
    assert len(found.flips) == 2
    made = [flip for flip in found.flips if flip.planned is not None]
    assert made
    for flip in made:
        # 10 s: the wait for the far side is within the block's pause.
        assert seconds(flip.earliest, flip.planned) >= -10
        assert seconds(flip.planned, flip.latest) >= 5 * 60 - 10  # the margin before the mount must stop


@pytest.mark.parametrize("hour_angle", [-170, -100, -80, -10, 10, 80, 100, 170])
@pytest.mark.parametrize("latitude", [60, -35])
def test_the_side_of_the_pier_is_where_vectors_put_the_telescope(hour_angle, latitude):
    # East, north, up. The declination axis is square to the pole and to the target; the telescope is at one of its
    # ends, the one that is west of the pier while the target rises towards the meridian.
    phi, angle, dec = np.radians([latitude, hour_angle, 40 * np.sign(latitude)])
    pole = np.array([0, np.cos(phi), np.sin(phi)])
    target = np.array([-np.cos(dec) * np.sin(angle),
                       np.cos(phi) * np.sin(dec) - np.sin(phi) * np.cos(dec) * np.cos(angle),
                       np.sin(phi) * np.sin(dec) + np.cos(phi) * np.cos(dec) * np.cos(angle)])
    end = -np.cross(pole, target)  # at the meridian it points west
    assert seen_side("west", hour_angle * u.deg) == ("west" if end[0] < 0 else "east")
    assert seen_side("east", hour_angle * u.deg) == ("east" if end[0] < 0 else "west")


def test_a_full_moon_is_hardly_worth_setting_up_for_broad_bands():
    galaxies = find_targets(["NGC 891", "NGC 7331"])
    dark, lit = (plan(date=date, targets=galaxies) for date in ("2026-11-10", "2026-11-25"))
    assert dark.worth_setting_up
    assert not lit.worth_setting_up
    assert lit.dark_shares["broad bands"] < 0.3 * dark.dark_shares["broad bands"]
    assert worth_text(lit).startswith("Hardly worth setting up for broad bands: broad bands count for")
    assert worth_text(dark).startswith("Worth setting up: broad bands count for")


def test_of_a_long_list_those_that_cannot_matter_are_not_looked_at(monkeypatch):
    # The same list with every target looked at: the same worth within what counts as equal, and no more than the bound.
    names = ("M 33", "NGC 891", "NGC 6946", "NGC 7331", "NGC 253", "IC 434", "NGC 7000", "M 81")
    targets = [target for name in names for target in find_targets([name])]
    whole = plan(targets=targets, season={})
    looked_at = []
    monkeypatch.setattr("planner.session.night.plan.FEW", 0)
    monkeypatch.setattr("planner.session.night.slots.shortlist.ABREAST", 1)
    monkeypatch.setattr("planner.session.night.draft.mount_motions",
                        lambda target, *more: looked_at.append(target.name) or mount_motions(target, *more))
    short = plan(targets=targets, season={})
    assert len(looked_at) < len([outlook for outlook in whole.outlooks if outlook.reach.stretches])
    assert len(looked_at) == len(set(looked_at))
    assert short.bound >= whole.value - 1e-9
    assert_allclose(short.value, whole.value, rtol=4e-3)


def test_of_a_long_list_a_night_by_itself_looks_at_those_that_can_bring_most(monkeypatch):
    # An hour of one filter each, which all get; the last two want six minutes, and bring less than any of the others.
    names = ("M 33", "NGC 891", "NGC 6946", "NGC 7331", "NGC 7000", "M 81", "NGC 281", "IC 1805")
    rig = DEMO.rig()
    requests = [Request(target=target, needs=(Need(band=rig.filters[0], hours=(1 if at < 6 else 0.1) * u.h),),
                        priority=1 if at < 6 else 0.1)
                for at, target in enumerate(target for name in names for target in find_targets([name]))]
    monkeypatch.setattr("planner.session.night.plan._filled", lambda draft, slots, times, found: found)
    looked_at = []
    monkeypatch.setattr("planner.session.night.plan.FEW", 4)
    monkeypatch.setattr("planner.session.night.slots.shortlist.ABREAST", 8)
    for module in ("choice", "plan"):
        monkeypatch.setattr(f"planner.session.night.{module}.MOST", 3)
    monkeypatch.setattr("planner.session.night.draft.mount_motions",
                        lambda target, *more: looked_at.append(target.name) or mount_motions(target, *more))
    short = plan(requests=requests)
    assert len(looked_at) == len(set(looked_at)) == 3
    assert_allclose(short.value, 3, rtol=1e-3)  # three targets with all that they want


NEBULAE = ("NGC 7000", "IC 1396", "NGC 281", "IC 1805", "IC 1848", "NGC 1499", "IC 405", "IC 410", "NGC 2174",
           "NGC 7380")


@pytest.mark.parametrize(("names", "date"), [(NEBULAE, "2026-11-24"), (
    ("M 81", "NGC 891", "NGC 7331", "NGC 6946", "M 33", "NGC 2403", "M 51", "M 63"), "2026-11-10")])
def test_a_night_by_itself_has_few_targets_and_each_gets_long(names, date):
    alone, more = (plan(date=date, targets=find_targets(list(names)), season=season) for season in (None, {}))
    def clock(night):
        return sorted(outlook.clock_time.to_value(u.h) for outlook in night.outlooks if outlook.clock_time > 0)
    assert 2 <= len(clock(alone)) <= 4 < len(clock(more))
    assert clock(alone)[0] > 2
    # The night is as full, and left out is said to be: the others do not lack anything.
    assert sum(clock(alone)) > 0.95 * sum(clock(more))
    told = {outlook.reason for outlook in alone.outlooks if not outlook.clock_time > 0 and outlook.reach.stretches}
    assert told == {"Observable; left for another night, so that fewer targets get longer."}
    assert "of the targets chosen" in good_text(alone)
    assert "of all targets" in good_text(more)


def test_a_night_by_itself_leaves_no_picture_without_a_colour():
    # Six to seven hours of dark: two pictures have no time for all of their colours, an hour each; one has.
    found = plan(date="2027-04-09", targets=find_targets(["M 51", "M 101"]))
    bands = {outlook.request.target.name: {block.band.name for block in found.blocks
                                           if block.target.name == outlook.request.target.name}
             for outlook in found.outlooks}
    assert set(map(len, bands.values())) <= {0, 4}
    assert not any("another night" in note for note in found.notes)
    # In less than three hours not even one has, which is said.
    found = plan(date="2027-04-09", targets=find_targets(["M 51"]), limits=NightLimits(
        until=Time("2027-04-09T22:30")))
    missing = {"L", "R", "G", "B"} - {block.band.name for block in found.blocks}
    note = next(note for note in found.notes if note.startswith("M 51: tonight leaves no time for "))
    assert missing
    assert all(f" {name}" in note for name in missing)


def test_hours_that_the_chosen_leave_go_to_another_target():
    # Those worth beginning set before dawn; one that rises late takes the rest.
    alone, more = (plan(date="2026-02-13", targets=find_targets(list(NEBULAE)), season=season) for season in (None, {}))
    hours = [sum(outlook.clock_time for outlook in one.outlooks).to_value(u.h) for one in (alone, more)]
    assert hours[0] > 0.95 * hours[1]
    assert len({block.target.name for block in alone.blocks}) < len({block.target.name for block in more.blocks})
    assert alone.gap < 0.01


@pytest.mark.parametrize(("stay", "season"), [(300, None), (240, {})])
def test_long_least_stays_leave_no_night_empty(stay, season):
    found = plan(targets=find_targets(list(NEBULAE)), minimum_block=stay * u.min, slot=15 * u.min, season=season)
    hours = [outlook.clock_time.to_value(u.h) for outlook in found.outlooks if outlook.clock_time > 0]
    assert min(hours) > stay / 60 - 0.6  # less changes and flips
    assert sum(hours) > 0.8 * found.night.dark_hours.to_value(u.h)
    assert found.gap < (0.02 if season is None else 0.5)  # all targets' bound is far where stays are long


def net_of(night):
    """Return what a plan is worth beyond beginning its targets, from the definition: 0.35 of the main filter's all."""
    begun = {block.target.name for block in night.blocks}
    cost = 0.0
    for outlook in night.outlooks:
        if outlook.request.target.name in begun:
            needs = outlook.request.needs
            shares = [min((need.done / need.hours).value, 1) for need in needs]
            cost += 0.35 * outlook.request.priority * max(outlook.weights) * (1 - max(shares))
    return night.value - cost


def test_the_targets_chosen_are_worth_beginning_more_than_any_others():
    names = ["NGC 891", "M 33", "NGC 281"]
    requests = [default_request(target, DEMO.rig("nebulae")) for target in find_targets(names)]
    half = replace(requests[2], needs=tuple(replace(need, done=need.hours / 2) for need in requests[2].needs))
    wanted = [*requests[:2], half]
    alone = plan(requests=wanted, slot=15 * u.min)
    others = [plan(requests=list(some), season={}, slot=15 * u.min) for count in (1, 2)
              for some in itertools.combinations(wanted, count)]
    # 3 %: targets are left out one after another.
    assert net_of(alone) > 0.97 * max(net_of(one) for one in others)


def test_hours_that_hardly_count_are_no_hours():
    # Luminance within 10° of a Moon that is 99 % lit and up all night.
    target = find_targets(["M 45"])[0]
    found = plan(date="2026-11-23", requests=[Request(target=target, needs=(Need(
        band=DEMO.rig("nebulae").filters[0], hours=3 * u.h),))])
    assert not found.blocks
    assert "too little would count" in found.reason
