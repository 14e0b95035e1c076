"""The pier page: figures in, answers out, bad input one line, nothing lost; the pictures hold what the result holds."""

import tomllib
from dataclasses import replace
from itertools import pairwise

import pytest
from app.conftest import blocks_of, fits_width, type_into_first_row, type_on
from astropy import units as u
from playwright.sync_api import expect
from streamlit.testing.v1 import AppTest

from planner.charts.labels import spread
from planner.charts.pier import (
    AFTER,
    NOW,
    balance_chart,
    balance_frame,
    column_chart,
    mode_chart,
    mode_frame,
    strength_chart,
    tree_chart,
    tree_frame,
)
from planner.files.equipment.start import begin_file
from planner.files.own_files import packaged_data
from planner.files.pier import load_pier
from planner.pier import column_response, concrete_age, judge_wiring, plan_balance


def show():
    from planner.ui.pier.page import page

    page()


@pytest.fixture
def own(tmp_path, monkeypatch):
    """Where the observer's own pier file would lie; there is none yet."""
    path = tmp_path / "pier.toml"
    for room in ("files.pier.load", "ui.pier.draft"):
        monkeypatch.setattr(f"planner.{room}.user_pier_path", lambda: path)
    return path


@pytest.fixture
def mine(own):
    """The observer's own pier file, so far that of the demo."""
    own.write_text(packaged_data("pier.toml").read_text(encoding="utf-8"), encoding="utf-8")
    return own


def open_page(part=None):
    app = AppTest.from_function(show, default_timeout=30).run()
    return app if part is None else go_to(app, part)


def go_to(app, part):
    return app.segmented_control(key="pier_part").set_value(part).run()


def field(app, name):
    """A figure's field; its key carries a number that changes when all fields begin anew."""
    fields = [*app.text_input, *app.selectbox]
    return next(one for one in fields if (one.key or "").rpartition("_")[0] == name)


def words(app):
    return "\n".join(item.value for kind in ("header", "markdown", "success", "warning", "info", "error", "caption")
                     for item in app.get(kind))


def lines(app):
    """The rows of label and words that are drawn as they are."""
    return "\n".join(item.proto.body for item in app.get("html"))


def test_the_worst_comes_first_and_each_part_says_its_own(own):
    app = open_page()
    assert not app.exception
    assert not app.error
    assert app.header[0].value == "Look again: the balance and the 12 V wiring"
    assert "<dt>Column</dt><dd>Good <small>8 of the 14 figures behind it are assumed</small></dd>" in lines(app)
    assert "move the 5 kg weight (outer)" in words(app)
    assert "Battery → saddle hub: 2.5 mm² instead of 1.5 mm²." in words(go_to(app, "12 V"))
    assert "Bolt the mount down no sooner than 7 days" in words(go_to(app, "Column"))


def test_every_part_has_its_cautions_and_what_is_assumed(own):
    app = open_page("Balance")
    for caution in ("Two people", "clutch", "unfiltered telescope", "aircraft"):
        assert caution in words(app)
    assert "<dt>assumed</dt><dd>friction (N m): a usual one</dd>" in lines(app)
    go_to(app, "12 V")
    for caution in ("licensed electrician", "residual-current", "fuse", "Local electrical and building codes"):
        assert caution in words(app)
    assert "<dt>in part</dt><dd>each cable: bundled: 1; 3 assumed for 4 of 6</dd>" in lines(app)
    assert "<dt>given</dt><dd>temperature (°C): 4</dd>" in lines(app)
    go_to(app, "Column")
    for caution in ("structural timber", "lightning", "Before digging"):
        assert caution in words(app)
    assert field(app, "pier_loads_mass").placeholder == "that of the balance"
    for assumed in ("storm (m/s): 30", "damping: 0.01", "drag of tube and column: 1.2"):
        assert f"<dt>assumed</dt><dd>{assumed}</dd>" in lines(app)


