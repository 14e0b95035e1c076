"""The pages "tonight" and "the year": what to do tonight, and in which weeks."""

import contextlib
import datetime
import json
import re

import pytest
from app.conftest import answered, fits_anywhere, fits_width, go_to, night_sheet
from playwright.sync_api import expect
from streamlit.testing.v1 import AppTest

from planner.files.own_files import packaged_data


@pytest.fixture(autouse=True)
def _nothing_to_measure(monkeypatch):
    """Leave out what to measure next, which takes longer than most plans; in the browser it is worked out."""
    monkeypatch.setattr("planner.ui.night.now.ask", lambda *question, **more: answered(None))


NAMED = {"source": "named", "names": "NGC 891|NGC 7331"}  # planned sooner than the demo's list


def open_page(module, **address):
    def script(module):
        from importlib import import_module

        import_module(f"planner.ui.{module}").page()

    page = AppTest.from_function(script, default_timeout=120, kwargs={"module": module})
    for name, value in {"night": "2026-11-10", **address}.items():
        page.query_params[name] = value
    return page.run()


def tonight(**address):
    return open_page("night.tonight_page", **address)


def year(**address):
    return open_page("night.year_page", **address)


def headline(page):
    return page.header[0].value


def words(page):
    return "\n".join(item.value for kind in ("markdown", "info", "error", "caption", "success")
                     for item in page.get(kind))


def titles(page):
    return [title.value for title in page.subheader]


