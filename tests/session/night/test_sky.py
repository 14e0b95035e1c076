"""The sky of one night as it is drawn, against astropy where it says where things are."""

import datetime
import itertools

import numpy as np
import pandas as pd
import pytest
from astropy import units as u

from planner.charts.night import altitude_frame, row_labels, runs_of, timeline_frame
from planner.charts.sky_map import dome_chart, dome_place, hour_frame, skyline_frame, track_frame
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.session.night.plan import plan_night
from planner.session.night.sky import NightClock, night_sky
from planner.session.projects.default_request import default_request
from planner.visibility import night

DEMO = load_equipment(packaged_data("equipment.toml"))
NAMES = ("NGC 7331", "NGC 891", "M 81")


def planned(site, date, names=NAMES):
    rig = DEMO.rig()
    targets = [find_target(name) for name in names]
    plan = plan_night([default_request(target, rig) for target in targets], rig, DEMO.site(site), date)
    return plan, night_sky(plan, targets)


@pytest.fixture(scope="module")
def hill():
    return planned("hill", datetime.date(2026, 11, 10))


@pytest.fixture(scope="module")
def paddock():
    return planned("paddock", datetime.date(2026, 11, 10), ("NGC 253", "NGC 1316"))


def test_hours_are_marked_where_astropy_puts_the_target(hill):
    """The marks stand at full hours of the site's clock; azimuth and true altitude by astropy's own transformations."""
    from visibility.rising import alt_az

    from planner.visibility.adapters import sky_coord

    _, sky = hill
    assert sky.hours[0] == datetime.datetime(2026, 11, 10, 17)
    assert sky.hours[-1] == datetime.datetime(2026, 11, 11, 6)
    # 20:00 CET is 19:00 UTC.
    at = sky.hours.index(datetime.datetime(2026, 11, 10, 20))
    assert sky.marks.times[at].utc.isot.startswith("2026-11-10T19:00:00")
    for row, target in enumerate(sky.targets):
        expected = sky_coord(target).transform_to(alt_az(sky.site, sky.marks.times))
        off = np.abs((sky.marks.azimuth[row].value - expected.az.value + 180) % 360 - 180) * u.deg
        assert np.all(off * np.cos(expected.alt) < 10 * u.arcsec)
        assert np.all(np.abs(sky.marks.altitude[row] - expected.alt) < 10 * u.arcsec)


def test_a_crossing_is_the_highest_place(hill):
    _, sky = hill
    for target, _, altitude in sky.crossings:
        row = [item.name for item in sky.targets].index(target.name)
        assert abs(altitude - sky.places.apparent_altitude[row].max()) < 0.1 * u.deg


def test_nothing_is_clear_behind_the_skyline_or_below_the_limit(hill):
    _, sky = hill
    table = skyline_frame(sky)
    heights = np.interp(sky.places.azimuth.to_value(u.deg) % 360, table["azimuth_deg"], table["altitude_deg"])
    assert np.all(sky.places.apparent_altitude.value[sky.clear] >= 30)
    assert np.all(sky.places.apparent_altitude.value[sky.clear] >= heights[sky.clear] - 4)


def test_work_is_drawn_when_the_plan_has_blocks(hill):
    plan, sky = hill
    minutes = sum((block.end - block.start).to_value(u.min) for block in plan.blocks)
    step = (sky.times[1] - sky.times[0]).to_value(u.min)
    assert sky.working.sum() * step == pytest.approx(minutes, abs=step * len(plan.blocks))
    assert not sky.working[~sky.clear].any()


