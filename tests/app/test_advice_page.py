"""The page that answers: guide or not, and how long."""

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

SCRIPT = Path(__file__).parents[2] / "streamlit_app.py"


def open_page(**address):
    page = AppTest.from_file(str(SCRIPT), default_timeout=60)
    for name, value in {"night": "2026-11-10", **address}.items():
        page.query_params[name] = value
    return page.run()


def headline(page):
    return page.header[0].value


def test_the_page_opens_on_the_demo_with_a_verdict():
    page = open_page()
    assert not page.exception
    assert headline(page).startswith("Guide: ")
    labels = [metric.label for metric in page.metric if metric.label not in ("Size", "Mean brightness")]
    assert labels == ["Tonight", "Stars", "Sky", "Depth in 6.5 h", "Total exposure"]


def test_the_address_chooses():
    page = open_page(rig="old pier", target="M 13", site="hill")
    assert page.selectbox(key="widget_rig").value == "old pier"
    assert headline(page).startswith("Repair the mount first")
    assert page.text_input(key="widget_target").value == "M 13"


def test_another_rig_gives_another_verdict():
    page = open_page()
    page.selectbox(key="widget_rig").select("wide").run()
    assert headline(page).startswith("Do without guiding")
    assert not page.exception


def test_a_wrong_target_marks_its_field_and_keeps_the_page():
    page = open_page()
    page.text_input(key="widget_target").set_value("NGC 99999").run()
    assert "is not in the catalogue" in page.error[0].value
    assert headline(page).startswith("Guide: ")
    assert not page.exception


def test_a_target_that_never_rises_is_explained():
    page = open_page(target="NGC 104")
    assert "never high enough" in headline(page)
    assert any("Never rises" in info.value for info in page.info)


def total(page):
    return next(metric.value for metric in page.metric if metric.label == "Total exposure")


def test_a_fainter_goal_takes_longer():
    page = open_page()
    before = total(page)
    page.number_input(key="advice_brightness").set_value(26.0).run()
    assert total(page) != before
    assert total(page).endswith(" h")


@pytest.mark.browser
def test_an_observer_finds_the_verdict(watched, app_address):
    page = watched.page
    page.goto(f"{app_address}/?night=2026-11-10")
    watched.settle()
    page.get_by_role("heading", name="Guide: ").wait_for(timeout=60000)
    page.get_by_role("heading", name="A star as this camera records it").wait_for()
    field = page.get_by_label("Target", exact=True)
    field.fill("M 33")
    field.press("Enter")
    page.get_by_role("heading", name="M 33").wait_for(timeout=60000)
    assert "target=M+33" in page.url
    widest = page.evaluate("document.documentElement.scrollWidth")
    assert widest <= page.viewport_size["width"]
    assert watched.errors == []
    assert watched.strangers == []
