"""The choices: one place for rig, site, target and night, which survive every way of moving about."""

import datetime
import re

import pytest
from app.conftest import go_to, open_framed
from playwright.sync_api import expect

from planner.files.equipment.start import begin_equipment
from planner.ui import choices


def test_a_night_that_nobody_chose_stays_out_of_the_address_and_follows_the_clock():
    page = open_framed()
    assert set(page.query_params) == {"rig", "site", "target"}
    chosen = page.date_input(key="widget_night").value
    page.date_input(key="widget_night").set_value(chosen + datetime.timedelta(days=40)).run()
    assert page.query_params["night"] == (chosen + datetime.timedelta(days=40)).isoformat()
    page.date_input(key="widget_night").set_value(chosen).run()
    assert "night" not in page.query_params


@pytest.mark.parametrize("night", ["soon", "1066-10-14", "2026-02-30"])
def test_an_address_with_no_night_falls_back_to_tonight(night):
    page = open_framed(night=night)
    assert not page.exception
    assert "night" not in page.query_params


def test_an_address_that_names_an_unknown_rig_says_so():
    page = open_framed(rig="borrowed")
    assert not page.exception
    assert "There is no rig “borrowed”" in page.warning[0].value


def test_an_address_that_names_an_unknown_target_says_so():
    page = open_framed(target="NGC 99999")
    assert not page.exception
    assert "is not in the catalogue" in page.error[0].value


def test_a_damaged_equipment_file_is_one_line(tmp_path, monkeypatch):
    broken = tmp_path / "mine.toml"
    broken.write_text("[[site]\n")
    monkeypatch.setenv("PLANNER_EQUIPMENT", str(broken))
    page = open_framed()
    assert not page.exception
    assert "is not TOML" in page.error[0].value


def test_a_change_of_the_file_is_seen(tmp_path, monkeypatch):
    from planner.files.own_files import packaged_data

    mine = tmp_path / "mine.toml"
    mine.write_text(packaged_data("starter.toml").read_text())
    monkeypatch.setenv("PLANNER_EQUIPMENT", str(mine))
    assert choices.equipment_in_use()[0].rig().name == "main"
    mine.write_text(mine.read_text().replace('name = "main"', 'name = "mine"'))
    assert choices.equipment_in_use()[0].rig().name == "mine"


def choose_rig(page, name):
    """Choose in the list as a person does."""
    page.get_by_role("combobox", name="Rig").click()
    page.get_by_role("option", name=name, exact=True).click()


def has_rig(page, name):
    page.wait_for_url(re.compile(f"rig={name}"))
    expect(page.get_by_role("combobox", name="Rig")).to_have_value(name)


@pytest.mark.browser
def test_choices_survive_pages_reload_and_back(desktop, app_address):
    watched, page = desktop, desktop.page
    page.goto(f"{app_address}/advice?target=M 33&rig=galaxies&night=2026-11-10")
    page.get_by_role("heading", name="M 33").wait_for()
    watched.settle()
    choose_rig(page, "wide")
    has_rig(page, "wide")
    go_to(page, "Pier", "Pier")
    page.wait_for_url(re.compile(r"/pier\?.*rig=wide.*target=M\+33"))
    expect(page.get_by_label("Target", exact=True)).to_have_count(0)
    go_to(page, "Guide or not", "M 33")
    page.wait_for_url(re.compile(r"rig=wide.*target=M\+33.*night=2026-11-10"))
    has_rig(page, "wide")
    page.reload()
    page.get_by_role("heading", name="M 33").wait_for()
    has_rig(page, "wide")
    assert watched.errors == []
    assert watched.strangers == []


@pytest.mark.browser
def test_one_press_goes_one_page_back(desktop, app_address):
    page = desktop.page
    page.goto(f"{app_address}/sources")
    desktop.settle()
    go_to(page, "Guide or not", "NGC 7331")
    for rig in ("wide", "galaxies"):
        choose_rig(page, rig)
        has_rig(page, rig)
    go_to(page, "The year", "NGC 7331")
    choose_rig(page, "survey")
    has_rig(page, "survey")
    for path, rig in (("advice", "galaxies"), ("sources", "")):
        page.go_back()
        page.wait_for_url(re.compile(f"/{path}.*{rig}"))
        desktop.settle()
    page.go_forward()
    has_rig(page, "galaxies")  # the last one chosen there
    page.go_forward()
    has_rig(page, "survey")
    page.wait_for_url(re.compile("/year"))
    assert desktop.errors == []


@pytest.mark.browser
def test_the_bare_address_holds_nobody_on_the_way_back(desktop, app_address, own_folder):
    begin_equipment(own_folder / "equipment.toml", copy_of_demo=True)
    page = desktop.page
    page.goto("about:blank")
    page.goto(app_address)
    page.wait_for_url(re.compile("/tonight"))
    desktop.settle()
    page.go_back()
    page.wait_for_url("about:blank")


@pytest.mark.browser
def test_what_is_being_typed_is_not_wiped_by_an_answer(desktop, app_address):
    page = desktop.page
    page.goto(f"{app_address}/advice?target=M 33&night=2026-11-12")
    page.get_by_role("heading", name="M 33").wait_for()
    desktop.settle()
    choose_rig(page, "travel")
    field = page.get_by_label("Target", exact=True)
    field.fill("M 8")
    has_rig(page, "travel")
    expect(field).to_have_value("M 8")
    field.press("1")
    field.press("Enter")
    page.get_by_role("heading", name="M 81").wait_for()


@pytest.mark.browser
def test_two_tabs_keep_their_own_choices(desktop, app_address):
    first = desktop.page
    first.goto(f"{app_address}/pier?rig=wide&target=M 33")
    desktop.settle()
    second = desktop.context.new_page()
    second.goto(f"{app_address}/advice?rig=survey&target=M 31")
    second.get_by_role("heading", name="M 31").wait_for()
    has_rig(second, "survey")
    go_to(first, "Guide or not", "M 33")
    has_rig(first, "wide")
    has_rig(second, "survey")


@pytest.mark.browser
def test_no_green_or_blue_light_in_the_observatory(desktop, app_address):
    import io

    import numpy as np
    from PIL import Image

    page = desktop.page
    page.goto(f"{app_address}/advice?look=red&night=2026-11-10")
    page.get_by_role("heading", name="subs for").wait_for()
    desktop.settle()
    page.get_by_role("combobox", name="Rig").click()  # an open menu is red too
    page.get_by_role("option", name="wide", exact=True).wait_for()
    picture = np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB"))
    assert np.max(picture[..., 1:3]) == 0
    assert np.median(picture[..., 0]) < 25
    assert np.max(picture[..., 0]) == 238
    page.keyboard.press("Escape")
    page.reload()
    page.get_by_role("heading", name="Guide: ").wait_for()
    page.wait_for_url(re.compile("look=red"))
    assert desktop.errors == []