def test_the_dome_shows_the_sky_as_seen_from_below(hill, paddock):
    # Lying on the back, head to the south: north up, east to the left, the zenith in the middle.
    assert dome_place(0.0, 90.0) == pytest.approx((0, 0), abs=1e-12)
    assert dome_place(0.0, 0.0) == pytest.approx((0, 1), abs=1e-12)
    assert dome_place(90.0, 0.0) == pytest.approx((-1, 0), abs=1e-12)
    assert dome_place(180.0, 45.0) == pytest.approx((0, -0.5), abs=1e-12)
    for _, sky in (hill, paddock):
        table = track_frame(sky)
        up = table[table["altitude_deg"] > 0]
        assert np.all(np.hypot(up["across"], up["up"]) < 1)
        low = skyline_frame(sky)
        assert np.hypot(low["across"], low["up"]).max() <= 1 + 1e-12
        assert dome_chart(sky).to_dict()["description"].startswith("The sky with the zenith")


def test_frames_hold_what_is_drawn(hill):
    plan, sky = hill
    assert set(altitude_frame(sky)["name"]) == {*(target.name for target in sky.targets), "Moon"}
    assert (hour_frame(sky)["altitude_deg"] > 0).all()
    assert (runs_of(altitude_frame(sky), ("planned",))["altitude_deg"] >= 30).all()
    table = timeline_frame(plan)
    assert (table["kind"] == "block").sum() == len(plan.blocks)
    assert (table["kind"] == "flip").sum() == sum(flip.planned is not None for flip in plan.flips)
    assert (table["end"] >= table["time"]).all()


def test_every_sub_is_counted_in_the_labels(hill):
    plan, _ = hill
    table = timeline_frame(plan)
    labels = row_labels(table, table["time"].min(), table["end"].max())
    counted = sum(int(number) for text in labels["text"] for part in text.split(", ")
                  for number in part.split(" × ")[0].split(" + "))
    assert counted == sum(block.sub_count for block in plan.blocks)


@pytest.mark.parametrize(("flip", "align"), [("22:00", "left"), ("02:00", "right")])
def test_no_label_lies_on_a_flip(flip, align):
    """A target that takes the whole night has its label beside the diamond, where there is more room."""
    clock = {text: pd.Timestamp(f"2026-11-{10 if text > '12' else 11} {text}") for text in ("18:00", flip, "06:00")}
    (start, at, end), kinds = clock.values(), ("block", "flip", "block")
    spans = ((start, at), (at, at), (at, end))
    table = pd.DataFrame([{"row": "M 33 · L", "kind": kind, "time": first, "end": last, "text": "9 × 90 s"}
                          for kind, (first, last) in zip(kinds, spans, strict=True)])
    label = row_labels(table, start, end).iloc[0]
    assert (label["time"], label["align"], label["text"]) == (at, align, "9 + 9 × 90 s")
    assert label["over"]  # the bar, not on it
    # One that ends the night stands before the flip that leads to it.
    late = table[1:].assign(time=at + pd.Timedelta("4h"))
    late.loc[1, "time"] = first = at + pd.Timedelta("3h")
    assert row_labels(late, start - pd.Timedelta("12h"), end)["time"].tolist() == [first]


def test_the_clock_runs_through_the_night_in_which_clocks_change():
    """Summer time ends on 2026-10-25 at 1:00 UTC (Directive 2000/84/EC: the last Sunday of October)."""
    clock = NightClock(night(DEMO.site("hill"), datetime.date(2026, 10, 24)))
    assert clock.changes
    assert clock.zone == "CEST, UTC+2"
    found = night(DEMO.site("hill"), datetime.date(2026, 10, 24))
    hours = clock.full_hours(found.sunset, found.sunrise)
    assert [later - sooner for sooner, later in itertools.pairwise(hours)] == [
        datetime.timedelta(hours=1)] * (len(hours) - 1)
    assert clock(clock.moment(hours[3])) == hours[3]
    assert not NightClock(night(DEMO.site("hill"), datetime.date(2026, 11, 10))).changes


def test_no_target_leaves_skyline_and_moon(hill):
    plan, _ = hill
    sky = night_sky(plan, [])
    assert set(altitude_frame(sky)["name"]) == {"Moon"}
    assert len(skyline_frame(sky)) == 361