def test_green_needs_every_part(own):
    own.write_text('[column]\nheight = "1 m"\nwidth = "168.3 mm"\nwall = "5 mm"\n[footing]\nkind = "rigid"\n')
    app = open_page()
    assert not app.exception
    assert "not described" in lines(app)
    assert "Good" not in app.header[0].value
    assert "does not describe this part" in words(go_to(app, "12 V"))


def test_applying_all_advice_shows_the_result_and_saves_it(mine):
    app = open_page("Balance")
    for part, key in (("Balance", "balance"), ("12 V", "wiring")):
        go_to(app, part)
        app.button(key=f"pier_apply_{key}").click().run()
        assert not app.exception
    assert app.header[0].value == "Good: it stands, it balances and 12 V arrive"
    assert "Tried out, not saved yet" in words(app)
    assert "Cable “battery → saddle hub” cross section: 1.5 mm² → 2.5 mm²" in words(app)
    assert load_pier(mine).tree.cables[0].cross_section.value == 1.5
    app.button(key="pier_save").click().run()
    assert "Saved in pier.toml" in words(app)
    saved = load_pier(mine)
    assert judge_wiring(saved.tree, saved.conditions).verdict == "good"
    assert plan_balance(saved.assembly, latitude=saved.latitude).verdict == "good"
    assert "# lies by itself" in mine.read_text()
    assert '"1.5 mm2"' in mine.with_name("pier.toml.bak").read_text()


def test_what_only_the_place_can_tell_is_not_applied(mine):
    text = mine.read_text().replace('frost_depth = "0.8 m"', "#")
    mine.write_text(text.replace('depth = "0.9 m"', 'depth = "0.2 m"'))
    app = open_page("Column")
    assert app.header[0].value == "Look again: the balance, the 12 V wiring and the column"
    assert app.warning[0].value.startswith("**Look again**\n")  # in words, not by its colour alone
    app.button(key="pier_apply_column").click().run()
    assert "How deep the ground freezes is not given" in words(app)
    assert "frost depth" not in words(app)
    app.button(key="pier_save").click().run()
    saved = load_pier(mine).footing
    assert saved.frost_depth is None
    assert saved.depth.value > 0.2
    assert "pier_apply_column" not in [button.key for button in app.button]


def test_fields_keep_their_place_as_a_change_is_told(mine):
    app = open_page("Column")
    before = {key: place for key, place in blocks_of(app).items() if key.startswith(("pier_column", "pier_loads"))}
    assert len(before) > 5
    for height in ("1,4", "-1"):  # what follows from it; no answer
        field(app, "pier_column_height").set_value(height).run()
        after = blocks_of(app)
        assert {key: after[key] for key in before} == before, height
    assert app.error


def test_a_figure_typed_just_before_the_click_is_saved(mine):
    app = open_page("Column")
    field(app, "pier_column_height").set_value("1,4")
    app.button(key="pier_save").click().run()
    assert tomllib.loads(mine.read_text())["column"]["height"] == "1.4 m"
    field(app, "pier_loads_damping").set_value("0.02").run()
    app.button(key="pier_discard").click().run()
    assert "damping" not in mine.read_text()
    assert field(app, "pier_loads_damping").value == ""


def test_bad_input_is_one_line_and_not_saved(mine):
    before = mine.read_text()
    app = open_page("Column")
    field(app, "pier_column_wall").set_value("100").run()
    assert app.header[0].value == "No answer yet"
    assert [error.value for error in app.error if "must be less than half the width" in error.value]
    app.button(key="pier_save").click().run()
    assert not app.exception
    assert mine.read_text() == before
    field(app, "pier_column_wall").set_value("5").run()
    assert app.header[0].value != "No answer yet"
    field(app, "pier_footing_kind").select("suspended floor").run()
    assert any("needs joist" in error.value for error in app.error)
    field(app, "pier_footing_joist_span").set_value("4 m")
    field(app, "pier_footing_joist_stiffness").set_value("2e6 N m2").run()
    assert not any("needs joist" in error.value for error in app.error)


