"""Set-ups on a mount: the same answer as the advice, an order that no rounding decides, limits that can be lifted."""

import datetime
from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import CAMERA, GUIDER, HYDROGEN, PERFECT_MOUNT, WORM_MOUNT
from numpy.testing import assert_allclose
from session.owned import LARGE_PIXELS, LONG, LUMINANCE, OWNED, REDUCER, RIG, SHORT, SMALL, WIDE, only, weigh

from planner.fields import document
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.files.targets.stars import stars_around
from planner.rig import Equipment, PeriodicTerm
from planner.session.advice.answer import Goal, advise, judge
from planner.session.match.answer import MatchAnswer
from planner.session.match.colour import COLOURS, picture_time
from planner.session.match.combination import lit_circles
from planner.session.match.combinations import weigh_combinations
from planner.session.match.pair import at_once, side_by_side
from planner.session.match.set_ups import _ordered, set_ups
from planner.session.match.text import (
    as_good_text,
    causes_text,
    headline,
    held_back_text,
    limits,
    set_up_text,
    time_text,
    width_text,
)

FAINT = Goal(brightness=26 * u.mag / u.arcsec**2)
WORM_RIG = replace(RIG, mount=WORM_MOUNT)
TWO_WINDOWS = ((494.0, 0.0), (495.0, 0.9), (507.0, 0.9), (508.0, 0.0), (649.0, 0.0), (650.0, 0.9), (662.0, 0.9),
               (663.0, 0.0))


@pytest.fixture(scope="module")
def wide():
    asked = weigh(target=WIDE, rig=WORM_RIG, goal=FAINT)
    return asked, set_ups(asked)


def test_one_row_a_set_up_and_every_rank_once(wide):
    _, rows = wide
    # Three optical trains (the reducer fits one telescope), two cameras.
    assert len(rows) == len({row.name for row in rows}) == 6
    assert [row.rank for row in rows] == list(range(1, 7))


def test_hours_and_depth_are_those_of_the_advice_on_the_same_night():
    demo, target = load_equipment(packaged_data("equipment.toml")), find_target("M 51")
    night = datetime.date(2026, 11, 28)  # Moon 73 % lit, 63 deg away
    for rig in map(demo.rig, ("nebulae", "galaxies", "wide", "old pier")):  # one of each verdict
        parts = replace(demo, telescopes=(rig.telescope,), reducers=(), cameras=(rig.camera,))
        asked = weigh_combinations(parts, rig, demo.site(), rig.filters[0], target=target, date=night,
                                   stars_around=stars_around, binnings=(rig.binning,))
        row, = set_ups(asked)
        advice = advise(target, rig, demo.site(), night, stars=stars_around(target, rig), with_changes=False)
        assert (row.verdict, row.sub_exposure) == (advice.verdict.verdict, advice.better.recommended)
        panels = row.choice.framing.panels
        one = row.surface_time if panels == 1 else row.surface_time / panels - 2 * u.min
        assert time_text(one) == time_text(advice.total.clock_time)
        if panels == 1:
            assert abs(row.depth.brightness - advice.depth.brightness) < 1e-3 * row.depth.brightness.unit


def test_a_search_that_begins_with_the_loop_of_another_set_up_ends_as_well():
    # A fast error that the loop must not follow: the setting differs from telescope to telescope.
    term = PeriodicTerm(period=6 * u.s, amplitude=1 * u.arcsec)
    rig = replace(RIG, mount=replace(WORM_MOUNT, periodic=(*WORM_MOUNT.periodic, term)), guider=GUIDER)

    def judged(*telescopes):
        owned = replace(OWNED, telescopes=telescopes, reducers=(), cameras=OWNED.cameras[:1])
        return {row.choice.telescope.name: row for row in set_ups(weigh(owned, rig=rig, target=SMALL, binnings=(1,)))}

    together, alone = judged(SHORT, LONG), judged(LONG)
    assert together[SHORT.name].loop.exposure != together[LONG.name].loop.exposure
    assert_allclose(together[LONG.name].surface_time, alone[LONG.name].surface_time, rtol=0.01)


