"""The choices: one place for rig, site, target and night, which survive every way of moving about."""

import datetime
import re

import pytest
from app.conftest import open_framed

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
    assert 'There is no rig "borrowed"' in page.warning[0].value


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
    from planner.files.packaged import packaged_data

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


def chosen_rig(page):
    return page.get_by_role("combobox", name="Rig").input_value()


def go_to(watched, name):
    opener = watched.page.get_by_test_id("stExpandSidebarButton")
    if opener.is_visible():
        opener.click()
    watched.page.get_by_test_id("stSidebarNavLink").filter(has_text=name).click()
    watched.page.wait_for_timeout(300)
    watched.settle()


@pytest.mark.browser
def test_choices_survive_pages_reload_and_back(desktop, app_address):
    watched, page = desktop, desktop.page
    page.goto(f"{app_address}/advice?target=M 33&rig=galaxies&night=2026-11-10")
    page.get_by_role("heading", name="M 33").wait_for(timeout=60000)
    watched.settle()
    choose_rig(page, "wide")
    page.wait_for_url(re.compile("rig=wide"))
    watched.settle()
    page.wait_for_timeout(1000)
    go_to(watched, "Pier")
    page.wait_for_url(re.compile(r"/pier\?.*rig=wide.*target=M\+33"))
    assert page.get_by_label("Target", exact=True).count() == 0
    go_to(watched, "Guide or not")
    page.wait_for_url(re.compile(r"rig=wide.*target=M\+33.*night=2026-11-10"))
    assert chosen_rig(page) == "wide"
    page.reload()
    page.get_by_role("heading", name="M 33").wait_for(timeout=60000)
    watched.settle()
    assert chosen_rig(page) == "wide"
    choose_rig(page, "nebulae")
    page.wait_for_url(re.compile("rig=nebulae"))
    watched.settle()
    page.wait_for_timeout(1000)
    page.go_back()
    page.wait_for_url(re.compile("rig=wide"))
    page.wait_for_timeout(500)
    watched.settle()
    assert chosen_rig(page) == "wide"
    assert "rig=wide" in page.url
    page.go_forward()
    page.wait_for_url(re.compile("rig=nebulae"))
    page.wait_for_timeout(500)
    watched.settle()
    assert chosen_rig(page) == "nebulae"
    assert watched.errors == []
    assert watched.strangers == []


@pytest.mark.browser
def test_what_is_being_typed_is_not_wiped_by_an_answer(desktop, app_address):
    page = desktop.page
    page.goto(f"{app_address}/advice?target=M 33&night=2026-11-12")
    page.get_by_role("heading", name="M 33").wait_for(timeout=60000)
    desktop.settle()
    choose_rig(page, "travel")
    field = page.get_by_label("Target", exact=True)
    field.fill("M 8")
    page.wait_for_url(re.compile("rig=travel"))
    desktop.settle()
    page.wait_for_timeout(500)
    assert field.input_value() == "M 8"
    field.press("1")
    field.press("Enter")
    page.get_by_role("heading", name="M 81").wait_for(timeout=60000)


@pytest.mark.browser
def test_two_tabs_keep_their_own_choices(desktop, app_address):
    first = desktop.page
    first.goto(f"{app_address}/pier?rig=wide&target=M 33")
    desktop.settle()
    second = desktop.context.new_page()
    second.goto(f"{app_address}/advice?rig=survey&target=M 31")
    second.get_by_role("heading", name="M 31").wait_for(timeout=60000)
    assert chosen_rig(second) == "survey"
    go_to(desktop, "Guide or not")
    first.get_by_role("heading", name="M 33").wait_for(timeout=60000)
    assert chosen_rig(first) == "wide"
    assert "rig=survey" in second.url


@pytest.mark.browser
def test_no_green_or_blue_light_in_the_observatory(desktop, app_address):
    import io

    import numpy as np
    from PIL import Image

    page = desktop.page
    page.goto(f"{app_address}/advice?look=red&night=2026-11-10")
    page.get_by_role("heading", name="subs for").wait_for(timeout=60000)
    desktop.settle()
    page.wait_for_timeout(1500)
    page.get_by_role("combobox", name="Rig").click()  # an open menu is red too
    page.get_by_role("option", name="wide", exact=True).wait_for()
    picture = np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB"))
    assert np.max(picture[..., 1:3]) == 0
    assert np.median(picture[..., 0]) < 25
    assert np.max(picture[..., 0]) == 238
    page.keyboard.press("Escape")
    page.reload()
    page.get_by_role("heading", name="Guide: ").wait_for(timeout=60000)
    assert "look=red" in page.url
    assert desktop.errors == []