def test_a_change_by_another_session_is_told_and_not_lost(mine):
    first, second = open_page("Column"), open_page("Column")
    field(first, "pier_column_wall").set_value("6")
    field(first, "pier_column_height").set_value("1.1")
    first.button(key="pier_save").click().run()
    field(second, "pier_column_wall").set_value("8")
    second.button(key="pier_save").click().run()
    assert "column wall: 5 mm became 6 mm elsewhere, yours is 8 mm. Save again" in words(second)
    assert load_pier(mine).column.wall.value == 6
    second.button(key="pier_save").click().run()
    assert (load_pier(mine).column.wall.value, load_pier(mine).column.height.value) == (8, 1.1)
    first.run()
    assert any("changed elsewhere" in warning.value for warning in first.warning)
    assert field(first, "pier_column_wall").value == "8"


def test_the_demo_can_be_tried_and_made_ones_own(own):
    app = open_page("Name and night")
    field(app, "pier_night_temperature").set_value("-20")
    field(app, "pier_night_duration").set_value("16").run()
    assert "a capacity of" in words(go_to(app, "12 V"))
    app.button(key="pier_begin").click().run()
    assert own.exists()
    assert "Tried out, not saved yet" in words(app)
    app.button(key="pier_save").click().run()
    assert load_pier(own).conditions.duration.value == 16


def test_a_broken_file_is_one_line_and_can_be_mended_here(own):
    own.write_text('[column]\nheight = 3\nwidth = "200 mm"\n')
    app = open_page("Column")
    assert not app.exception
    assert "column.height = 3: must be a number with a unit like m" in app.error[0].value
    field(app, "pier_column_height").set_value("1.5")
    app.button(key="pier_save").click().run()
    assert load_pier(own).column.height.value == 1.5
    own.write_text("column = 3\n")
    assert "must be a table" in open_page().error[0].value


def test_pictures_hold_the_results():
    setup = load_pier(packaged_data("pier.toml"))
    plan = plan_balance(setup.assembly)
    table = balance_frame(setup.assembly, plan)
    moment = (table["mass_kg"] * table["outward_mm"]).groupby(table["when"]).sum()
    extra = setup.assembly.housing_mass * setup.assembly.housing_position - (
        setup.assembly.bar.mass * setup.assembly.bar.centre)
    assert moment[NOW] + extra.value == pytest.approx(plan.before.right_ascension_moment.value)
    assert moment[AFTER] + extra.value == pytest.approx(plan.after.right_ascension_moment.value)
    tree = tree_frame(setup.tree, judge_wiring(setup.tree, setup.conditions)).set_index("name")
    assert list(tree.index[:4]) == ["battery", "saddle hub", "camera", "computer"]
    assert list(tree["depth"][:4]) == [0, 1, 2, 2]
    assert "at worst 11.34 V|takes 11.4 to 13.5 V: too low" in tree["volts"]["computer"]
    assert set(tree["state"].drop("computer")) == {"enough"}
    response = column_response(setup.column, setup.footing, setup.loads, latitude=setup.latitude)
    assert mode_frame(response)["shape"].max() == pytest.approx(1)
    for chart in (balance_chart(setup.assembly, plan), mode_chart(response),
                  strength_chart(concrete_age(setup.column.concrete_strength))):
        assert chart.to_dict()["$schema"]


def test_a_collapsed_tree_is_drawn_without_a_voltage():
    setup = load_pier(packaged_data("pier.toml"))
    cables = (replace(setup.tree.cables[0], length=80 * u.m), *setup.tree.cables[1:])
    tree = replace(setup.tree, cables=cables)
    wiring = judge_wiring(tree, setup.conditions)
    assert wiring.worst.collapsed
    assert tree_frame(tree, wiring).set_index("name")["volts"]["computer"].endswith("at worst none|"
                                                                                 "takes 11.4 to 13.5 V: too low")
    assert tree_chart(tree, wiring).to_dict()


@pytest.mark.parametrize(("kind", "more"), [
    ("rigid", {}), ("pad", {"depth": None}), ("slab", {}), ("tripod", {}),
    ("suspended floor", {"joist_span": 4 * u.m, "joist_stiffness": 2e6 * u.N * u.m**2})])