def test_adding_pixels_later_changes_no_verdict():
    verdicts, kept = set(), []
    for binning in (1, 2, 3):
        asked = weigh(only(LONG), rig=WORM_RIG, target=SMALL, goal=FAINT, binnings=(binning,), ranking="surface")
        row, = set_ups(asked)
        verdicts.add((row.verdict, row.method))
        kept.append(row.kept)
    assert len(verdicts) == 1
    assert np.ptp(kept) < 0.05  # the length differs with the read noise, by a step of the ladder at most


def test_a_mount_costs_time():
    still, worn = (set_ups(weigh(only(LONG), rig=replace(RIG, mount=mount), target=SMALL, goal=FAINT, binnings=(1,)))[0]
                   for mount in (PERFECT_MOUNT, WORM_MOUNT))
    assert worn.detail_time > still.detail_time


def test_what_keeps_no_sub_comes_last_with_the_reason():
    hopeless = replace(WORM_MOUNT, jitter=25 * u.arcsec)
    lost = set_ups(weigh(rig=replace(RIG, mount=replace(hopeless, rate_error_ppm=9e4), guider=None), target=SMALL,
                         goal=FAINT))
    assert lost
    for row in lost:
        assert row.works or row.reason == "no length of sub keeps round stars on this mount"
    assert [row.works for row in lost] == sorted((row.works for row in lost), reverse=True)


def test_a_load_is_a_limit_that_can_be_lifted():
    heavy = replace(LONG, mass=30 * u.kg)
    owned = replace(OWNED, telescopes=(SHORT, heavy), reducers=())
    asked = weigh(owned, rig=replace(WORM_RIG, mount=replace(WORM_MOUNT, payload=20 * u.kg)), target=SMALL, goal=FAINT)
    first = set_ups(asked)
    assert first[0].choice.telescope is SHORT
    held_back = next(row for row in first if row.choice.telescope is heavy)
    assert held_back.reason.startswith("at least 30.")
    assert "rated for 20 kg" in causes_text(asked, held_back)
    assert not held_back.as_good
    lifted = set_ups(replace(asked, any_load=True))
    assert lifted[0].choice.telescope is heavy
    fastest = min(lifted, key=lambda row: row.detail_time)
    assert held_back_text(asked, first, 0.1).startswith(
        f"Faster but for its load: {fastest.name}, {time_text(fastest.detail_time)}, at least 30.")
    assert held_back_text(asked, lifted, 0.1) == held_back_text(asked, first, 1.0) == ""
    alone = weigh(only(heavy), rig=asked.rig, target=SMALL, goal=FAINT)
    assert headline(alone, set_ups(alone)).endswith("but it is at least 30.0 kg on a mount rated for 20 kg")


def test_what_is_far_too_heavy_stands_behind_what_never_shows_the_detail():
    # 120 kg on a rating of 20 kg: a mount so loaded works no better than pixels that hold no such detail.
    heavy = replace(LONG, mass=120 * u.kg)
    owned = replace(OWNED, telescopes=(SHORT, heavy), reducers=())
    asked = weigh(owned, rig=replace(WORM_RIG, mount=replace(WORM_MOUNT, payload=20 * u.kg)), target=SMALL, goal=FAINT,
                  period=2.0 * min(one.pixel_pitch / SHORT.focal_length for one in owned.cameras).to(
                      u.arcsec, u.dimensionless_angles()))
    rows = set_ups(asked)
    never = [row.rank for row in rows if row.works and not np.isfinite(row.detail_time)]
    assert never
    assert max(never) < min(row.rank for row in rows if row.choice.telescope is heavy)
    assert held_back_text(asked, rows, 0.1) == ""


