"""The season's program by hand and in random seasons, and the campaign of the demo's projects."""

import datetime
import json
from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import PrecessedGeocentric, SkyCoord, get_body
from astropy.time import Time
from numpy.testing import assert_allclose
from scipy.stats import binom
from session.campaign.seasons import WAYS, sun_and_moon, world
from session.campaign.seasons import season as season_reached

from planner.cli import run
from planner.errors import InvalidInputError
from planner.fields import document as told
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.session.campaign.ahead import ahead_cells, ahead_rows, plan_ahead
from planner.session.campaign.answer import CampaignAnswer
from planner.session.campaign.campaign import campaign, visits
from planner.session.campaign.weather import Outcome, simulated
from planner.session.night.plan import plan_night
from planner.session.optimum.problem import Worth
from planner.session.optimum.season import Expected, season_plan
from planner.session.projects.default_request import default_request
from planner.session.projects.project import Project
from planner.session.projects.project_requests import project_requests
from planner.session.projects.request import Need, Request

DEMO = load_equipment(packaged_data("equipment.toml"))
RIG, SITE = DEMO.rig("nebulae"), DEMO.site("hill")
NIGHT = datetime.date(2026, 11, 10)


def worth(wanted, done=0.0):
    wanted = np.array(wanted, float)
    done = np.broadcast_to(np.array(done, float), wanted.shape)
    return Worth(weight=np.ones(len(wanted)), wanted=wanted, done=done, left=wanted - done)


def season(found, rate, up, night, clear, **more):
    """Return the plan of nights that are not cut into watches."""
    return season_plan(found, rate[..., np.newaxis], up[..., np.newaxis], night[:, np.newaxis], clear, **more)


def clock(plan):
    """Return hours on the clock by need and night."""
    return plan.clock_in_watch.sum(axis=2)


def test_what_sets_for_the_season_comes_first():
    # By hand: the first need is up tonight alone, the second in both nights.
    plan = season(worth([5, 5]), np.ones((2, 2)), np.array([[5, 0], [5, 5.0]]), np.full(2, 5.0), np.ones(2))
    assert_allclose(clock(plan), [[5, 0], [0, 5]], atol=1e-6)


def test_lines_go_under_the_moon_and_luminance_into_the_dark():
    # Tonight is moonlit: luminance has a tenth of its dark rate, the line two thirds.
    rate = np.array([[0.1, 1.0], [0.6, 0.9]])
    plan = season(worth([20, 20]), rate, np.full((2, 2), 8.0), np.full(2, 8.0), np.ones(2))
    assert_allclose(clock(plan)[:, 0], [0, 8], atol=1e-6)
    assert clock(plan)[0, 1] > 7  # of 8: the line's next hour is worth as much by then


def test_hours_count_beside_the_roots_of_their_shares():
    # Two needs of 4 h share 3 h of the clock, one at half the rate. The best share is found by trying all.
    first = np.linspace(0, 3, 3001)
    hours, found = [], replace(worth([4, 4]), hourly=np.full(2, 0.3))
    for one in (worth([4, 4]), found):
        tried = sum(np.sqrt(gained / 4) + (0 if one.hourly is None else 0.3) * gained
                    for gained in (first, (3 - first) / 2))
        plan = season(one, np.array([[1.0], [0.5]]), np.full((2, 1), 3.0), np.array([3.0]), np.ones(1))
        assert_allclose(clock(plan)[0, 0], first[np.argmax(tried)], atol=0.3)  # of chords
        hours.append(clock(plan)[0, 0])
    assert hours[1] > hours[0] + 0.2


