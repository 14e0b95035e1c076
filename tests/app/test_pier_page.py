"""The pier page: widgets in, answers out, bad input one line; the pictures hold what the result holds."""

import math

import pytest
from streamlit.testing.v1 import AppTest

from planner.charts.pier import (
    AFTER,
    NOW,
    WORST,
    balance_chart,
    balance_frame,
    mode_chart,
    mode_frame,
    strength_chart,
    voltage_chart,
    voltage_frame,
)
from planner.files.packaged import packaged_data
from planner.files.pier import load_pier
from planner.pier import column_response, concrete_age, judge_wiring, plan_balance


def show():
    from planner.ui.pier_page import page

    page()


@pytest.fixture
def app(tmp_path, monkeypatch):
    """The page on the demo, whatever file this machine's user may have."""
    monkeypatch.setattr("planner.files.pier.user_pier_path", lambda: tmp_path / "pier.toml")
    return AppTest.from_function(show, default_timeout=30)


def words(app):
    return "\n".join(item.value for kind in ("markdown", "success", "warning", "info", "error", "caption")
                     for item in app.get(kind))


def metric(app, label):
    return next(item.value for item in app.metric if item.label == label)


def test_the_demo_shows_all_three_answers(app):
    app.run()
    assert not app.exception
    assert not app.error
    text = words(app)
    assert "move the 5 kg weight (outer)" in text
    assert "battery → saddle hub: 2.5 mm² instead of 1.5 mm²." in text
    assert "Bolt the mount down no sooner than 7 days" in text
    for caution in ("Two people", "licensed electrician", "residual-current", "unfiltered telescope", "aircraft",
                    "structural timber", "Local electrical and building codes"):
        assert caution in text
    assert "invented for trying things out" in text


def test_swapping_the_camera_changes_the_weight(app):
    app.run()
    assert metric(app, "Tube") == "14.0 kg"
    app.selectbox(key="pier_part").select("camera").run()
    app.number_input(key="pier_mass_camera").set_value(2.7).run()
    assert metric(app, "Tube") == "16.0 kg"
    assert "more than your limit of 75 %" in words(app)
    app.selectbox(key="pier_part").select("one more part").run()
    app.number_input(key="pier_mass_one more part").set_value(0.5).run()
    assert metric(app, "Tube") == "14.5 kg"
    app.selectbox(key="pier_part").select("as it is").run()
    assert metric(app, "Tube") == "14.0 kg"


def test_moving_a_weight_as_told_balances(app):
    app.run()
    outer = app.number_input(key="pier_weight_outer")
    plan = plan_balance(load_pier(packaged_data("pier.toml")).assembly)
    outer.set_value(float(plan.moves[-1].position.value)).run()
    left = float(metric(app, "Left in right ascension").split()[0])
    aside = plan.after.across_moment.value, plan.before.declination_moment.value  # the tube has not been slid yet
    assert left == pytest.approx(9.80665e-3 * math.hypot(*aside) * math.cos(math.radians(47.4)), abs=0.006)
    assert "Right ascension: move" not in words(app)


def test_a_weight_off_the_bar_is_one_line(app):
    app.run()
    app.number_input(key="pier_weight_outer").set_value(900.0).run()
    assert not app.exception
    assert len(app.error) == 1
    assert "must lie on the bar, 140 mm to 460 mm" in app.error[0].value


def test_a_thicker_cable_mends_the_tree(app):
    app.run()
    assert "computer: 11.34 V arrive at the peak, it needs 11.4 V." in words(app)
    app.selectbox(key="pier_cable").select("battery → saddle hub").run()
    app.selectbox(key="pier_section_battery → saddle hub").select(2.5).run()
    assert "it needs" not in words(app)
    assert len(app.success) == 2  # the wiring and the column


def test_cold_and_damp(app):
    app.run()
    assert "battery lasts" not in words(app)
    app.number_input(key="pier_temperature").set_value(-20.0).run()
    app.number_input(key="pier_duration").set_value(16.0).run()
    assert "take a capacity of" in words(app)
    app.number_input(key="pier_humidity").set_value(100.0).run()
    assert metric(app, "Dew margin") in ("0.0 K", "-0.0 K")