def test_a_little_too_heavy_is_a_little_behind():
    large = replace(LONG, aperture=1.3 * LONG.aperture, name="large")
    asked = weigh(replace(only(LONG), telescopes=(large, LONG, SHORT)), target=SMALL, goal=FAINT, binnings=(1,),
                  rig=replace(WORM_RIG, mount=replace(WORM_MOUNT, payload=20 * u.kg)))
    rows = {row.choice.telescope.name: row for row in set_ups(asked)}
    ratio = rows[SHORT.name].detail_time / rows["large"].detail_time
    places = []
    for mass in np.linspace(18, 80, 63):
        loaded = replace(rows["large"], load=mass * u.kg, reason="too heavy" if mass > 20 else "")
        ordered = _ordered(asked, [loaded, rows[LONG.name], rows[SHORT.name]], 0.1)
        places.append([row.choice.telescope.name for row in ordered].index("large") + 1)
    # First within the rating, second beyond it, third where twice the time for each tenth of the rating is as much.
    clearly = 20 * (1 + 0.1 * np.log2(ratio / 1.1))
    assert places == [1] * 3 + [2 if mass < clearly else 3 for mass in np.linspace(18, 80, 63)[3:]]


def test_near_equals_stand_in_order_of_panels_load_and_data():
    # The same sensor twice, one in a lighter body: no time tells them apart.
    light = replace(CAMERA, name="a light body", mass=0.3 * u.kg)
    heavy = replace(CAMERA, name="a heavy body", mass=2 * u.kg)
    asked = weigh(replace(OWNED, telescopes=(LONG,), reducers=(), cameras=(heavy, light)), rig=WORM_RIG, target=SMALL,
                  goal=FAINT)
    rows = set_ups(asked)
    assert [row.choice.camera.name for row in rows] == ["a light body", "a heavy body"]
    assert all(row.as_good for row in rows)
    assert "a heavy body" in as_good_text(asked, rows, 0.1)
    # Of the same load and data the faster stands first, whatever it is called.
    slower = replace(rows[0], detail_time=1.05 * rows[0].detail_time, choice=replace(
        rows[0].choice, camera=replace(light, name="a body")))
    assert [row.choice.camera.name for row in _ordered(asked, [slower, rows[0]], 0.1)] == ["a light body", "a body"]


def test_of_equals_one_that_separates_the_stars_asked_for_comes_first():
    # A bright star: a few subs do, whatever the telescope. The small one is lighter, and sees stars 3″ apart as one.
    light, heavy = replace(SHORT, mass=2 * u.kg), replace(LONG, mass=9 * u.kg)
    asked = weigh(replace(only(LONG), telescopes=(light, heavy)), rig=WORM_RIG, target=SMALL, ranking="stars",
                  star=12 * u.mag, binnings=(1,))
    assert [row.choice.telescope for row in set_ups(asked)] == [light, heavy]
    near = replace(asked, apart=3 * u.arcsec)
    rows = set_ups(near)
    assert [row.choice.telescope for row in rows] == [heavy, light]
    assert rows[1].as_good
    assert "As good within 10 %, with 10 min to point, centre and focus: " in as_good_text(near, rows, 0.1)
    assert as_good_text(near, rows, 0.1).endswith(
        "half the panels like 2 % less time, half the load, data, focus runs or time for the faint surface like 1 %. "
        "Where neighbours 3″ apart show as one, each 20 % that they are too close count like 10 % more.")


def test_where_the_goal_is_reached_at_once_by_all_the_faint_surface_decides():
    # Seconds for a star that bright, whatever the camera: one with next to no data is no better for that.
    asked = weigh(only(LONG), rig=WORM_RIG, target=SMALL, ranking="stars", star=12 * u.mag, binnings=(1,))
    (row,) = set_ups(asked)
    good, old = (replace(row, star_time=time * u.s, surface_time=surface * u.h, data=data * u.Gbyte / u.h,
                         choice=replace(row.choice, camera=replace(CAMERA, name=name)))
                 for name, time, surface, data in (("good", 8, 28, 60), ("a old", 25, 170, 0.5)))
    assert _ordered(asked, [old, good], 0.1)[0].name == good.name
    long = [replace(one, star_time=20 * u.h, surface_time=28 * u.h) for one in (old, good)]
    assert _ordered(asked, long, 0.1)[0].name == old.name  # where all take as long, less data is better


