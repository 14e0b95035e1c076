"""An observer's own limits of a night: hours, filters, distance from the Moon; and why nothing is exposed."""

import datetime
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import AltAz, EarthLocation, SkyCoord, get_body
from astropy.time import Time

from planner.errors import InvalidInputError
from planner.files.equipment import load_equipment
from planner.files.forms.session import moon_distances, night_moment
from planner.files.own_files import packaged_data
from planner.files.targets import find_targets
from planner.session.night.events import rests
from planner.session.night.limits import NightLimits, through
from planner.session.night.plan import plan_night
from planner.session.projects.default_request import default_request
from planner.session.projects.request import Need, Request

DEMO = load_equipment(packaged_data("equipment.toml"))
RIG, HILL = DEMO.rig("nebulae"), DEMO.site("hill")
NEAR = ("M 33", "NGC 891", "NGC 7331")  # 26 to 70 deg from the full Moon of 2026-11-24


def plan(names, date="2026-11-24", **more):
    return plan_night([default_request(target, RIG) for target in find_targets(names)], RIG, HILL,
                      datetime.date.fromisoformat(date), **more)


def from_moon(block):
    """Return the distance from the Moon at both ends and its altitude, by a library [deg]."""
    where = EarthLocation.from_geodetic(HILL.longitude, HILL.latitude, HILL.height)
    times = Time([block.start, block.end])
    frame = AltAz(obstime=times, location=where)
    moon = get_body("moon", times, where).transform_to(frame)
    target = SkyCoord(block.target.ra, block.target.dec).transform_to(frame)
    return moon.separation(target).deg, moon.alt.deg


def test_a_filter_keeps_its_distance_from_the_moon_by_a_library():
    free, kept = (plan(NEAR, season={}, limits=NightLimits(moon=moon))
                  for moon in ({}, {"l": 60 * u.deg, "R": 35 * u.deg}))
    least = {"L": 60, "R": 35}
    # Without the limit the plan goes nearer, so that the test can fail.
    assert any((from_moon(block)[0] < least.get(block.band.name, 0)).any() for block in free.blocks)
    assert {"L", "R"} & {block.band.name for block in kept.blocks}
    for block in kept.blocks:
        distance, altitude = from_moon(block)
        # 0.02 deg: our Moon is 20 arcsec off at most; refraction lifts it at the horizon.
        assert ((distance >= least.get(block.band.name, 0) - 0.02) | (altitude < 0)).all()
    assert any("L at least 60°, R at least 35°" in note for note in kept.notes)


def test_before_the_moon_rises_it_does_not_count():
    # The half Moon of 2026-11-30 rises in the middle of the night (our own moonrise, of tests against DE421).
    limits = NightLimits(moon={band.name: 180 * u.deg for band in RIG.filters})
    found = plan(["NGC 891"], "2026-11-30", limits=limits)
    assert found.blocks
    assert found.blocks[-1].end <= found.moon.rises[0] + 2 * u.min
    assert "nearer to the Moon than you allow" in plan(["NGC 891"], limits=limits).reason


def test_a_session_ends_when_it_should_and_an_impossible_one_is_refused():
    date = datetime.date(2026, 11, 24)
    begin, until = (night_moment("time", text, date, HILL) for text in ("20:30", "01:00"))
    found = plan(NEAR, limits=NightLimits(begin=begin, until=until))
    # 01:00 CET is midnight in UTC.
    assert found.blocks[0].start.isot >= "2026-11-24T19:30"
    assert found.blocks[-1].end.isot <= "2026-11-25T00:00:00.1"
    short = plan(["M 33"], limits=NightLimits(begin=begin, until=begin + 50 * u.min))
    assert short.outlooks[0].reason == "Observable for 50 min in one go only; need at least 60 min."
    with pytest.raises(InvalidInputError, match="must end after it begins"):
        plan(NEAR, limits=NightLimits(begin=until, until=begin))
    early = NightLimits(until=night_moment("time", "17:00", date, HILL))
    assert plan(NEAR, limits=early).reason == "Observable, but not between the start and the end that you set."


def test_filters_of_one_night():
    requests = [default_request(target, RIG) for target in find_targets(["NGC 7331", "NGC 7000"])]
    kept = through(requests, ["ha"], RIG)
    assert [[need.band.name for need in request.needs] for request in kept] == [["Ha"]]
    with pytest.raises(InvalidInputError, match="must name filters that are wanted"):
        through(requests, ["X"], RIG)
    with pytest.raises(InvalidInputError, match="filters = none: must name filters"):
        through(requests, [], RIG)


