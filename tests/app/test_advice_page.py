"""The page that answers: guide or not, and how long."""

import re

import pytest
from app.conftest import DESKTOP, PHONE, fits_anywhere, fits_width, open_framed, tab_to
from playwright.sync_api import expect


def open_page(**address):
    return open_framed(**{"night": "2026-11-10", **address})


def headline(page):
    return page.header[0].value


def lines(page):
    """The rows of all answers in lines, label to words."""
    text = " ".join(block.proto.body for block in page.get("html"))
    return {label: re.sub("<.*?>", "", words) for label, words in re.findall(r"<dt>(.*?)</dt><dd.*?>(.*?)</dd>", text)}


def test_the_page_opens_on_the_demo_with_the_answer_in_one_look():
    page = open_page()
    assert not page.exception
    assert headline(page).startswith("Guide: ")
    assert list(lines(page)) == ["How sure", "Sub length", "Depth", "Limits", "Without guiding", "Measure next"]
    assert "of 32 cases" in lines(page)["How sure"]


def test_the_address_chooses():
    page = open_page(rig="old pier", target="M 13", site="hill")
    assert page.selectbox(key="widget_rig").value == "old pier"
    assert headline(page).startswith("Repair the mount first")
    assert page.text_input(key="widget_target").value == "M 13"


def test_another_rig_gives_another_verdict():
    page = open_page()
    page.selectbox(key="widget_rig").select("wide").run()
    assert headline(page).startswith("No guider needed")
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
    return lines(page)["Total exposure"]


def opened(page, part):
    """Open one of the folded parts and run the page again."""
    page.session_state[f"advice_{part}"] = True
    return page.run()


def test_a_fainter_goal_takes_longer():
    page = opened(open_page(), "figures")
    before = total(page)
    page.text_input(key="widget_brightness").set_value("27,5").run()
    assert "27.5" in total(page)
    assert float(total(page).split()[0]) > float(before.split()[0])


def test_a_larger_area_takes_less():
    page = opened(open_page(), "figures")
    assert "h" in total(page)
    page.text_input(key="widget_area").set_value("400").run()
    assert total(page).split()[1] == "min"  # 6.2 h over 16: the sky makes the noise


def test_a_line_is_wanted_in_rayleigh_as_by_the_command():
    page = opened(open_page(), "figures")
    page.selectbox(key="widget_filter").select("Ha").run()
    hours = []
    for line in ("10", "20"):
        page.text_input(key="widget_line").set_value(line).run()
        assert not page.exception
        assert f"{line} R" in total(page)
        hours.append(float(total(page).split()[0]))
    assert 3 < hours[0] / hours[1] < 4.4  # sky and dark make nearly all of the noise: twice the line, a quarter of it
    page.text_input(key="widget_line").set_value("1e7").run()
    assert any("at most" in error.value for error in page.error)


@pytest.mark.parametrize(("part", "says"), [
    ("flow", "of the clock count for"),
    ("why", "What would change it"), ("moves", "Within one guided sub"), ("star", "The typical sub of each length")])
def test_what_lies_behind_is_shown_when_it_is_opened(part, says):
    page = open_page()
    shown = [text.value for text in (*page.subheader, *page.markdown, *page.caption)]
    assert not any(says in text for text in shown)
    page = opened(page, part)
    assert not page.exception
    assert any(says in text.value for text in (*page.subheader, *page.markdown, *page.caption))


def test_another_rig_stands_beside_the_chosen_one():
    page = opened(open_page(), "beside")
    page.selectbox(key="beside_rig").select("wide").run()
    assert not page.exception
    shown = " ".join(block.proto.body for block in page.get("html"))
    assert "No guider needed" in shown
    assert headline(page).startswith("Guide: ")


@pytest.mark.browser
def test_by_keyboard_alone_from_a_target_through_what_if_to_the_night(desktop, app_address):
    page = desktop.page
    page.goto(f"{app_address}/advice?night=2026-11-10&rig=wide&source=named&names=M+33")
    expect(page.get_by_role("heading", level=2, name="NGC 7331")).to_be_visible()
    desktop.settle()
    tab_to(page, "Target")
    page.keyboard.press("Control+A")
    page.keyboard.type("M 33")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=2, name="M 33")).to_be_visible()
    desktop.settle()
    tab_to(page, "What if")
    page.keyboard.press("Enter")
    stars = page.get_by_role("row", name="Stars")
    expect(stars).to_be_visible()
    expect(stars.locator("td.other")).to_have_count(0)
    expect(stars.get_by_role("cell")).to_have_count(2)
    now, tried = stars.get_by_role("cell").all_inner_texts()
    assert now == tried
    tab_to(page, "Seeing in the zenith (″)")
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    expect(stars.locator("td.other")).to_be_visible()
    desktop.settle()
    now, tried = stars.get_by_role("cell").all_inner_texts()
    assert float(tried.split("″")[0]) > float(now.split("″")[0])
    lines = page.get_by_label("thin with open dots").locator("path[stroke]").evaluate_all(
        "paths => paths.map(path => path.getAttribute('stroke-width'))")
    assert {"1", "4"} <= set(lines)  # as it is, and as tried
    tab_to(page, "Take these", key="Shift+Tab")
    page.keyboard.press("Enter")
    said = page.get_by_text("What if, on this page only: seeing")
    expect(said).to_be_visible()
    desktop.settle()
    tab_to(page, "Back to the equipment", key="Shift+Tab")
    page.keyboard.press("Enter")
    expect(said).to_be_hidden()
    fits_anywhere(page)
    page.set_viewport_size(DESKTOP)
    desktop.settle()
    tab_to(page, "Tonight", key="Shift+Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Take it with you")).to_be_visible()
    page.wait_for_url(re.compile(r"target=M\+33"))
    assert desktop.errors == []


@pytest.mark.browser
def test_an_observer_finds_the_verdict(phone, app_address):
    watched, page = phone, phone.page
    page.goto(f"{app_address}/advice?night=2026-11-10")
    watched.settle()
    page.get_by_role("heading", name="Guide: ").wait_for()
    for size in (DESKTOP, PHONE):
        page.set_viewport_size(size)
        page.wait_for_function("""() => { const all = document.querySelectorAll('dl.lines dd'); return all.length
            && all[all.length - 1].getBoundingClientRect().bottom < innerHeight }""")  # above the fold
    for part in ("Where the night goes, and what widens the star", "What moves the star",
                     "The star as this camera records it"):
        page.get_by_text(part, exact=True).click()
        watched.settle()
    page.get_by_text("The typical sub of each length").wait_for()
    for name in ("Speed against the length", "From the hours of the night", "What moves the star within",
                 "A star of 90 s guided"):
        page.get_by_label(name).first.wait_for()
    field = page.get_by_label("Target", exact=True)
    field.fill("M 33")
    field.press("Enter")
    page.get_by_role("heading", name="M 33").wait_for()
    page.wait_for_url(re.compile(r"target=M\+33"))
    fits_width(page)
    assert watched.errors == []
    assert watched.warnings == []
    assert watched.strangers == []