def test_no_last_digit_decides(wide):
    asked, rows = wide
    # Each set-up three times, in heavier bodies: their times differ by rounding alone, and load says the order.
    plain = [replace(row, rank=0, as_good=False, outclassed_by=None, load=mass * u.kg, choice=replace(
        row.choice, camera=replace(row.choice.camera, name=f"{row.choice.camera.name} {mass}")))
        for row in rows for mass in (3, 1, 2)]
    order = [row.name for row in _ordered(asked, plain, 0.1)]
    assert [int(name[-1]) for name in order] == [1, 2, 3] * len(rows)
    for seed in range(20):
        noise = 1 + 1e-9 * np.random.default_rng(seed).normal(size=(len(plain), 2))
        nudged = [replace(row, surface_time=row.surface_time * a, detail_time=row.detail_time * b)
                  for row, (a, b) in zip(plain, noise, strict=True)]
        assert [row.name for row in _ordered(asked, nudged[::-1], 0.1)] == order


@pytest.mark.parametrize(("simpler", "worth"), [("panels", 0.2), ("load", 0.1), ("data", 0.1)])
@pytest.mark.parametrize("as_good", [0.05, 0.1, 0.3])
def test_simplicity_counts_for_what_is_said_and_without_a_step(wide, simpler, worth, as_good):
    asked, rows = wide
    row = replace(next(row for row in rows if row.choice.framing.panels == 1), load=1 * u.kg, data=1 * u.Gbyte / u.h)
    middle = row.choice.framing.rows[0][0]
    camera = replace(row.choice.camera, name="z")
    more = replace(row, choice=replace(row.choice, camera=camera))
    if simpler == "panels":
        framing = replace(row.choice.framing, rows=((middle, middle),))
        more = replace(more, choice=replace(more.choice, framing=framing))
    else:  # beside 1 kg or 1 GB/h that any set-up has
        more = replace(more, **{simpler: 3 * getattr(row, simpler)})
    begun = row.detail_time + 10 * u.min
    for saved, first in ((0.999, row), (1.001, more), (1.2, more)):
        faster = replace(more, detail_time=begun / ((1 + as_good) ** worth * saved) - 10 * u.min)
        ordered = _ordered(asked, [row, faster], as_good)
        assert ordered[0].name == first.name
        assert all(one.as_good for one in ordered) == (saved < 1 + as_good)


def test_outclassed_is_nowhere_worse_and_somewhere_clearly_better(wide):
    _, rows = wide
    by_rank = {row.rank: row for row in rows}
    for row in rows:
        if row.outclassed_by is not None:
            other = by_rank[row.outclassed_by]
            pairs = [(getattr(other, key).value, getattr(row, key).value) for key in ("surface_time", "detail_time")]
            pairs += [(other.choice.fwhm.value, row.choice.fwhm.value),
                      (other.choice.framing.panels, row.choice.framing.panels)]
            assert all(a <= b * 1.052 for a, b in pairs)
            assert other.works
            assert not other.reason
    assert any(row.outclassed_by is None for row in rows)


def test_a_small_target_wants_a_long_telescope_and_the_field_a_short_one():
    assert set_ups(weigh(target=SMALL, rig=WORM_RIG))[0].choice.telescope is LONG
    assert set_ups(weigh(target=WIDE, rig=WORM_RIG, ranking="field"))[0].choice.telescope is SHORT


def test_a_mosaic_costs_its_panels_and_the_moves_between(wide):
    _, rows = wide
    mosaic = next(row for row in rows if row.choice.framing.panels > 3)
    one, = (row for row in set_ups(weigh(target=replace(WIDE, size_major=None, size_minor=None), rig=WORM_RIG,
                                         goal=FAINT)) if row.name == mosaic.name)
    panels = mosaic.choice.framing.panels
    assert_allclose(mosaic.surface_time.to_value(u.h), panels * (one.surface_time.to_value(u.h) + 2 / 60))


