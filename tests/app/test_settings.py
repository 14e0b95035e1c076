"""One set of settings for all pages: what is typed is understood or refused, and survives every way of moving about."""

import re

import pytest
from app.conftest import blocks_of, go_to, open_framed
from playwright.sync_api import expect
from streamlit.testing.v1 import AppTest

from planner.files.equipment.start import begin_equipment


def lowest(page):
    return page.get_by_role("textbox", name="Lowest altitude (°)")


def answer_is(page, faint):
    """Wait until the answer is drawn as faint or as strong as that."""
    strength = "getComputedStyle(document.querySelector('.st-key-answer')).opacity"
    page.wait_for_function(f"{strength} {'< 0.6' if faint else '== 1'}", polling=100)


def open_at(watched, address):
    watched.page.goto(address)
    watched.page.get_by_role("heading", level=1).wait_for()
    watched.settle()


@pytest.mark.browser
def test_a_limit_typed_once_holds_on_every_page_and_after_a_reload(desktop, app_address):
    page = desktop.page
    open_at(desktop, f"{app_address}/tonight?night=2026-11-10&target=NGC+891&source=named&names=NGC+891")
    lowest(page).fill("29,5")
    lowest(page).press("Enter")
    page.wait_for_url(re.compile(r"lowest=29\.5"))
    desktop.settle()
    for name, heading in (("The year", "is best from"), ("Guide or not", "subs for"), ("Tonight", "Take it with you")):
        go_to(page, name, heading)
        expect(lowest(page)).to_have_value(re.compile("29[.,]5"))
        page.wait_for_url(re.compile(r"lowest=29\.5"))
    page.reload()
    page.get_by_role("heading", level=1).wait_for()
    desktop.settle()
    expect(lowest(page)).to_have_value("29.5")
    expect(page.get_by_text("above 30°")).to_have_count(0)
    lowest(page).fill("")
    lowest(page).press("Enter")
    page.wait_for_function("!location.search.includes('lowest')")
    assert desktop.errors == []


@pytest.mark.browser
def test_what_cannot_be_is_told_and_the_old_answer_is_faint(desktop, app_address):
    page = desktop.page
    open_at(desktop, f"{app_address}/year?night=2026-11-10&target=M+33")
    answer_is(page, faint=False)
    for typed in ("999", "1,234.5", "high", "-3"):
        lowest(page).fill(typed)
        lowest(page).press("Enter")
        told = re.compile(rf"Lowest altitude .* = .*{re.escape(typed)}.*: must be .*Below it is still 30\.")
        page.get_by_text(told).wait_for()
        expect(lowest(page)).to_have_value(typed)
        answer_is(page, faint=True)
    lowest(page).fill("40")
    lowest(page).press("Enter")
    page.wait_for_url(re.compile("lowest=40"))
    answer_is(page, faint=False)
    page.get_by_label("Target", exact=True).fill("NGC 99999")
    page.get_by_label("Target", exact=True).press("Enter")
    page.get_by_text("Below it is still M 33.").wait_for()
    answer_is(page, faint=True)


@pytest.mark.browser
def test_every_page_has_one_heading_of_the_first_order_that_says_whose(desktop, app_address):
    page = desktop.page
    open_at(desktop, f"{app_address}/year?night=2026-11-10&source=named&names=NGC+891")
    heading = page.get_by_role("heading", level=1)
    demo, measured = "the demo's equipment, not yours", "the demo's measurement"
    for name, whose in (("The year", demo), ("Choose the combination", demo), ("Tonight", demo),
                        ("My equipment", demo), ("Drift and polar alignment", measured), ("Pointing", measured),
                        ("Pier", ""), ("Test frame", ""), ("How it is computed", "")):
        page.get_by_role("link", name=name, exact=True).click()
        expect(heading).to_contain_text(name)  # one, and of the page just asked for
        expect(heading).to_contain_text(whose)
        if whose:
            expect(page.locator(".demo-edge")).to_have_count(1)
    assert desktop.errors == []


@pytest.mark.browser
def test_a_horizon_file_that_changes_is_seen_and_names_stay_text(desktop, app_address, own_folder):
    file = begin_equipment(own_folder / "equipment.toml", copy_of_demo=True)
    file.write_text(file.read_text().replace('name = "nebulae"', 'name = "a **bold** :red[rig] $x$"'))
    page = desktop.page
    open_at(desktop, f"{app_address}/tonight?night=2026-11-10&target=NGC+891&source=named&names=NGC+891")
    expect(page.get_by_role("heading", level=1)).to_contain_text("your equipment")
    expect(page.locator(".demo-edge")).to_have_count(0)
    before = page.get_by_role("heading", level=2).first.inner_text()
    (own_folder / "horizon_hill.csv").write_text("0,75\n180,75\n359,75\n")
    lowest(page).fill("20")
    lowest(page).press("Enter")
    expect(page.get_by_role("heading", level=2).first).not_to_have_text(before)
    page.goto(f"{app_address}/year?night=2026-11-10&rig=%3Ared%5Bthat%5D")
    page.get_by_text("There is no rig “:\u2060red[that]” in the equipment").wait_for()


@pytest.mark.browser
def test_targets_named_on_one_page_hold_on_the_others_and_after_a_reload(desktop, app_address):
    page = desktop.page
    open_at(desktop, f"{app_address}/year?night=2026-11-10&source=named&names=NGC+891%7CM+33&when=this+month&count=7")
    expect(page.get_by_role("textbox", name="Objects to list")).to_have_value("7")
    go_to(page, "Tonight", "Take it with you")
    page.get_by_text("Targets and limits").click()
    names = page.get_by_role("textbox", name="Names, one a line")
    expect(names).to_have_value("NGC 891\nM 33")
    names.fill("NGC 891")
    names.press("Control+Enter")
    page.wait_for_function("new URLSearchParams(location.search).get('names') === 'NGC 891'")
    page.reload()
    page.get_by_role("heading", level=2, name=re.compile("^NGC 891, from")).wait_for()
    assert desktop.errors == []


def test_fields_keep_their_place_when_a_name_is_refused(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))

    def show():
        from planner.ui import choices, settings
        from planner.ui.night.limits import ask_for_limits
        from planner.ui.night.targets import ask_for_targets

        settings.begin()
        chosen = choices.show_frame()
        ask_for_targets(chosen, "tonight")
        ask_for_limits(chosen)

    page = AppTest.from_function(show, default_timeout=60)
    page.query_params["source"] = "named"
    page.run()
    before = blocks_of(page)
    page.text_area(key="tonight_names").set_value("NGC 253\nno such thing").run()
    assert page.error
    assert blocks_of(page) == before


@pytest.mark.browser
def test_a_field_that_the_browser_makes_late_shows_its_value(desktop, app_address):
    # Its code arrives after a second run of the page, which no longer says what the first has set.
    page, held = desktop.page, []
    page.route("**/TextInput.*.js", lambda route: held.append(route))
    page.goto(f"{app_address}/year?night=2026-11-10&target=M+33&lowest=40")
    page.get_by_role("heading", level=1).wait_for()
    desktop.settle()
    page.get_by_text("Red", exact=True).first.click()
    desktop.settle()
    for route in held:
        route.continue_()
    expect(lowest(page)).to_have_value("40")
    expect(page.get_by_label("Target", exact=True)).to_have_value("M 33")


def test_an_address_that_names_nothing_says_what_is_answered_instead():
    page = open_framed("measure.first_light_page", target="XYZ123", night="2026-13-45")
    assert any("Below it is still NGC 7331." in one.value for one in page.error)
    assert any('no night “2026-13-45”' in one.value for one in page.warning)
