"""The page of projects: hours by target and filter, a table that can be changed, long lists taken at once."""

import time

import pytest
from app.conftest import fits_anywhere, fits_width, open_framed, settle, type_into_first_row
from astropy import units as u
from playwright.sync_api import expect

from planner.files.equipment.start import begin_equipment
from planner.files.projects import load_projects, user_projects_path
from planner.files.projects.edit import set_wanted


@pytest.fixture
def own():
    """Equipment of one's own in the folder of the user's settings."""
    return begin_equipment(copy_of_demo=True)


def words(page):
    return "\n".join(item.value for kind in ("error", "success", "caption", "info") for item in page.get(kind))


def test_the_demo_shows_its_projects_and_changes_none():
    page = open_framed("night.projects_page")
    assert not page.exception
    assert page.header[0].value.split(" projects")[0].isdigit()
    assert not [button for button in page.button if button.key == "projects_save"]


def test_pasted_names_become_projects_and_the_unknown_ones_are_told_together(own):
    page = open_framed("night.projects_page")
    assert page.header[0].value == "No projects yet"
    page.text_area(key="projects_names").set_value("NGC 891\nmy galaxy\nM 33\nNGC 99999\n\nNGC 7000")
    page.button(key="projects_add").click().run()
    assert not page.exception
    assert "3 added in projects.toml" in words(page)
    message, = (error.value for error in page.error)
    assert message.startswith("2 lines are left out.")
    assert "my galaxy" in message
    assert "NGC 99999" in message
    assert page.text_area(key="projects_names").value == "my galaxy\nNGC 99999"
    found = load_projects(user_projects_path())
    galaxy = found.of("NGC 891")
    assert galaxy.wanted_time("R") == galaxy.wanted_time("G") == galaxy.wanted_time("B") > 0 * u.h
    assert found.of("NGC 7000").wanted_time("Ha") > 0 * u.h
    page.text_area(key="projects_names").set_value("NGC 891")
    page.button(key="projects_add").click().run()
    assert "0 added, 1 were there" in words(page)
    assert load_projects(user_projects_path()).projects == found.projects


def test_a_thousand_lines_take_three_seconds_at_most(own):
    page = open_framed("night.projects_page")
    names = [f"NGC {number}" for number in range(1, 901)] + [f"no such thing {number}" for number in range(100)]
    page.text_area(key="projects_names").set_value("\n".join(names))
    began = time.process_time()
    page.button(key="projects_add").click().run()
    assert time.process_time() - began < 6  # seconds of this process, which draws the page twice on a busy machine
    assert not page.exception
    message, = (error.value for error in page.error)
    assert "no such thing 3" in message
    assert len(message) < 1000
    assert len(load_projects(user_projects_path()).projects) > 800


def test_hours_changed_elsewhere_are_not_put_back(own):
    page = open_framed("night.projects_page")
    page.text_area(key="projects_names").set_value("NGC 891\nM 33")
    page.button(key="projects_add").click().run()
    set_wanted(None, {"M 33": {"L": 99 * u.h}})
    typed = {"edited_rows": {0: {"Wanted (h)": "12,5"}}, "added_rows": [], "deleted_rows": []}
    page.session_state["projects_table"] = typed
    page.button(key="projects_save").click().run()
    found = load_projects(user_projects_path())
    assert found.of("M 33").wanted_time("L") == 99 * u.h
    band = found.of("NGC 891").filters[0]
    assert found.of("NGC 891").wanted_time(band) == 12.5 * u.h
    set_wanted(None, {"NGC 891": {band: 7 * u.h}})
    page.session_state["projects_table"] = typed | {"edited_rows": {0: {"Wanted (h)": "20"}}}
    page.button(key="projects_save").click().run()
    assert "NGC 891 was changed elsewhere" in words(page)
    assert load_projects(user_projects_path()).of("NGC 891").wanted_time(band) == 7 * u.h


def test_tonight_plans_ones_own_targets_and_never_the_demos(own):
    page = open_framed("night.tonight_page", night="2026-11-10", target="M 33")
    assert "The demo's list" not in page.selectbox(key="tonight_source").options
    assert page.header[0].value.startswith("M 33")
    page = open_framed("night.projects_page")
    page.text_area(key="projects_names").set_value("NGC 891")
    page.button(key="projects_add").click().run()
    page = open_framed("night.tonight_page", night="2026-11-10", target="M 33")
    assert page.selectbox(key="tonight_source").value == "projects"
    assert page.header[0].value.startswith("NGC 891")


@pytest.mark.browser
def test_the_calendar_says_which_night_is_for_what(phone, app_address):
    watched, page = phone, phone.page
    page.goto(f"{app_address}/projects?night=2026-11-10")
    page.get_by_text("When will they be finished?").click()
    page.get_by_role("heading", name="Which night for what").wait_for()
    watched.settle()
    page.get_by_test_id("stVegaLiteChart").first.wait_for()
    fits_width(page)
    assert watched.errors == []
    assert watched.warnings == []


@pytest.mark.browser
def test_a_list_is_pasted_and_an_hour_is_changed(desktop, app_address, own_folder):
    watched, page = desktop, desktop.page
    own = begin_equipment(own_folder / "equipment.toml", copy_of_demo=True)
    page.goto(f"{app_address}/projects?rig=survey")
    page.get_by_role("textbox", name="Names, one a line").fill("NGC 891\nnothing of that name\nM 33")
    page.get_by_role("button", name="Add them").click()
    page.get_by_text("2 added in projects.toml").wait_for()
    watched.settle()
    expect(page.get_by_role("heading", name="2 projects")).to_be_visible()
    expect(page.get_by_role("heading", level=1)).to_contain_text("your projects")
    expect(page.get_by_text("nothing of that name").first).to_be_visible()
    found = load_projects(own.with_name("projects.toml"))
    assert len(found.projects) == 2
    page.get_by_test_id("stDataFrame").first.scroll_into_view_if_needed()
    type_into_first_row(page, 0.5, "12.5")
    page.keyboard.press("Enter")
    settle(page)
    page.get_by_role("button", name="Save the table").click()
    page.get_by_text("Saved in projects.toml").wait_for()
    after = load_projects(own.with_name("projects.toml"))
    first = after.projects[0]
    assert first.wanted_time(next(iter(first.wanted))) == 12.5 * u.h
    assert after.projects[1] == found.projects[1]
    fits_anywhere(page)
    assert watched.errors == []
    assert watched.strangers == []