def test_binnings_that_are_as_fast_are_said():
    asked = weigh(only(LONG, replace(CAMERA, read_noise=0.1 * u.electron, pixel_pitch=2 * u.um)), rig=WORM_RIG,
                  target=SMALL, goal=FAINT, ranking="surface")
    row, = set_ups(asked)
    assert row.choice.binning == 1  # the smallest of those that are as good
    assert row.binnings == (1, 2, 3)


def test_a_sensor_that_adds_charges_itself_reads_less_noise():
    # Through a line filter read noise rules: 3 x 3 pixels read once against nine times, and fewer data.
    noisy = replace(CAMERA, read_noise=12 * u.electron)
    once, later = (set_ups(weigh(only(LONG, camera), rig=WORM_RIG, target=SMALL, ranking="surface", band=HYDROGEN))[0]
                   for camera in (replace(noisy, register_well=1e5 * u.electron), noisy))
    assert (once.binnings, later.binnings) == ((3,), (1, 2, 3))
    assert once.surface_time < 0.8 * later.surface_time
    assert once.data < later.data / 4
    rig = replace(OWNED, rigs=(replace(RIG, binning=3, camera=replace(noisy, register_well=1e5 * u.electron)),)).rig()
    assert (rig.camera, rig.binning) == (once.choice.camera, 1)


def test_what_comes_to_no_focus_is_last_with_the_reason():
    # Two thin lenses by ray matrices: a ray at height 1 through the telescope (f = 2100 mm), 80 mm before its focus a
    # lens of factor 0.7, and to the axis 56 mm behind it.
    lens = 56 / (1 - 0.7)
    ray = np.array([1.0, 0.0])
    for matrix in ([[1, 0], [-1 / 2100, 1]], [[1, 2020], [0, 1]], [[1, 0], [-1 / lens, 1]], [[1, 56], [0, 1]]):
        ray = np.array(matrix) @ ray
    assert_allclose([ray[0], -1 / ray[1]], [0, 0.7 * 2100], atol=1e-9)
    reducer = replace(REDUCER, back_focus=56 * u.mm)
    for room, camera, said in ((81, 50, ""), (79, 50, "no focus: 80 mm are needed behind the telescope, 79 mm are"),
                               (81, 57, "no focus: the camera needs 57 mm behind the lens")):
        owned = replace(only(replace(LONG, back_focus=room * u.mm), replace(CAMERA, back_focus=camera * u.mm)),
                        reducers=(reducer,))
        found = set_ups(weigh(owned, rig=WORM_RIG, target=SMALL, goal=FAINT))
        alone, reduced = sorted(found, key=lambda row: row.choice.reducer is not None)
        assert alone.works
        assert reduced.works == (not said)
        assert reduced.reason.startswith(said)
        assert not said or reduced.rank == 2


def test_stars_count_for_a_cluster_and_their_width_decides():
    asked = weigh(target=replace(SMALL, kind="globular cluster"), rig=WORM_RIG, goal=FAINT)
    assert asked.ranking == "stars"
    assert weigh(target=SMALL, rig=WORM_RIG, goal=FAINT).ranking == "detail"
    # Behind the sky's noise a star costs its noise-equivalent area over the area whose light it has; that of a
    # Gaussian is 4 pi sigma^2 (King 1983, PASP 95, 163), of a star blurred by the air a little more.
    for row in set_ups(asked):
        gaussian = 4 * np.pi * (row.choice.fwhm.value / 2.3548) ** 2
        assert 1 <= (row.star_time / row.surface_time).value * asked.goal.area.value / gaussian < 2


def test_the_finest_detail_is_what_the_hours_just_reach():
    asked = weigh(only(LONG), rig=WORM_RIG, target=SMALL, goal=FAINT)
    row, = set_ups(asked)
    assert asked.body == 1  # the goal is the observer's own
    again, = set_ups(replace(asked, period=row.finest))
    night = (asked.hours.hour_angle[-1] - asked.hours.hour_angle[0]).to_value(u.hourangle)
    assert_allclose(again.detail_time.to_value(u.h), night, rtol=0.02)
    # A body a hundred times as bright shows finer detail, down to what the pixels hold.
    bright, = set_ups(replace(asked, body=100.0))
    assert row.forbidden < bright.finest < row.finest


