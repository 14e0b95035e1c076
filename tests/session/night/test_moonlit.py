"""What a moonlit night is for, where it is planned by itself: lines before broad bands, and nothing else changed."""

import datetime

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_targets
from planner.session.night.plan import plan_night
from planner.session.night.report.words import good_text
from planner.session.night.slots.moonlit import moonlit_weights
from planner.session.night.slots.slot_worth import moon_leaves, sky_over_night
from planner.session.projects.default_request import default_request
from planner.visibility import night, utc_time
from planner.visibility.earth_rotation import mjd_tt

DEMO = load_equipment(packaged_data("equipment.toml"))
LINES = {"Ha", "OIII", "SII"}


def plan(names, date, *, site="hill", season=None):
    requests = [default_request(target, DEMO.rig()) for target in find_targets(names)]
    return plan_night(requests, DEMO.rig(), DEMO.site(site), datetime.date.fromisoformat(date), season=season)


def clock(found, *, lines):
    return sum((block.end - block.start).to_value(u.h) for block in found.blocks if (block.band.name in LINES) == lines)


def test_what_loses_least_counts_in_full_and_the_rest_by_the_square():
    # By hand: a line keeps 0.4 and a picture of two bands, 0.1 and 0.3, half of that: a quarter of its worth.
    kept = np.array([[0.4], [0.1], [0.3]])
    assert_allclose(moonlit_weights(kept, np.ones((3, 1)), np.array([0, 3, 3])), [1, 0.25, 0.25])


def test_dark_hours_of_a_moonlit_night_count_as_such():
    # By hand: the picture has 1 in the dark and 0.2 of 0.4 under the Moon: (1 · 1 + 0.2 · 0.5) / 1.2, squared.
    kept = np.array([[1, 0.4], [1, 0.2]])
    assert_allclose(moonlit_weights(kept, np.ones((2, 2)), np.array([0, 1])), [1, (1.1 / 1.2) ** 2])


@pytest.mark.parametrize("kept", [np.ones((2, 3)), np.full((2, 3), 0.1)])
def test_where_all_lose_alike_nothing_changes(kept):
    assert_allclose(moonlit_weights(kept, np.ones((2, 3)), np.array([0, 1])), 1, rtol=1e-12)


def test_what_is_never_up_is_left_as_it_is_and_does_not_judge_others():
    clocks = np.array([[0.0, 0.0], [1.0, 1.0]])
    assert_allclose(moonlit_weights(np.array([[0.9, 0.9], [0.1, 0.2]]), clocks, np.array([0, 1])), 1, rtol=1e-12)


def test_the_moon_takes_nothing_when_it_is_down_and_less_of_red_lines():
    rig, site = DEMO.rig(), DEMO.site("hill")
    bands = {band.name: band for band in rig.filters}
    for date, up in (("2026-11-09", False), ("2026-11-24", True)):  # new Moon on the 9th, full on the 24th, almanac
        start, end = map(mjd_tt, night(site, datetime.date.fromisoformat(date), depression=18 * u.deg).dark)
        sky = sky_over_night(find_targets(["M 81"]), site, utc_time((start + end) / 2 + np.array([0.0])))
        left = {name: moon_leaves(rig, site, band, sky)[0, 0] for name, band in bands.items()}
        assert (left["B"] < left["L"] < left["Ha"] < 0.5) if up else set(left.values()) == {1.0}


@pytest.mark.parametrize(("names", "date"), [
    (["NGC 7331", "NGC 7000", "NGC 6946", "NGC 891", "M 33"], "2026-11-24"),  # full, up all night
    (["M 31", "M 33", "NGC 281", "M 45", "M 81"], "2026-12-24"),
])
def test_under_a_full_moon_lines_come_before_broad_bands(names, date):
    found = plan(names, date)
    nebula = next(outlook for outlook in found.outlooks if "NGC 7000" in outlook.request.target.name
                  or "NGC 281" in outlook.request.target.name)
    up = sum((end - start).to_value(u.h) for start, end in nebula.reach.window.windows)
    assert clock(found, lines=True) > 0.7 * up  # the nebula's hours, less what it takes to begin and a flip
    assert "What the Moon spoils more than others counts for less" in good_text(found)
    later = plan(names, date, season={})  # other nights are looked at: they are counted, not the Moon again
    assert all(weight == 1 for outlook in later.outlooks for need, weight in zip(
        outlook.request.needs, outlook.weights, strict=True) if need.band.name in LINES)
    assert "What loses least" not in good_text(later)


def test_a_dark_night_is_as_it_was():
    found = plan(["NGC 7000", "NGC 891", "M 81"], "2026-11-09")  # new Moon, almanac
    for outlook in found.outlooks:
        names = [need.band.name for need in outlook.request.needs]
        weights = dict(zip(names, outlook.weights, strict=True))
        # Lines weigh 1; of broad bands 3 h, 1 h, 1 h and 1 h are 2 and thrice 2/3.
        for name, weight in weights.items():
            assert_allclose(weight, 1 if name in LINES else 2 if name == "L" else 2 / 3, rtol=1e-9)
    assert "What loses least" not in good_text(found)
