"""The page that chooses the combination."""

import json
import re
from concurrent.futures import Future
from dataclasses import replace

import numpy as np
import pytest
from app.conftest import fits_anywhere, go_to
from playwright.sync_api import expect
from streamlit.testing.v1 import AppTest

from planner.files.equipment.start import begin_equipment


def open_page(**address):
    def script():
        from planner.ui.decide.match_page import page

        page()

    page = AppTest.from_function(script, default_timeout=120)
    for name, value in {"night": "2026-11-10", **address}.items():
        page.query_params[name] = value
    return page.run()


def headline(page):
    return page.header[0].value


def table(page):
    return page.dataframe[0].value


def test_the_page_opens_on_the_demo_with_a_choice():
    page = open_page()
    assert not page.exception
    assert headline(page).startswith("For NGC 7331: long")
    assert [metric.label for metric in page.metric] == ["On this mount", "Faint surface", "Fine detail", "Field"]
    assert table(page)["Rank"].iloc[0] == 1
    assert [title.value for title in page.subheader] == [
        "All you own, ranked", "Sharp stars against time", "Two side by side",
        "Over all my projects"]
    assert any("On the mount “worm”, guider “off-axis middle”" in caption.value for caption in page.caption)


def test_one_set_up_is_not_drawn(tmp_path, monkeypatch):
    monkeypatch.setenv("PLANNER_EQUIPMENT", str(begin_equipment(tmp_path / "equipment.toml")))
    page = open_page(target="M 31")
    assert headline(page).startswith("For ")
    assert "Sharp stars against time" not in [title.value for title in page.subheader]
    assert any(caption.value.startswith("You own one set-up") for caption in page.caption)


def test_the_outclassed_ones_show_when_asked():
    page = open_page()
    few = len(table(page))
    page.toggle(key="match_all").set_value(True).run()
    assert len(table(page)) == 15 > few
    assert "Outclassed by" in table(page)


def test_another_figure_gives_another_order():
    page = open_page(target="M 31")
    page.toggle(key="match_any_load").set_value(True)
    page.text_input(key="widget_match_as_good").set_value("0")
    page.selectbox(key="match_rank_detail").select("sharpness").run()
    assert table(page)["Star (″)"].is_monotonic_increasing
    page.selectbox(key="match_rank_detail").select("field").run()
    assert table(page)["In one frame (%)"].is_monotonic_decreasing
    assert not page.exception


def test_rough_air_widens_the_stars():
    page = open_page()
    before = table(page)["Star (″)"].iloc[0]
    page.text_input(key="widget_match_seeing").set_value("5,0").run()  # a comma is a decimal mark
    assert table(page)["Star (″)"].iloc[0] > 1.5 * before


def test_any_field_needs_no_target():
    page = open_page()
    page.toggle(key="match_any_field").set_value(True).run()
    assert headline(page).startswith("For a field overhead")
    assert "Panels" not in table(page)
    assert any("26.5 V mag/arcsec²" in caption.value for caption in page.caption)
    assert not page.exception


def test_a_size_of_ones_own_counts_and_a_wrong_one_marks_its_field():
    page = open_page(target="NGC 7000")
    panels = table(page)["Panels"].tolist()
    size = page.text_input(key="match_size_NGC 7000")
    size.set_value("20 arcmin").run()
    assert max(table(page)["Panels"]) < max(panels)
    page.text_input(key="match_size_NGC 7000").set_value("3x2").run()
    assert page.error[0].value.startswith("Target's size = 3x2: must be one angle or two, with their unit.")
    assert table(page)["Panels"].tolist() == panels
    assert not page.exception


def test_another_rig_brings_its_own_mount_and_guider():
    page = open_page(rig="wide")
    assert page.selectbox(key="match_mount_wide").value == "friction"
    assert page.selectbox(key="match_guider_wide").value == "none"
    page.selectbox(key="match_mount_wide").select("worn").run()
    assert any("“worn”, no guider" in caption.value for caption in page.caption)
    assert not page.exception


def test_two_choices_lie_side_by_side():
    page = open_page(target="M 31")
    page.selectbox(key="match_second").select(9).run()
    rows = page.table[0].value
    assert rows.loc["Rank"].tolist() == ["1", "9", ""]
    assert rows.loc["Fine detail, all panels", "Better"].startswith("first")
    page.selectbox(key="match_second").select(1).run()
    assert "must differ from the first" in page.error[0].value
    assert not page.exception


