"""The page that shows every formula with its source."""

import pytest
from app.conftest import fits_anywhere
from playwright.sync_api import expect
from streamlit.testing.v1 import AppTest


def show():
    from planner.ui.sources_page import page

    page()


def words(page):
    return "\n".join(item.value for kind in ("markdown", "caption", "subheader", "latex") for item in page.get(kind))


def test_formulas_are_grouped_by_subject():
    page = AppTest.from_function(show, default_timeout=30).run()
    assert not page.exception
    assert "Moonlight" not in words(page)
    page.session_state["sources_room"] = "sky"
    page.run()
    assert "Krisciunas" in words(page)
    assert any(r"$$" in item.value and r"\cot" in item.value for item in page.markdown)
    assert "Pier" not in words(page)


def test_a_search_looks_through_all_subjects():
    page = AppTest.from_function(show, default_timeout=30).run()
    page.text_input(key="sources_words").set_value("en 1992").run()
    assert "Strength share" in words(page)
    page.text_input(key="sources_words").set_value("xyzzy").run()
    assert "No formula holds" in page.info[0].value


@pytest.mark.browser
def test_equations_are_drawn(desktop, app_address):
    watched, page = desktop, desktop.page
    page.goto(f"{app_address}/sources")
    page.get_by_role("heading", name="How it is computed").wait_for()
    watched.settle()
    page.get_by_label("Search the formulas").fill("star image")
    page.keyboard.press("Enter")
    page.get_by_text("Tokovinin").first.wait_for()
    watched.settle()
    page.locator(".katex").nth(1).wait_for(state="attached")
    page.get_by_label("Search the formulas").fill("a")  # nearly all of them
    page.keyboard.press("Enter")
    page.get_by_text("Person tilt").wait_for()
    page.locator(".katex").nth(60).wait_for(state="attached")
    watched.settle()
    expect(page.locator(".katex-error")).to_have_count(0)
    fits_anywhere(page)
    assert watched.errors == []
    assert watched.strangers == []