def test_a_doubtful_night_is_not_waited_for():
    # Later the rate is a half more, but only three nights of ten are clear.
    one = season(worth([4]), np.array([[1.0, 1.5]]), np.full((1, 2), 4.0), np.full(2, 4.0), np.array([1, 0.3]))
    assert_allclose(clock(one)[0, 0], 4, atol=1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_no_night_and_no_need_is_overfilled(seed):
    rng = np.random.default_rng(seed)
    needs, nights = 15, 30
    rate, up = rng.uniform(0, 1, (needs, nights)), rng.uniform(0, 6, (needs, nights))
    chance = np.append(1, np.full(nights - 1, 0.4))
    wanted = rng.uniform(1, 9, needs)
    plan = season(worth(wanted, wanted * rng.uniform(0, 1, needs)), rate, up, np.full(nights, 8.0), chance)
    assert np.all(clock(plan).sum(axis=0) <= 8 + 1e-6)
    assert np.all(clock(plan) <= up + 1e-6)


def test_what_is_finished_is_worth_something_by_itself():
    # By hand: two projects of two needs of 2 h in one night of 4 h. By roots alone all four needs get an hour each,
    # 4 sqrt(1/2) = 2.83; to finish one is worth 2 + 1 (its completion), and no root is left for the other.
    owner, up = np.array([0, 0, 1, 1]), np.full((4, 1), 4.0)
    for completion, finished in ((0.0, 0), (1.0, 1)):
        plan = season(worth([2, 2, 2, 2]), np.ones((4, 1)), up, np.array([4.0]), np.ones(1), owner=owner,
                      finish=np.full(2, completion))
        assert plan.finished.sum() == finished
        hours = [0, 0, 2, 2] if finished else [1, 1, 1, 1]
        assert_allclose(np.sort(clock(plan).ravel()), hours, atol=0.35)  # of chords


def test_a_project_that_is_to_be_finished_does_not_wait_for_weather_as_expected():
    # By hand: 6 h are wanted, and a later night of 8 h is clear in one of two seasons. 2 h tonight would do if half a
    # night came; more is taken from what is up tonight alone, for as often as not there is none.
    up, owner = np.array([[8.0, 8.0], [8.0, 0.0]]), np.arange(2)
    plan = season(replace(worth([6, 40]), weight=np.array([0.01, 1.0])), np.ones((2, 2)), up, np.full(2, 8.0),
                  np.array([1.0, 0.5]), owner=owner, finish=np.array([5.0, 0.0]))
    assert plan.finished[0]
    assert 2.2 < clock(plan)[0, 0] < 4
    # What the mean of all weather alone would finish, with nothing to spare, is not counted on.
    plan = season(worth([12]), np.ones((1, 2)), up[:1], np.full(2, 8.0), np.array([1.0, 0.5]), finish=np.array([5.0]))
    assert not plan.finished[0]


def test_a_season_of_random_weather_against_three_ways_without_a_season():
    # A short season; the script prints them all, under a sky written by itself. Deeper than ways that rank targets;
    # more hours, and no fewer finished, than nights planned by themselves.
    one = world(0, 47.0, 0.3, nights=60)
    hours, depth, finished = season_reached(one, "ours")
    for way in WAYS[1:]:
        other = season_reached(one, way)
        if way.startswith("night by night"):
            assert hours > other[0]
            assert finished >= other[2]
        else:
            assert depth > other[1] + 0.1


def test_the_sky_of_the_seasons_is_that_of_an_ephemeris():
    # Against astropy's built-in ephemeris, geocentric: Sun 0.05 deg, Moon 0.5 deg, over a year.
    days = np.linspace(9000, 9365, 40)
    time = Time(2451545.0 + days, format="jd", scale="tt")
    sun, moon, _ = sun_and_moon(days)
    for (ra, dec), body, most in ((sun, "sun", 0.05), (moon, "moon", 0.5)):
        where = get_body(body, time).transform_to(PrecessedGeocentric(equinox=time, obstime=time))
        mine = SkyCoord(ra * u.deg, dec * u.deg, frame=PrecessedGeocentric(equinox=time, obstime=time))
        assert mine.separation(where).deg.max() < most


@pytest.mark.parametrize(("wanted", "chance"), [(6, 0.5), (4, 0.3), (3, 0.7)])
def test_odds_are_those_of_counting_clear_nights(wanted, chance):
    # One hour a night, ten nights, tonight clear: the binomial distribution of the other nine.
    clear, one = np.append(1.0, np.full(9, chance)), np.ones((1, 10, 1))
    outcome = simulated(worth([wanted]), one, one, one, one[0], clear, seasons=4000, persistence=0)
    # 2.5 %: three standard errors of 4000 draws.
    assert_allclose(outcome.finished(np.array([0])), binom.sf(wanted - 2, 9, chance), atol=0.025)


def test_half_of_the_seasons_is_the_night_of_the_last_hour_where_all_are_clear():
    one = np.ones((1, 10, 1))
    outcome = simulated(worth([5]), one, one, one, one[0], np.ones(10), seasons=20)
    assert outcome.median_night(np.array([0])) == 4


@pytest.mark.parametrize(("never", "night"), [(0, 70), (19, 63), (50, 49), (51, None)])
def test_an_end_is_told_later_than_that_of_half_of_the_seasons(never, night):
    # By hand: a hundred seasons that end one a night, some never; of those that end, √(half of the odds) have by then.
    ends = np.where(np.arange(100) < 100 - never, np.arange(100), -1)[np.newaxis]
    outcome = Outcome(night=ends, expected=np.ones(1), clock=np.ones((1, 1, 1)), clear=np.ones(1))
    assert outcome.median_night(np.array([0])) == night


def test_hours_of_one_watch_are_spent_once():
    # By hand: five clear nights of two watches of an hour; both needs are up in the first alone and want 4 h each.
    up = np.zeros((2, 5, 2))
    up[:, :, 0] = 1.0
    outcome = simulated(worth([4, 4]), up / 2, np.ones_like(up), up, np.ones((5, 2)), np.ones(5), seasons=20)
    assert_allclose(outcome.expected.sum(), 5)
    assert outcome.finished(np.array([0, 1])) == 0


def test_the_filters_of_one_target_share_the_hours_in_which_it_is_up():
    # By hand: a target up for 2 h of a night of 8, 12 h wanted in one filter or 3 h in each of four, of four nights:
    # 8 h at most. A second target is up all night and wants little.
    for wanted, owner in (([12, 1], [0, 1]), ([3, 3, 3, 3, 1], [0, 0, 0, 0, 1])):
        mine, owner = np.array(owner) == 0, np.array(owner)
        up = np.where(mine, 2.0, 8.0)[:, np.newaxis, np.newaxis] * np.ones((len(wanted), 4, 1))
        room, clear, rate = np.full((4, 1), 8.0), np.ones(4), np.ones_like(up)
        plan = season_plan(worth(wanted), rate, up, room, clear, owner=owner)
        outcome = simulated(worth(wanted), plan.clock_in_watch, rate, up, room, clear, owner=owner, seasons=20)
        for hours in (plan.clock_in_watch, outcome.clock, visits(outcome.clock, rate, up, room, owner)):
            assert (hours[mine].sum(axis=(0, 2)) < 2.001).all()
        assert_allclose(outcome.expected[mine].sum(), 8, atol=0.01)
        assert outcome.finished(np.flatnonzero(~mine)) == 1


def test_the_campaign_of_the_demo_knows_what_is_never_up():
    requests = [default_request(find_target(name), RIG) for name in ("NGC 7000", "M 33", "NGC 3372")]
    plan, found = plan_ahead(requests, RIG, SITE, NIGHT, nights=60)
    document = told(CampaignAnswer(found, plan))
    names = {item["name"]: item for item in document["projects"]}
    assert names["NGC 3372"]["finish_probability"] == 0
    assert names["NGC 3372"]["finish_night_median"] is None
    assert names["M 33"]["finish_probability"] > 0.9
    for item in names.values():
        assert all(0 <= need["expected_hours"] <= need["wanted_hours"] + 1e-9 for need in item["needs"])
    # Tonight is the night's own plan, in the calendar too.
    given = {(block.target.name, block.band.name) for block in plan.blocks}
    assert {(item["target"], item["filter"]) for item in document["tonight"]} == given
    assert document["tonight"] == document["calendar"][0]["hours"]
    # Tonight and later are what the project's own row expects beside what is done.
    expected = {(item["name"], need["filter"]): need["expected_hours"] - need["done_hours"]
                for item in document["projects"] for need in item["needs"]}
    for row in ahead_rows(found, plan):
        assert_allclose(row.tonight + row.later, expected[row.target, row.band], atol=0.02)  # a sub too many


def test_a_season_of_tonight_alone_is_the_plan():
    requests = [default_request(find_target(name), RIG) for name in ("NGC 891", "M 33", "M 81")]
    plan, found = plan_ahead(requests, RIG, SITE, NIGHT, nights=1)
    brought = {}
    for block in plan.blocks:
        key = block.target.name, block.band.name
        brought[key] = brought.get(key, 0.0) + block.equivalent_hours.to_value(u.h)
    assert brought
    for item in told(CampaignAnswer(found, plan))["projects"]:
        for need in item["needs"]:
            assert_allclose(need["expected_hours"], brought.get((item["name"], need["filter"]), 0.0), atol=1e-6)
    rows = {(row.target, row.band): row for row in ahead_rows(found, plan)}
    assert set(rows) == set(brought)
    # What is in the plan is shown, however little it counts, and never told to wait.
    little = replace(rows[next(iter(brought))], tonight=0.004)
    assert ahead_cells([little])[0][2] == "0.1 h"
    assert not any("others gain more tonight" in row.reason for row in rows.values())


def test_a_mosaic_is_one_project():
    project = Project(target="NGC 7000", wanted={"Ha": 40 * u.h}, mosaic=True)
    panels = project_requests(project, find_target("NGC 7000"), RIG)
    other = Request(target=find_target("M 33"), needs=(Need(band=panels[0].needs[0].band, hours=2 * u.h),))
    plan, found = plan_ahead([*panels, other], RIG, SITE, NIGHT, nights=6)
    document = told(CampaignAnswer(found, plan))
    assert len(panels) > 1
    assert [item["name"] for item in document["projects"]] == ["NGC 7000", "M 33"]
    assert_allclose(document["projects"][0]["needs"][0]["wanted_hours"], 40 * len(panels))
    assert_allclose(document["projects"][0]["priority"], 1.0)
    assert sum("NGC 7000" in line for line in document["advice"]) == 2  # not finished; drop or put off
    assert not any("panel" in line for line in document["advice"])
    # One telescope: all panels together have no more hours than the mosaic is up.
    rows = found.rows(0)
    assert (found.outcome.clock[rows][:, 1:].sum(axis=0) <= found.watch.up[rows][:, 1:].max(axis=0) + 1e-9).all()


def test_pieces_of_a_program_become_stays():
    # By hand: a tenth of an hour in each of 24 nights of an hour is two whole stays, and the rest at the end; what is
    # up for half an hour alone has no stay until it is all that is left.
    clock, up = np.full((3, 24, 1), 0.1), np.ones((3, 24, 1)) * np.array([3.0, 3.0, 0.5])[:, np.newaxis, np.newaxis]
    clock[2, 3:] = 0.0
    one = np.ones_like(clock)
    found = visits(clock, one, up, one[0], np.arange(len(clock)))[..., 0]
    for visit, hours in zip(found, ([1, 1, 0.4], [1, 1, 0.4], [0.3]), strict=True):
        assert_allclose(visit[visit > 0], hours)
    assert (visits(clock, one, up, 0.8 * one[0], np.arange(len(clock))) <= 0.8).all()
    # One that is there stays while nobody else comes; where an hour brings half, it takes two.
    gain = np.where(np.arange(24) < 4, 1.0, 0.5)[np.newaxis, :, np.newaxis]
    found = visits(np.full((1, 24, 1), 0.1), gain, np.full((1, 24, 1), 9.0), np.full((24, 1), 9.0), np.zeros(1, int))
    assert_allclose((found * gain).sum(), 0.1 * gain.sum())
    assert np.count_nonzero(found) == 1


@pytest.mark.parametrize("nights", [20, 40])
def test_the_calendar_finishes_what_the_odds_finish(nights):
    # What its visits bring, each night at its odds: all of a project told sure, most of it by the night that half of
    # the seasons finish it; not all of one told unlikely.
    names = ("NGC 7331", "NGC 7000", "M 33", "M 81", "NGC 891", "IC 434")
    found = campaign([default_request(find_target(name), RIG) for name in names], RIG, SITE, NIGHT, nights=nights)
    brought = np.cumsum((found.visits * found.watch.rate).sum(axis=2) * found.outcome.clear, axis=1)
    for row in range(len(names)):
        needs = found.rows(row)
        odds, end, left = found.outcome.finished(needs), found.finish_night(row), found.worth.left[needs]
        share = (brought[needs, -1] / left).min()
        if odds > 0.9:
            assert share > 0.9
        elif odds < 0.1:
            assert share < 0.5
        if end is not None:
            assert brought[needs, found.dates.index(end)].sum() > 0.65 * left.sum()


def test_hours_of_the_calendar_bring_what_is_expected():
    found = campaign([default_request(find_target(name), RIG) for name in ("NGC 7000", "M 33")], RIG, SITE, NIGHT,
                     nights=10)
    hours = found.outcome.clock * found.outcome.clear[:, np.newaxis]
    assert_allclose((hours * found.watch.rate).sum(axis=(1, 2)), found.outcome.expected)
    assert (found.outcome.clock.sum(axis=0) <= found.watch.dark + 1e-9).all()


def test_what_is_done_is_finished_at_once():
    need = Need(band=RIG.filters[0], hours=3 * u.h, done=3 * u.h)
    plan, found = plan_ahead([Request(target=find_target("M 33"), needs=(need,))], RIG, SITE, NIGHT, nights=10)
    document = told(CampaignAnswer(found, plan))
    assert document["projects"][0]["finish_probability"] == 1
    assert found.finish_night(0) == NIGHT
    # The dark of the calendar is that of the night's own plan, what focus will cost included; half a slot apart.
    assert abs(document["calendar"][0]["dark_hours"] - plan.night.dark_hours.value) < 2.5 / 60


@pytest.mark.parametrize(("more", "words"), [({"clear": 0.0}, "clear = 0"), ({"nights": 400}, "nights = 400")])
def test_bad_input_is_one_line(more, words):
    with pytest.raises(InvalidInputError, match=words):
        campaign([default_request(find_target("M 33"), RIG)], RIG, SITE, NIGHT, **more)


def test_the_command_answers_in_words_and_as_json(capsys):
    assert run(["campaign", "--night", "2026-11-10", "--nights", "10"]) == 0
    out = capsys.readouterr().out
    assert "hours counted that the plan takes" in " ".join(out.split())
    assert "better tonight than later" in out
    assert run(["campaign", "--night", "2026-11-10", "--nights", "30", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert set(document["projects"][0]) >= {"name", "finish_probability", "finish_night_median", "needs"}
    assert set(document["projects"][0]["needs"][0]) == {"filter", "wanted_hours", "done_hours", "expected_hours"}
    assert all(set(item) == {"target", "filter", "hours"} for item in document["tonight"])
    assert len(document["calendar"]) == 30
    dark = {night["night"]: night["dark_hours"] for night in document["calendar"]}
    assert all(sum(one["hours"] for one in night["hours"]) <= dark[night["night"]] + 1e-6
               for night in document["calendar"])
    assert "NGC 3372: Never rises at this site." in document["advice"]
    visits = {}
    for night in document["calendar"][1:]:  # the first is a plan, to the minute
        for one in night["hours"]:
            visits.setdefault((one["target"], one["filter"]), []).append(one["hours"])
    assert all(hours >= 0.999 for each in visits.values() for hours in each[:-1])  # but what is left
    names = {item["name"] for item in document["unfinished"]}
    assert names == {item["name"] for item in document["projects"] if item["finish_probability"] < 0.5}


def test_a_night_leaves_to_other_nights_what_they_are_expected_to_bring():
    # Both through one filter; other nights bring nearly all of the first, nothing of the second.
    bands = [band for band in RIG.filters if band.name == "L"]
    requests = [Request(target=find_target(name), needs=(Need(band=bands[0], hours=6 * u.h),))
                for name in ("NGC 891", "M 33")]
    alone = plan_night(requests, RIG, SITE, NIGHT)
    ahead = plan_night(requests, RIG, SITE, NIGHT, season={("NGC 891", "L"): Expected(hours=6.0)})
    planned = [[outlook.planned.to_value(u.h) for outlook in plan.outlooks] for plan in (alone, ahead)]
    assert planned[0][0] > 2
    assert planned[1][0] == 0  # all of it is to come, and a freed hour is worth nothing
    assert planned[1][1] > planned[0][1]