def test_the_body_of_a_target_in_its_own_brightness():
    # M 57: V = 8.8 on a disc of 1.27 arcmin is 8.8 + 2.5 log(pi/4 76.2^2) = 17.9 mag/arcsec2; the usual goal is 26.5.
    disc = replace(SMALL, surface_brightness=None, magnitude=8.8 * u.mag, size_major=1.27 * u.arcmin, size_minor=None)
    assert_allclose(weigh(target=disc).body, 10 ** (0.4 * (26.5 - 17.95)), rtol=0.02)
    assert weigh(target=replace(SMALL, surface_brightness=28 * u.mag / u.arcsec**2)).body == 1
    # The hydrogen line through a filter with a window on it and one on oxygen, whose middle lies between them.
    both = replace(HYDROGEN, centre=580 * u.nm, curve=TWO_WINDOWS)
    assert weigh(target=replace(SMALL, line_brightness=200 * u.R), band=both).body == 10  # the usual goal: 20 R


def test_a_mono_sensor_takes_a_line_through_a_filter_with_two_windows():
    both = replace(HYDROGEN, centre=578.5 * u.nm, width=26 * u.nm, curve=TWO_WINDOWS)
    lines = [set_ups(weigh(only(LONG), rig=WORM_RIG, target=SMALL, ranking="surface", band=band))[0]
             for band in (replace(HYDROGEN, width=13 * u.nm, transmission=0.9), both)]
    # The same light of the line; the sky of two windows instead of one, of which the blue one is darker.
    assert 1.2 < lines[1].surface_time / lines[0].surface_time < 2.1
    assert [row.depth.band for row in lines] == [HYDROGEN.name] * 2
    assert lines[1].depth.line > lines[0].depth.line


def test_behind_a_filter_with_two_windows_the_slower_line_counts_and_mono_mixes_both():
    both = replace(HYDROGEN, centre=578.5 * u.nm, width=26 * u.nm, curve=TWO_WINDOWS)
    colour = replace(CAMERA, name="colour", colour="bayer")
    owned = replace(only(LONG), cameras=(CAMERA, colour))
    rows = set_ups(weigh(owned, rig=WORM_RIG, target=SMALL, ranking="surface", band=both))
    assert [(row.choice.camera.name, row.mixes) for row in rows] == [("colour", False), (CAMERA.name, True)]
    assert not rows[1].as_good
    assert any("mix both lines" in limit.sentence for limit in limits(weigh(owned, band=both), rows[1]))
    # One pixel of four is red, and the other three see oxygen: hydrogen's hours are those of a filter for it alone.
    (alone,) = set_ups(weigh(replace(owned, cameras=(colour,)), rig=WORM_RIG, target=SMALL, ranking="surface",
                             band=replace(HYDROGEN, width=13 * u.nm, transmission=0.9)))
    assert rows[0].surface_time.value == pytest.approx(alone.surface_time.value, rel=0.1)


def test_where_no_sub_fits_into_a_panel_there_is_no_finest_detail(wide):
    asked, _ = wide
    rows = set_ups(replace(asked, hours=replace(asked.hours, length=12 * u.min)))
    reached = [row.depth is not None and np.isfinite(row.depth.faintest.value) for row in rows]
    assert not all(reached)
    assert not any(np.isfinite(row.finest.value) for row, any_depth in zip(rows, reached, strict=True) if not any_depth)


def test_a_star_is_recorded_as_wide_as_the_advice_says_and_a_filled_in_picture_widens_it():
    array = replace(CAMERA, name="array", colour="bayer")
    row, = set_ups(asked := weigh(only(camera=array), rig=replace(RIG, camera=array), target=SMALL, band=LUMINANCE))
    found = judge(replace(RIG, camera=array), asked.site, LUMINANCE, asked.goal, asked.hours, declination=SMALL.dec,
                  target=SMALL, with_reasons=False)
    assert row.choice.fwhm == found.scene.response.still.fwhm < row.choice.picture_fwhm
    assert "in a picture with its colours filled in" in width_text(row.choice)
    drizzled, = set_ups(replace(asked, drizzled=True))
    assert drizzled.choice.picture_fwhm == drizzled.choice.fwhm == row.choice.fwhm
    assert "picture" not in width_text(drizzled.choice)