def test_every_footing_is_drawn_to_one_scale(kind, more):
    setup = load_pier(packaged_data("pier.toml"))
    drawn = column_chart(setup.column, replace(setup.footing, kind=kind, **more), setup.loads).to_dict()
    boxes = drawn["layer"][0]["encoding"]
    metres = [boxes[axis]["scale"]["domain"] for axis in "xy"]
    pixels = [drawn["width"], drawn["height"]]
    across, up = (size / (high - low) for size, (low, high) in zip(pixels, metres, strict=True))
    assert across == pytest.approx(up, rel=0.01)
    assert drawn["width"] <= 358  # what a phone of 390 leaves
    shaft = next(row for rows in drawn["datasets"].values() for row in rows
                 if row.get("x2") == pytest.approx(0.16830 / 2) and row["y2"] - row["y"] == pytest.approx(1.2))
    assert shaft["x"] == -shaft["x2"]


def test_labels_keep_clear_of_each_other():
    places, heights = [5.0, 5.1, 0.0, 5.2, 20.0], [1.0, 2.0, 1.0, 1.0, 1.0]
    found = spread(places, heights)
    assert (found[2], found[4]) == (0.0, 20.0)
    order = sorted(range(5), key=found.__getitem__)
    assert order == [2, 0, 1, 3, 4]
    gaps = [found[b] - found[a] - (heights[a] + heights[b]) / 2 for a, b in pairwise(order)]
    assert min(gaps) > -1e-9


@pytest.mark.browser
def test_a_cell_is_changed_kept_out_of_sight_and_saved_by_the_first_click(desktop, app_address, own_folder):
    watched, page = desktop, desktop.page
    own = begin_file("pier", own_folder / "pier.toml")
    page.goto(f"{app_address}/pier")
    page.locator("summary", has_text="Change balance").click()
    watched.settle()
    type_into_first_row(page, 0.38, "9")
    page.keyboard.press("Enter")
    expect(page.locator(".gdg-input")).to_have_count(0)
    type_on(page, "0,9", "Enter")  # on and on, as people type: into the row below
    verdict = page.locator(".st-key-of_rows_verdict > *").first
    expect(verdict).to_have_css("opacity", "0.45")
    page.get_by_role("button", name="Answer from these rows").click()
    page.get_by_text("9.5 kg → 9 kg").wait_for()
    expect(page.get_by_text("1.8 kg → 0.9 kg")).to_be_visible()
    expect(verdict).to_have_css("opacity", "1")
    for part in ("Name and night", "Balance"):
        page.get_by_role("radio", name=part, exact=True).click()
        watched.settle()
    page.locator("summary", has_text="Change balance").click()
    expect(page.get_by_text("9.5 kg → 9 kg")).to_be_visible()
    type_into_first_row(page, 0.38, "8,5")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("Saved in pier.toml").wait_for()
    assert load_pier(own).assembly.parts[0].mass.value == 8.5
    fits_width(page)
    assert watched.errors == []
    assert watched.strangers == []


def test_the_camera_turned_and_the_room_at_the_flip_are_told_and_written(mine):
    app = open_page("Balance")
    assert "friction holds both axes at every angle" in words(app)
    assert "Telescope east or west of the pier: on the meridian the least room is" in words(app)
    app = field(app, "pier_rotator_height").set_value("310 mm").run()
    app.button(key="pier_save").click().run()
    assert not app.exception
    assert tomllib.loads(mine.read_text())["rotator"]["height"] == "310 mm"
    # The mount's axes as low as that: the tube hits the column, on the page as in the command.
    field(app, "pier_mount_axis_height").set_value("20 mm").run()
    app = field(app, "pier_mount_saddle_distance").set_value("0 mm").run()
    assert "hits the column or a leg" in words(app)
    assert "Unsafe" in words(app)


def test_a_pier_whose_camera_does_not_turn_needs_no_axis(mine):
    text = mine.read_text()
    start = text.index("[rotator]")
    mine.write_text((text[:start] + text[text.index("[bar]"):]).replace("turns = true\n", ""))
    app = open_page("Balance")
    assert not app.exception
    assert not app.error
    assert "Turn the camera" not in words(app)