def test_no_binning_marks_its_field_and_keeps_the_page():
    page = open_page()
    page.multiselect(key="match_binning").set_value([]).run()
    assert page.error[0].value.startswith("Binning = none")
    assert page.selectbox(key="match_rank_detail").value == "detail"
    assert not page.exception


def test_a_wrong_target_marks_its_field_and_keeps_the_page():
    page = open_page()
    page.text_input(key="widget_target").set_value("NGC 99999").run()
    assert "is not in the catalogue" in page.error[0].value
    assert headline(page).startswith("For NGC 7331")


def test_a_target_that_never_rises_is_explained():
    page = open_page(target="NGC 104")
    assert "never high enough" in headline(page)
    assert any("another site" in info.value for info in page.info)
    assert not page.exception


def test_the_picture_and_the_table_tell_the_same():
    from planner.charts.combinations import set_ups_frame, trade_chart
    from planner.files.equipment import load_equipment
    from planner.files.own_files import packaged_data
    from planner.session.match.combinations import weigh_combinations
    from planner.session.match.set_ups import set_ups

    demo = load_equipment(packaged_data("equipment.toml"))
    rig = demo.rig()
    asked = weigh_combinations(demo, rig, demo.site(), rig.filters[0])
    rows = set_ups(asked)
    assert set_ups_frame(asked, rows)["rank"].tolist() == [row.rank for row in rows]
    spec = json.loads(trade_chart(asked, rows).to_json())
    dots = next(data for name, data in spec["datasets"].items() if name == spec["layer"][0]["data"]["name"])
    assert {dot["standing"] for dot in dots if dot["as_good"]} == {"worth a look"}
    # What shows detail at all and is not outclassed in the table has its rank beside its dot, too heavy or not.
    ranks = next(data for name, data in spec["datasets"].items() if name == spec["layer"][1]["data"]["name"])
    shown = [row.rank for row in rows if (row.as_good or row.outclassed_by is None) and np.isfinite(row.detail_time)]
    assert [dot["rank"] for dot in ranks] == shown[:8]
    assert any(dot["standing"] != "worth a look" for dot in ranks)
    axes = [spec["layer"][0]["encoding"][axis]["title"] for axis in ("x", "y")]
    assert axes == ["width of a star in a picture, FWHM (arcsec)", "time for fine detail, one square degree (h)"]


def test_the_whole_list_and_what_to_buy(monkeypatch):
    from planner.session.match.purchase import Saving, worth_buying, year_hours
    from planner.session.match.wishes import serve
    from planner.ui.decide import match_list

    def answered_at_once(function, equipment, *more, **named):
        future = Future()
        if function is serve:
            few = replace(equipment, telescopes=equipment.telescopes[:1], reducers=(), cameras=equipment.cameras[:1])
            future.set_result(serve(few, *more, **named))
        else:
            future.set_result({worth_buying: (Saving(name="a part", hours=4, share=0.41, opened=0, most="M 51"),),
                               year_hours: 391.0}[function])
        return future

    page = open_page()
    monkeypatch.setattr(match_list, "ask", answered_at_once)
    page.toggle(key="match_list").set_value(True).run()
    page.toggle(key="match_buy").set_value(True).run()
    assert not page.exception
    assert page.dataframe[1].value["Target"].tolist() == ["NGC 7331", "NGC 7000", "IC 434", "NGC 253"]
    assert page.table[1].value.loc["a part"].tolist() == ["41 %, most on M 51", "160 h"]
    assert any("The demo’s projects, not yours." in caption.value for caption in page.caption)


@pytest.mark.browser
def test_an_observer_chooses(desktop, app_address):
    watched, page = desktop, desktop.page
    page.goto(f"{app_address}/advice?night=2026-11-10")
    watched.settle()
    go_to(page, "Choose the combination", "Two side by side")
    expect(page.get_by_role("heading", name="For NGC 7331: long")).to_be_visible()
    field = page.get_by_label("Target", exact=True)
    field.fill("M 31")
    field.press("Enter")
    page.get_by_role("heading", name="For M 31: middle").wait_for()
    page.wait_for_url(re.compile(r"target=M\+31"))
    watched.settle()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Result (JSON)").click()
    found = json.loads(saved.value.path().read_text())
    assert found["target"]["name"] == "M 31"
    fits_anywhere(page)
    assert watched.errors == []
    assert watched.strangers == []