def test_a_rig_without_guider_is_not_told_what_guiding_brings():
    shaky = replace(WORM_MOUNT, periodic=(PeriodicTerm(period=5 * u.s, amplitude=4 * u.arcsec),))
    told = []
    for guider in (None, GUIDER):
        row, = rows = set_ups(asked := weigh(only(LONG), rig=replace(RIG, mount=shaky, guider=guider)))
        assert row.verdict == "neither"
        told.append((headline(asked, rows), set_up_text(row), limits(asked, row)[0].sentence))
    (line, way, why), (line_of_both, _, why_of_both) = told
    assert line.endswith("not good without guiding")
    assert line_of_both.endswith("neither way is good")
    assert way.startswith("unguided, ")
    assert [why.split(",")[0], why_of_both.split(",")[0]] == ["Without guiding", "Guided or not"]


def test_colour_takes_all_at_once_and_luminance_from_a_third_of_the_light():
    array = replace(CAMERA, name="array", colour="bayer")
    owned = replace(OWNED, telescopes=(LONG,), reducers=(), cameras=(CAMERA, array))
    asked = weigh(owned, rig=WORM_RIG, target=SMALL, goal=FAINT, band=LUMINANCE)
    mono, colour = sorted(set_ups(asked), key=lambda row: row.choice.camera.name == "array")
    # Three dyes that meet: each pixel has a third of the light and of the sky.
    assert 2.4 < colour.surface_time / mono.surface_time < 3.3
    lines = {line.label: line for line in side_by_side(asked, mono, colour)}
    three = lines["Three colours, each to the goal, all panels"]
    assert three.first.endswith("one after another")
    assert three.second.endswith("at once")
    # A quarter of the pixels all the time against all pixels a third of it: 4/3 of the time where the colours ask the
    # same, up to 4 where one asks for all of it.
    one, other = (picture_time(asked, row, COLOURS, ratio=5) for row in (mono, colour))
    assert 1.2 < other / one < 4


def test_the_lit_circle_is_a_limit_that_can_be_lifted():
    small = replace(SHORT, image_circle=12 * u.mm)
    cut, = set_ups(weigh(only(small), rig=WORM_RIG, target=WIDE, goal=FAINT))
    whole, = set_ups(weigh(only(small), rig=WORM_RIG, target=WIDE, goal=FAINT, any_circle=True))
    assert cut.choice.lit == whole.choice.lit < 1
    hardly = replace(cut, choice=replace(cut.choice, lit=0.998))  # 0.1 mm of a circle of 52 mm
    causes = [[limit.cause for limit in limits(weigh(only(small)), row)] for row in (cut, hardly)]
    assert ["image circle" in found for found in causes] == [True, False]
    assert_allclose(cut.choice.field.width / whole.choice.field.width, cut.choice.lit, rtol=1e-3)
    assert "image circle" in causes_text(weigh(only(small)), whole)


@pytest.mark.parametrize(("diameter", "distance", "ratio"), [(27, 25, 5), (31, 20, 4), (25, 40, 2.2)])
def test_a_filter_passes_the_cones_of_what_it_lights(diameter, distance, ratio):
    train = replace(SHORT, aperture=400 / ratio * u.mm, image_circle=None)
    circle = lit_circles(train, replace(LUMINANCE, diameter=diameter * u.mm, distance=distance * u.mm))
    edge = circle["filter's diameter"].to_value(u.mm) / 2
    # A ray from the edge of the pupil to the edge of the circle, where it meets the filter.
    pupil, place = 400 / ratio / 2, 1 - distance / 400
    assert_allclose(pupil + (edge - pupil) * place, diameter / 2)