@pytest.fixture
def own_equipment(tmp_path, monkeypatch):
    """Return a function that makes the demo's equipment the user's own, with some texts replaced."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    folder = tmp_path / "planner"
    folder.mkdir()
    for name in ("horizon_hill.csv", "horizon_paddock.csv"):
        (folder / name).write_text(packaged_data(name).read_text())

    def write(**replaced):
        text = packaged_data("equipment.toml").read_text()
        for old, new in replaced.values():
            assert old in text
            text = text.replace(old, new)
        (folder / "equipment.toml").write_text(text)
        return folder

    return write


# ---------------------------------------------------------------------------------------------------- tonight


def test_tonight_opens_on_the_demo_with_a_plan():
    page = tonight()
    assert not page.exception
    assert not page.error
    assert re.fullmatch(r"NGC .* from 1\d:\d\d to 0\d:\d\d CET", headline(page))
    assert titles(page) == ["The plan", "What the night brings", "One thing to measure next", "Not in tonight's plan",
                            "The sky tonight", "In the camera's field", "Take it with you"]
    assert "All times in CET (Europe/Vienna)." in words(page)
    assert "of the best possible plan" in words(page)
    assert "Worth setting up" in words(page)
    assert "**NGC 3372**: Never rises at this site." in words(page)


def test_the_table_holds_every_block_in_order():
    page = tonight()
    table = page.dataframe[0].value
    blocks = table[table["Subs"] != ""]
    assert len(blocks) > 3
    assert all(re.fullmatch(r"\d+ × \d+ s", text) for text in blocks["Subs"])
    hours = [(int(text[:2]) + 12) % 24 for text in table["From"]]
    assert hours == sorted(hours)
    assert {"flats", "darks"} <= set(table["What"])


def test_the_paddock_has_its_own_clock_and_its_own_sky():
    page = tonight(site="paddock")
    assert "All times in AEDT (Australia/Sydney)." in words(page)
    assert any(name in headline(page) for name in ("NGC 253", "NGC 300", "NGC 1365"))  # of the southern list
    assert "**NGC 5128**: Within the limits only when it is not dark" in words(page)
    assert not page.exception


def test_a_short_summer_night_is_planned_within_its_dark():
    page = tonight(night="2026-06-21", source="named", names="NGC 7000")
    assert not page.exception
    assert "CEST" in headline(page)


def test_a_night_that_never_gets_dark_is_explained(own_equipment):
    own_equipment(latitude=('latitude = "47.4 deg"', 'latitude = "64.0 deg"'))
    page = tonight(night="2026-06-21", site="hill")
    assert not page.exception
    assert headline(page) == "Nothing to do on the night of 2026-06-21"
    assert any("Choose another night" in info.value for info in page.info)
    assert "The plan" not in titles(page)
    assert "The sky tonight" in titles(page)


def test_a_sun_that_never_sets_is_explained(own_equipment):
    own_equipment(latitude=('latitude = "47.4 deg"', 'latitude = "71.0 deg"'))
    page = tonight(night="2026-06-21", site="hill")
    assert not page.exception
    assert headline(page).startswith("Nothing to do")


def test_a_full_moon_is_hardly_worth_setting_up_for():
    # Full Moon 2026-11-24 14:53 UT (U.S. Naval Observatory, Phases of the Moon; from memory).
    page = tonight(night="2026-11-24", **NAMED)
    assert "Hardly worth setting up" in words(page)
    assert "100 % lit" in words(page)


def test_names_of_my_own_with_a_priority():
    page = tonight()
    page.selectbox(key="tonight_source").set_value("named").run()
    assert page.text_area(key="tonight_names").value == "NGC 7331"
    page.text_area(key="tonight_names").set_value("NGC 891\nM 33 x 3\n").run()
    assert not page.exception
    text = page.get("multiselect")[1]
    assert set(text.options) == {"NGC 891", "M 33"}
    both = headline(page)
    page.text_area(key="tonight_names").set_value("NGC 891 x 30\nM 33\n").run()
    assert headline(page) != both


def test_a_wrong_name_marks_its_line_and_keeps_the_rest():
    page = tonight()
    page.selectbox(key="tonight_source").set_value("named").run()
    page.text_area(key="tonight_names").set_value("NGC 891\nNGC 99999\nM 33 x 0").run()
    assert "is not in the catalogue" in page.error[0].value
    assert page.error[1].value.startswith("priority = 0")
    assert headline(page).startswith("NGC 891, from")
    assert not page.exception


def test_no_name_at_all_is_an_empty_state():
    page = tonight()
    page.selectbox(key="tonight_source").set_value("named").run()
    page.text_area(key="tonight_names").set_value("  \n").run()
    assert not page.exception
    assert any("No target is named" in info.value for info in page.info)
    page.text_area(key="tonight_names").set_value("NGC 891").run()
    assert headline(page).startswith("NGC 891")


def test_a_wrong_target_in_the_frame_keeps_the_page():
    page = tonight()
    page.text_input(key="widget_target").set_value("NGC 99999").run()
    assert "is not in the catalogue" in page.error[0].value
    assert headline(page).startswith("NGC")


def test_the_target_of_the_frame_joins_the_list():
    page = tonight(target="NGC 281", lowest="75")  # few of the list stand so high: planned soon
    assert "NGC 281" in page.get("multiselect")[1].options


def test_a_higher_limit_asks_less_of_the_night():
    page = tonight()
    page.text_input(key="widget_lowest").set_value("75").run()
    assert not page.exception
    assert "Never gets above 75.0°" in words(page)


def test_no_target_drawn_leaves_the_skyline():
    page = tonight()
    page.get("multiselect")[1].set_value([]).run()
    assert not page.exception


def test_a_rig_without_a_guider_says_so():
    page = tonight(rig="wide", source="named", names="NGC 891")
    assert "This rig has no guider." in words(page)


def test_the_demo_records_nothing():
    page = tonight()
    assert any("This is the demo: nothing is recorded." in info.value for info in page.info)
    assert not [button for button in page.button if button.label == "Record"]


def test_hours_filters_and_the_moon_are_set_for_one_night():
    page = tonight(night="2026-11-24", **NAMED)
    page.text_input(key="widget_from").set_value("20:30")
    page.text_input(key="widget_until").set_value("01:00")
    page.multiselect(key="widget_only").set_value(["L", "R"])
    page.text_input(key="widget_moon").set_value("L=60").run()
    assert not page.exception
    assert not page.error
    table = page.dataframe[0].value
    filters = [name for name in table["Filter"] if name]
    assert set(filters) <= {"L", "R"}
    # From half past eight to one in the morning, by the clock of the table.
    exposed = table[table["Filter"] != ""]
    assert exposed["From"].iloc[0] >= "20:30"
    assert exposed["To"].iloc[-1] in ("01:00", "00:59", "00:58", "00:57")
    assert "Your session: from 20:30 CET until 01:00 CET." in words(page)
    page.text_input(key="widget_until").set_value("25:00").run()
    assert "must be a time of day" in page.error[0].value
    assert "until 01:00 CET" in words(page)


def test_a_night_that_has_not_begun_is_not_recorded(own_equipment):
    own_equipment()
    ahead = datetime.datetime.now(datetime.UTC).date() + datetime.timedelta(days=40)
    page = tonight(night=ahead.isoformat(), **NAMED)
    assert any("This night has not begun" in info.value for info in page.info)


def test_a_night_is_recorded_in_ones_own_folder(own_equipment):
    folder = own_equipment()
    page = tonight(night="2025-11-10", target="NGC 891")
    page.selectbox(key="tonight_source").set_value("named").run()
    record = next(button for button in page.button if button.label == "Record")
    record.click().run()
    assert page.error[0].value.startswith("Hours wanted = none: NGC 891 has no project yet.")
    assert not (folder / "projects.toml").exists()
    wanted = next(field for field in page.text_input if field.label == "Hours wanted in this filter")
    wanted.set_value("6,5")
    next(field for field in page.text_input if field.label == "Frames kept").set_value("20")
    next(button for button in page.button if button.label == "Record").click().run()
    assert not page.exception
    assert "Recorded in projects.toml: NGC 891" in page.success[0].value
    written = (folder / "projects.toml").read_text()
    assert "night = 2025-11-10" in written
    assert "subs = 20" in written
    assert '"6.5 h"' in written
    counted = float(re.search(r'counted = "([\d.]+) h"', written)[1])
    assert 0 < counted < 20 * 600 / 3600  # less than the open-shutter time, however long a sub is
    page.run()
    assert "My projects" in page.selectbox(key="tonight_source").options


def test_my_projects_are_planned_and_what_the_rig_cannot_do_is_said(own_equipment):
    folder = own_equipment()
    (folder / "projects.toml").write_text(
        '[[project]]\ntarget = "M 33"\nwanted = {L = "8 h"}\n\n'
        '[[project]]\ntarget = "NGC 99999"\nwanted = {L = "8 h"}\n\n'
        '[[project]]\ntarget = "NGC 891"\nwanted = {SII = "8 h"}\n')
    page = tonight(rig="survey")
    page.selectbox(key="tonight_source").set_value("projects").run()
    assert not page.exception
    assert headline(page).startswith("M 33, from")
    assert "NGC 99999: is not in the catalogue" in page.error[0].value
    assert "Left out, for the rig “survey” has none of the filters they need: NGC 891." in words(page)


def test_with_projects_the_page_plans_as_the_command_does(own_equipment, capsys, monkeypatch):
    from planner.cli import main

    words = ["night", "M 33", "NGC 891", "--rig", "survey", "--night", "2026-11-10", "--json"]
    monkeypatch.setattr("sys.argv", ["planner", *words])
    (own_equipment() / "projects.toml").write_text("".join(
        f'[[project]]\ntarget = "{name}"\nwanted = {{L = "9 h"}}\n\n' for name in ("M 33", "NGC 891")))
    page = tonight(rig="survey")
    table = page.dataframe[0].value
    shown = table[table["Filter"] != ""]["Subs"].tolist()
    with contextlib.suppress(SystemExit):
        main()
    told = json.loads(capsys.readouterr().out)
    assert told["season"] is not None
    assert shown == [f"{block['sub_count']} × {block['sub_exposure_s']:g} s" for block in told["blocks"]]
    assert any(part.label.startswith("Tonight as part of the season") for part in page.expander)


def test_times_name_their_zone_where_the_clocks_change():
    page = tonight(night="2026-10-24", **NAMED)
    table = page.dataframe[0].value
    assert table["From"].iloc[0].endswith("CEST")
    assert table["To"].iloc[-1].endswith("CET")
    assert "The clocks go back" in words(page)


# ------------------------------------------------------------------------------------------------------- year


def test_the_year_opens_on_the_target_of_the_frame():
    page = year()
    assert not page.exception
    # NGC 7331 stands opposite the Sun (right ascension 22.6 h) in early September; from memory.
    assert re.fullmatch(r"NGC 7331 is best from \d+ (September|October) 20\d\d to \d+ (September|October) 20\d\d",
                        headline(page))
    months = page.dataframe[0].value
    assert months["Target"].tolist() == ["NGC 7331", "dark"]
    assert months["Mar 2027"].iloc[0] < 0.1 < months["Sep 2027"].iloc[0]


def test_a_target_that_never_rises_has_no_year():
    page = year(target="NGC 3372")
    assert headline(page) == "NGC 3372: no useful hour"
    assert "Never rises at this site." in words(page)
    assert any("another site" in info.value for info in page.info)
    assert not page.exception


def test_the_southern_year_is_another_one():
    page = year(target="NGC 253", site="paddock")
    assert re.search("(September|October|November)", headline(page))


def test_hours_to_do_give_nights_needed():
    page = year()
    assert "clear night" not in words(page)
    page.text_input(key="widget_hours").set_value("12,0").run()
    assert "Left to do: L 12.0 h:" in words(page)
    assert "clear nights if the best ones" in words(page)


def test_a_wrong_name_elsewhere_in_the_projects_leaves_the_year(own_equipment):
    (own_equipment() / "projects.toml").write_text(
        '[[project]]\ntarget = "NGC 99999"\nwanted = {L = "8 h"}\n\n'
        '[[project]]\ntarget = "M 33"\nwanted = {L = "8 h"}\n')
    page = year(target="M 33")
    assert not page.error
    assert "Left to do: L 8.0 h" in words(page)


def test_the_list_has_a_year_for_each_target():
    page = year()
    page.selectbox(key="year_source").set_value("list").run()
    assert not page.exception
    assert len(page.dataframe[0].value) == 11
    assert "of 10 targets have useful hours" in headline(page)


def test_a_narrow_band_gains_under_the_moon():
    page = year()
    broad = page.dataframe[0].value.set_index("Target").loc["NGC 7331", "Sep 2027"]
    page.selectbox(key="widget_filter").select("Ha").run()
    assert page.dataframe[0].value.set_index("Target").loc["NGC 7331", "Sep 2027"] > broad


def test_the_catalogue_is_ranked_on_the_figure():
    page = year()
    table = page.dataframe[1].value
    assert len(table) == 20
    assert table["Score"].is_monotonic_decreasing
    assert "Ranked by the score" in words(page)
    page.selectbox(key="objects_kind").select("galaxy").run()
    assert len(page.dataframe[1].value) > 0
    assert set(page.dataframe[1].value["Kind"]) <= {"galaxy", "galaxy pair", "galaxy triplet", "group of galaxies"}
    page.selectbox(key="objects_span").set_value("this month").run()
    assert not page.exception
    assert page.dataframe[1].value["Up (h)"].max() > 24


def test_one_of_them_becomes_the_target():
    page = year()
    name = page.dataframe[1].value["Object"].iloc[2]
    page.selectbox(key="objects_taken").set_value(name).run()
    page.button(key="objects_take").click().run()
    assert not page.exception
    assert page.text_input(key="widget_target").value == name
    assert headline(page).startswith(name)


def test_nothing_suits_a_night_without_dark(own_equipment):
    own_equipment(latitude=('latitude = "47.4 deg"', 'latitude = "64.0 deg"'))
    page = year(night="2026-06-21", site="hill")
    assert not page.exception
    assert any("no object that fits the field is up in the dark" in info.value for info in page.info)


# --------------------------------------------------------------------------------------------------- browser


def all_charts_drawn(page, count):
    drawn = "document.querySelectorAll('[data-testid=stVegaLiteChart] :is(svg, canvas)')"
    page.wait_for_function(f"{drawn}.length >= {count}")


@pytest.mark.browser
def test_from_the_combination_to_the_printed_sheet(phone, app_address):
    watched, page = phone, phone.page
    page.goto(f"{app_address}/match?night=2026-11-10&target=NGC+891&source=named&names=NGC+891")
    page.get_by_role("heading", name="For NGC 891").wait_for()
    fits_width(page)
    go_to(page, "Tonight", "Take it with you")
    page.wait_for_url(re.compile("night=2026-11-10"))
    all_charts_drawn(page, 4)
    fits_width(page)
    sheet = night_sheet(page, "Night of Tue 10 November 2026")
    expect(sheet.get_by_text("NGC 891").first).to_be_visible()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Result (JSON)").click()
    found = json.loads(saved.value.path().read_text())
    assert found["night"] == "2026-11-10"
    assert found["value"] <= found["bound"]
    assert watched.errors == []
    assert watched.warnings == []
    assert watched.strangers == []


@pytest.mark.browser
def test_an_observer_picks_from_the_year(desktop, app_address):
    watched, page = desktop, desktop.page
    page.goto(f"{app_address}/year?night=2026-11-10")
    page.get_by_role("heading", name="NGC 7331 is best from").wait_for()
    page.get_by_role("heading", name="Objects that fit this rig").wait_for()
    watched.settle()
    all_charts_drawn(page, 1)
    fits_width(page)
    page.get_by_role("button", name="Take it as the target").click()
    page.get_by_role("heading", name=re.compile("^(?!NGC 7331).* is best from")).wait_for()
    page.wait_for_url(re.compile(r"target=(?!NGC\+7331)"))
    watched.settle()  # the sweep below still runs: what is made on the click would be another run's
    with page.expect_download() as saved:
        page.get_by_role("button", name="Year (CSV)").click()
    fits_anywhere(page)
    assert saved.value.path().read_text().startswith("target,night,useful_h,up_h,dark_h,moon_illumination")
    assert watched.errors == []
    assert watched.warnings == []
    assert watched.strangers == []