def test_a_thin_tall_column_swings(app):
    app.run()
    before = float(metric(app, "First frequency").split()[0])
    app.number_input(key="pier_height").set_value(3.0).run()
    assert float(metric(app, "First frequency").split()[0]) < before / 3
    app.number_input(key="pier_wall").set_value(100.0).run()
    assert "must be less than half the width" in app.error[0].value


def test_a_floor_without_joists_is_one_line(app):
    app.run()
    app.selectbox(key="pier_footing").select("suspended floor").run()
    assert "needs joist_span and joist_stiffness" in app.error[0].value
    app.selectbox(key="pier_footing").select("rigid").run()
    assert not app.error
    # A rigid footing still has the rods and their foot plate; the soil's part is gone.
    assert 70 < float(metric(app, "Column's share of the tilt").rstrip(" %")) < 100


def test_a_broken_file_is_one_line(app, tmp_path):
    (tmp_path / "pier.toml").write_text('[column]\nheight = 3\nwidth = "200 mm"\n')
    app.run()
    assert not app.exception
    assert 'column.height = 3: must be a text of a number and a unit like m' in app.error[0].value


def test_a_file_that_describes_only_the_column(app, tmp_path):
    (tmp_path / "pier.toml").write_text('[column]\nheight = "1 m"\nwidth = "200 mm"\n')
    app.run()
    assert not app.exception
    assert len(app.info) == 2
    assert metric(app, "First frequency")


def test_pictures_hold_the_results():
    setup = load_pier(packaged_data("pier.toml"))
    plan = plan_balance(setup.assembly)
    table = balance_frame(setup.assembly, plan)
    assert set(table["when"]) == {NOW, AFTER}
    moment = (table["mass_kg"] * table["outward_mm"]).groupby(table["when"]).sum()
    extra = setup.assembly.housing_mass * setup.assembly.housing_position - (
        setup.assembly.bar.mass * setup.assembly.bar.centre)
    assert moment[NOW] + extra.value == pytest.approx(plan.before.right_ascension_moment.value)
    assert moment[AFTER] + extra.value == pytest.approx(0, abs=2.5)  # whole millimetres of 5 kg
    wiring = judge_wiring(setup.tree, setup.conditions)
    volts = voltage_frame(setup.tree, wiring)
    assert volts["node"].drop_duplicates().tolist()[:3] == ["battery", "→ saddle hub", "→ → camera"]
    worst = volts[(volts["case"] == WORST) & (volts["node"] == "→ → computer")]
    assert worst["voltage"].item() == wiring.loads[2].lowest.value
    response = column_response(setup.column, setup.footing, setup.loads, latitude=setup.latitude)
    assert mode_frame(response)["shape"].max() == pytest.approx(1)
    for chart in (balance_chart(setup.assembly, plan), voltage_chart(setup.tree, wiring), mode_chart(response),
                  strength_chart(concrete_age(setup.column.concrete_strength))):
        assert chart.to_dict()["$schema"]


def test_a_collapsed_tree_can_be_drawn():
    setup = load_pier(packaged_data("pier.toml"))
    from dataclasses import replace

    from astropy import units as u

    cables = (replace(setup.tree.cables[0], length=80 * u.m), *setup.tree.cables[1:])
    tree = replace(setup.tree, cables=cables)
    wiring = judge_wiring(tree, setup.conditions)
    assert wiring.worst.collapsed
    assert voltage_chart(tree, wiring).to_dict()


@pytest.mark.browser
def test_the_pier_in_a_browser(watched, app_address):
    page = watched.page
    page.goto(f"{app_address}/pier")
    page.get_by_role("heading", name="Will the pier stand").wait_for(timeout=60000)
    watched.settle()
    page.get_by_role("tab", name="Column").click()
    page.get_by_text("Concrete").first.wait_for(state="attached")
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    assert watched.errors == []
    assert watched.strangers == []
