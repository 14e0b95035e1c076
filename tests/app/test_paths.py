"""An observer's whole ways through the pages, in a real browser that starts from nothing."""

import re
import tomllib

import pytest
from app.conftest import fits_width, go_to, night_sheet
from app.way_of_short_frames import NIGHT, short_frames
from playwright.sync_api import expect


def show_part(watched, part):
    """Choose a kind of equipment and wait for its form, and for the one before to be gone."""
    page = watched.page
    chip = page.get_by_role("radio", name=part, exact=True).or_(page.get_by_role("button", name=part, exact=True))
    chip.first.click()
    page.get_by_label(re.compile(f"^Show or change this {part.lower().rstrip('s')}")).first.wait_for()
    watched.settle()


def fill(page, label, text):
    """Type a figure into the field whose label begins so, and leave the field."""
    field = page.get_by_role("textbox", name=re.compile(f"^{re.escape(label)}"))
    field.fill(text)
    field.press("Tab")


def save(watched, said):
    """Click on Save at once after typing, as people do."""
    watched.page.get_by_role("button", name="Save", exact=True).click()
    watched.page.get_by_text(f"Saved: {said}").wait_for()
    watched.settle()


def describe_my_rig(watched):
    """Type the figures of a rig and a site that are not the example's."""
    page = watched.page
    watched.settle()
    show_part(watched, "Telescopes")
    fill(page, "Focal length (mm)", "610")
    save(watched, "telescope")
    show_part(watched, "Cameras")
    fill(page, "Pixel pitch (µm)", "2.9")
    save(watched, "camera")
    show_part(watched, "Sites")
    fill(page, "Name", "ridge")
    fill(page, "Latitude (°)", "-30.2")
    fill(page, "Longitude (°)", "-70.7")
    fill(page, "Time zone", "America/Santiago")
    save(watched, "site “ridge”")


@pytest.mark.browser
def test_from_my_rig_to_the_printed_night(desktop, app_address, own_folder):
    watched, page = desktop, desktop.page
    page.goto(f"{app_address}/equipment?night={NIGHT}&target=NGC+253&source=named&names=NGC+253")
    page.get_by_role("button", name="Start my own equipment").click()
    page.get_by_text("Your equipment file is").wait_for()
    describe_my_rig(watched)
    file = own_folder / "equipment.toml"
    written = tomllib.loads(file.read_text())
    assert written["telescope"][0]["focal_length"] == "610 mm"
    assert written["site"][0]["time_zone"] == "America/Santiago"

    go_to(page, "Choose the combination", "For NGC 253")
    # 206265 x 2.9 µm / 610 mm = 0.98 arcsec a pixel.
    expect(page.get_by_text(re.compile(r"pixels of 0\.98″")).first).to_be_visible()
    expect(page.get_by_role("heading", level=1)).to_contain_text("your equipment")
    fits_width(page)

    go_to(page, "Tonight", "Take it with you")
    fits_width(page)
    sheet = night_sheet(page, "Night of Tue 10 November 2026")
    printed = sheet.inner_text("body")
    assert "ridge · rig main" in printed
    # Zone of the site: the tz database has America/Santiago at UTC-03 in November.
    assert "all times UTC−03" in printed
    assert re.search(r"NGC 253\s+L\s+\d+ × \d+ s", printed)
    assert watched.errors == []
    assert watched.strangers == []


@pytest.mark.browser
def test_short_frames_open_as_a_drift_log(desktop, app_address):
    # The whole way, to a saved mount and another verdict, is way_of_short_frames.py.
    watched, page = desktop, desktop.page
    page.goto(f"{app_address}/frame?night={NIGHT}&target=NGC+7331&rig=nebulae")
    page.get_by_role("heading", name="Reject it").wait_for()
    page.locator('input[type="file"]').first.set_input_files(short_frames(count=12, every_s=120.0))
    page.get_by_role("heading", name="12 frames: keep 12").wait_for()
    watched.settle()
    page.get_by_role("button", name="Open it under Drift and polar alignment").click()
    page.get_by_role("heading", name="Drift a minute").wait_for()
    expect(page.get_by_role("heading", level=1)).to_contain_text("your file")
    assert watched.errors == []
    assert watched.strangers == []