def test_a_filter_that_nobody_said_anything_about_can_be_asked_for():
    galaxy = default_request(find_targets(["NGC 7331"])[0], RIG)
    (kept,) = through([galaxy], ["Ha", "OIII"], RIG)
    assert [need.band.name for need in kept.needs] == ["Ha", "OIII"]
    project = replace(galaxy, usual=False)
    with pytest.raises(InvalidInputError, match="must name filters that are wanted: B, G, L, R"):
        through([project], ["Ha"], RIG)


@pytest.mark.parametrize(("text", "message"), [
    ("L", "must be filters with degrees"), ("L=x", "must be a number"), ("L=0", "must be more than 0"),
    ("L=181", "must be at most 180")])
def test_distances_that_are_none(text, message):
    with pytest.raises(InvalidInputError, match=message):
        moon_distances("--moon-distance", text)


def test_distances_as_people_write_them():
    assert {name: angle.value for name, angle in moon_distances("x", "L=60, R = 45.5° ;Ha=30deg").items()} == {
        "L": 60, "R": 45.5, "Ha": 30}
    assert moon_distances("x", "") == {}
    with pytest.raises(InvalidInputError, match=r'Q: is no filter of the rig "nebulae"'):
        NightLimits(moon={"Q": 60 * u.deg}).of_rig(RIG)


def test_what_reads_as_met_is_told_as_met():
    state = SimpleNamespace(need=0, stretches=[SimpleNamespace(start=0.1, end=0.4)],
                            worth=SimpleNamespace(best=np.ones(1)))
    block, slots = SimpleNamespace(start=0.05, end=0.1, state=0), SimpleNamespace(at=lambda _: 0)
    times = SimpleNamespace(change=5 * u.min, flip=5 * u.min, minimum_block=20 * u.min)
    for left, words in ((0.04, "has the hours that it wants"), (0.2, "no other stay brings more")):
        *_, last = rests([state], [block], np.array([left]), (0.0, 0.4), slots, times, covered=0.1, others=[])
        assert words in last.text


@pytest.mark.parametrize(("after", "until", "others", "words"), [
    (0.1, 0.4, [], "no target can be worked on"), (0.1, 0.4, [(0.1, 0.4)], "no other stay brings more"),
    (0.1, 0.4, [(0.1, 0.11)], "no target can be worked on for a stay of 20 min"),
    (0.1, 0.11, [(0.0, 0.4)], "too short for a stay of 20 min")])
def test_what_was_left_by_choice_is_not_told_as_down(after, until, others, words):
    # The target planned has set; another, which was not begun, stands there for a while (days).
    state = SimpleNamespace(need=0, stretches=[SimpleNamespace(start=0.0, end=after)],
                            worth=SimpleNamespace(best=np.ones(1)))
    block, slots = SimpleNamespace(start=0.05, end=after, state=0), SimpleNamespace(at=lambda _: 0)
    times = SimpleNamespace(change=5 * u.min, flip=5 * u.min, minimum_block=20 * u.min)
    *_, last = rests([state], [block], np.array([5.0]), (0.0, until), slots, times, after,
                     [SimpleNamespace(start=start, end=end) for start, end in others])
    assert last.text.endswith(words)


def test_an_hour_without_a_frame_says_why():
    # A target that wants an hour and is up much longer; one that rises after dusk; both leave the rest of the night.
    target, late = find_targets(["NGC 891", "M 42"])
    band = RIG.filters[0]
    met = plan_night([Request(target=target, needs=(Need(band=band, hours=1 * u.h),))], RIG, HILL, "2026-12-05")
    idle = [event for event in met.events if event.kind == "rest"]
    assert idle
    assert all("has the hours that it wants" in event.text for event in idle)
    down = plan_night([Request(target=late, needs=(Need(band=band, hours=9 * u.h),))], RIG,
                      replace(HILL, horizon=None), "2026-12-05")
    first = next(event for event in down.events if event.kind == "rest")
    assert "no target can be worked on" in first.text
    assert abs((first.end - down.blocks[0].start).to_value(u.min) + down.times.change.to_value(u.min)) < 0.1
    gaps = sum((event.end - event.start).to_value(u.h) for event in down.events if event.kind == "rest")
    used = sum((block.end - block.start).to_value(u.h) for block in down.blocks)
    # Nothing of the dark is left without a word, but slews, a flip and pieces below a quarter of an hour.
    assert np.isclose(gaps + used, down.night.dark_hours.value, atol=0.7)
