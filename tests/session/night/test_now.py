"""The plan at one moment: what runs, what is next, what the night brings."""

import datetime

import pytest
from astropy import units as u
from files.night_plans import demo_plan

from planner.session.night.now import brought, now_in, wait_text

PLAN = demo_plan()


def at(block, minutes):
    return block.start + minutes * u.min


def test_within_a_block_it_runs_until_its_end():
    block = PLAN.blocks[0]
    found = now_in(PLAN, at(block, 1))
    assert found.phase == "during"
    assert found.running.startswith(f"{block.target.name} in {block.band.name}, {block.sub_count} × ")


def test_what_is_next_is_never_past_and_counts_down():
    waits = []
    for minutes in (-30, -20, -10):
        found = now_in(PLAN, at(PLAN.blocks[0], minutes))
        assert found.following is not None
        waits.append(next(coming for coming in found.sky if coming.what == "Dark ends").wait)
    hours = [60 * int(text.split()[1]) + int(text.split()[3]) for text in waits]
    assert [hours[0] - hours[1], hours[1] - hours[2]] == [10, 10]
    assert now_in(PLAN, at(PLAN.blocks[0], -0.3)).following.wait in ("now", "in 0 min")


def test_before_and_after_the_night_it_says_so():
    early, late = PLAN.night.start - 5 * u.h, PLAN.night.end + 5 * u.h
    assert now_in(PLAN, early).running == "The night has not come yet"
    assert now_in(PLAN, late).running == "The night is over"
    assert now_in(PLAN, late).following is None
    assert len(now_in(PLAN, early).sky) > len(now_in(PLAN, at(PLAN.blocks[-1], 5)).sky)


def test_planned_from_a_moment_on_nothing_comes_before_it():
    from planner.files.equipment import load_equipment
    from planner.files.own_files import packaged_data
    from planner.session.night.limits import NightLimits
    from planner.session.night.plan import plan_night

    demo, moment = load_equipment(packaged_data("equipment.toml")), at(PLAN.blocks[0], 90)
    requests = [outlook.request for outlook in PLAN.outlooks]
    later = plan_night(requests, demo.rig(), demo.site(), datetime.date(2026, 11, 12), limits=NightLimits(begin=moment))
    assert all(block.start >= moment for block in later.blocks)
    assert now_in(later, moment).following is not None


@pytest.mark.parametrize(("minutes", "text"), [
    (0.2, "now"), (12, "in 12 min"), (80, "in 1 h 20 min"), (60, "in 1 h 00 min"), (59.6, "in 1 h 00 min"),
    (4320, "in 3 days")])
def test_waits_in_words(minutes, text):
    assert wait_text(minutes / 1440) == text


def test_the_night_brings_what_its_blocks_count_for():
    rows = brought(PLAN)
    assert sum(row.gained.to_value(u.h) for row in rows) == pytest.approx(
        sum(block.equivalent_hours.to_value(u.h) for block in PLAN.blocks))
    assert all(row.deeper is None for row in rows)  # nothing was done before


def test_four_times_the_hours_reach_three_quarters_of_a_magnitude_deeper():
    # Signal-to-noise of a background-limited surface grows with the square root of time: 2.5 log10(2) = 0.75 mag.
    from planner.session.night.now import _brought
    from planner.session.projects.request import Need

    need = Need(band=PLAN.blocks[0].band, hours=8 * u.h, done=1 * u.h)
    assert _brought(PLAN, "M 33", 3.0, need, usual=False).deeper.value == pytest.approx(0.753, abs=1e-3)