def test_a_small_filter_cuts_the_field():
    small = replace(LUMINANCE, diameter=20 * u.mm)
    asked = weigh(only(), target=WIDE, goal=FAINT, band=small)
    row, = set_ups(asked)
    assert row.choice.lit < 1
    assert "filter's diameter" in causes_text(asked, row)
    assert "The filter, 25 mm before the sensor, lights" in " ".join(limit.sentence for limit in limits(asked, row))


def test_two_side_by_side(wide):
    asked, rows = wide
    first, second = rows[0], rows[-1]
    lines = {line.label: line for line in side_by_side(asked, first, second)}
    for label, left, right in (("Star as recorded", first.choice.fwhm, second.choice.fwhm),
                               ("Faint surface, all panels", first.surface_time, second.surface_time)):
        if abs(left - right) > 0.051 * max(left, right):
            assert lines[label].better.startswith("first" if left < right else "second")
    # Two exposures averaged with the best weights: 1 / variance adds (Bevington, Data Reduction, 1969, eq. 5-6).
    assert_allclose(at_once(3 * u.h, 6 * u.h).to_value(u.h), 2)
    assert at_once(3 * u.h, np.inf * u.h) == 3 * u.h
    assert at_once(np.inf * u.h, np.inf * u.h) == np.inf * u.h
    same = {line.label: line for line in side_by_side(asked, first, first)}
    assert {line.better for line in same.values()} == {"", "alike"}


def test_the_document_is_plain_and_its_keys_carry_units(wide):
    from planner.files.json_text import json_text

    asked, rows = wide
    found = document(MatchAnswer(asked, rows, (1, 2)))
    json_text(found, "match")  # refuses anything with a unit
    row = found["set_ups"][0]
    assert {"image_scale_arcsec_per_pixel", "star_fwhm_arcsec", "star_fwhm_pixels", "resolution_lost_fraction",
            "surface_time_h", "detail_time_h", "target_fraction", "limited_by", "outclassed_by", "as_good", "verdict",
            "kept_fraction", "binnings_alike", "load_kg"} <= set(row)


def test_what_cannot_be_seen_is_an_answer():
    asked = weigh(target=replace(SMALL, dec=-80 * u.deg))
    assert set_ups(asked) == ()
    assert document(MatchAnswer(asked, ()))["reason"]
    assert "never high enough" in headline(asked, ())


def test_the_order_does_not_depend_on_how_the_equipment_is_given():
    one = set_ups(weigh(rig=WORM_RIG, goal=FAINT))
    turned = Equipment(**{**vars(OWNED), "cameras": (LARGE_PIXELS, CAMERA), "telescopes": (LONG, SHORT)})
    two = set_ups(weigh(turned, rig=WORM_RIG, goal=FAINT))
    assert [row.name for row in one] == [row.name for row in two]


def test_what_takes_longer_than_the_clear_nights_of_a_year_is_said_to():
    asked = weigh(target=SMALL, rig=WORM_RIG, goal=FAINT)
    best = set_ups(asked)[0]
    told = [headline(asked, [replace(best, detail_time=hours * u.h)]) for hours in (900, 37_000)]
    assert told[0] == f"For small: {best.name}"
    assert told[1] == f"For small: {best.name}, though it takes 37\u202f000 h"


def test_where_no_pixel_holds_the_detail_the_faint_surface_decides_and_none_is_said_to_be_equal():
    asked = weigh(target=SMALL, rig=replace(WORM_RIG, mount=replace(WORM_MOUNT, payload=20 * u.kg)), goal=FAINT,
                  period=0.3 * u.arcsec)
    rows = set_ups(asked)
    assert not any(np.isfinite(row.detail_time.value) for row in rows)
    times = [row.surface_time.value for row in rows]
    assert times == sorted(times)
    assert [row.as_good for row in rows] == [True] + [False] * (len(rows) - 1)
    assert headline(asked, rows).endswith("though nothing you own shows detail of 0.3″ there")
    # The fastest is too heavy and stands behind all that are not.
    heavy = replace(rows[0], load=30 * u.kg, reason="too heavy")
    assert _ordered(asked, [heavy, *rows[1:]], 0.1)[-1].name == heavy.name
