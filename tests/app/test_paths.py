"""An observer's whole ways through the pages, in a real browser that starts from nothing."""

import re
import tomllib

import pytest
from app.conftest import DESKTOP, PHONE, Watched, serve

NIGHT = "2026-11-10"  # one day after the new Moon of 2026 November 9, 07:02 UTC
PATIENCE_MS = 120000


def go_to(page, name, heading):
    """Follow a link of the menu, which a phone hides, until a heading of the page is there."""
    if page.viewport_size["width"] < 600 and page.get_by_test_id("stExpandSidebarButton").is_visible():
        page.get_by_test_id("stExpandSidebarButton").click()
    page.get_by_role("link", name=name).click()
    page.get_by_role("heading", name=heading).first.wait_for(timeout=PATIENCE_MS)
    closing = page.get_by_test_id("stSidebarCollapseButton").get_by_role("button")
    if page.viewport_size["width"] < 600 and closing.is_visible():
        closing.click()


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
    watched.page.get_by_text(f"Saved: {said}").wait_for(timeout=PATIENCE_MS)
    watched.settle()


def fits(page):
    return page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]


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
@pytest.mark.parametrize("viewport", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_from_my_rig_to_the_printed_night(chromium, tmp_path, viewport):
    watched = Watched(chromium, viewport)
    page = watched.page
    with serve(tmp_path) as address:
        try:
            page.goto(f"{address}/equipment?night={NIGHT}&target=NGC+253")
            page.get_by_role("button", name="Start my own equipment").click()
            page.get_by_text("Your equipment file is").wait_for(timeout=PATIENCE_MS)
            describe_my_rig(watched)
            file = next((tmp_path / "config").rglob("equipment.toml"))
            written = tomllib.loads(file.read_text())
            assert written["telescope"][0]["focal_length"] == "610 mm"
            assert written["site"][0]["time_zone"] == "America/Santiago"

            go_to(page, "Choose the combination", "For NGC 253")
            watched.settle(PATIENCE_MS)
            # 206265 x 2.9 µm / 610 mm = 0.98 arcsec a pixel.
            assert page.get_by_text(re.compile(r"pixels of 0\.98″")).first.is_visible()
            assert page.get_by_text("packaged demo").count() == 0
            assert fits(page)

            go_to(page, "Guide or not", "What would change it")
            watched.settle(PATIENCE_MS)
            verdict = page.get_by_role("heading", level=2).first.inner_text()
            length = re.search(r"(\d+) s", verdict)[1]
            assert fits(page)

            go_to(page, "Tonight", "Take it with you")
            watched.settle(PATIENCE_MS)
            assert fits(page)
            with page.expect_download() as saved:
                page.get_by_role("button", name="Night sheet to print (HTML)").click()
            sheet = page.context.new_page()
            sheet.set_content(saved.value.path().read_text())
            assert sheet.get_by_role("heading", name="Night of Tue 10 November 2026").is_visible()
            printed = sheet.inner_text("body")
            assert "ridge · rig main" in printed
            # Zone of the site: the tz database has America/Santiago at UTC-03 in November.
            assert "all times UTC-03" in printed
            assert re.search(rf"NGC 253\s+L\s+\d+ × {length} s", printed)
            assert watched.errors == []
            assert watched.strangers == []
        finally:
            watched.context.close()
