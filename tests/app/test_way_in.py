"""The way in: welcome, guided set-up, the verdict, and a night that knows what time it is."""

import datetime
import re
import tomllib

import pytest
from app.conftest import fits_anywhere, fits_width, settle, type_into_first_row, type_on
from playwright.sync_api import expect

from planner.files.equipment import load_equipment
from planner.files.equipment.start import begin_equipment


def pick(page, label, start):
    """Choose an answer by the beginning of its words."""
    field = page.get_by_role("combobox", name=label, exact=True)
    field.scroll_into_view_if_needed()  # a list that is open closes when the page scrolls
    settle(page)
    field.click()
    page.get_by_role("option", name=re.compile(f"^{re.escape(start)}")).first.click()


def describe_a_southern_rig(page):
    """Answer every question of the set-up; the number of typed values."""
    typed = {"Latitude": "30° 12′ S", "Longitude": "-70,7", "Height above the sea (m)": "1200", "Aperture (mm)": "130",
             "Focal length (mm)": "650", "Pixel (µm)": "3,8", "Pixels, long side": "6000",
             "Pixels, short side": "4000"}
    for label, text in typed.items():
        page.get_by_label(label, exact=True).fill(text)
    for label, start in (("How dark is the zenith?", "countryside"), ("How steady are the stars?", "steady"),
                         ("Kind of telescope", "lenses"), ("Camera sees", "mono"), ("Kind of sensor", "recent, cooled"),
                         ("Kind of mount", "a solid mount"), ("Polar axis", "aligned with solved"),
                         ("Guider", "none")):
        pick(page, label, start)
    page.get_by_role("combobox", name="Filters").click()
    page.get_by_role("option", name=re.compile("^none, or all visible")).click()
    page.get_by_role("option", name=re.compile("^H-alpha")).click()
    page.keyboard.press("Escape")
    return len(typed)


@pytest.mark.browser
def test_a_page_loaded_anew_keeps_the_answers_of_a_set_up_begun(phone, app_address):
    page = phone.page
    page.goto(f"{app_address}/setup")
    page.get_by_label("Aperture (mm)", exact=True).fill("20 cm")
    page.keyboard.press("Tab")
    page.get_by_text("1 of 18 answered").wait_for()
    page.wait_for_url(re.compile("answers="))
    page.reload()
    page.get_by_text("1 of 18 answered").wait_for()
    expect(page.get_by_label("Aperture (mm)", exact=True)).to_have_value("20 cm")


@pytest.mark.browser
def test_a_newcomer_gets_from_nothing_to_their_own_verdict(phone, app_address, own_folder):
    page = phone.page
    page.goto(app_address)
    page.get_by_role("button", name="Describe my site and rig").click()
    page.get_by_label("Latitude", exact=True).wait_for()
    page.get_by_text("0 of 18 answered").wait_for()
    assert describe_a_southern_rig(page) <= 15
    # tz database: places at 30° S, 71° W keep the clock of Santiago.
    expect(page.get_by_role("combobox", name="Time zone")).to_have_value("America/Santiago")
    page.get_by_text("18 of 18 answered").wait_for()
    fits_width(page)
    page.get_by_role("button", name="Save and show the verdict").click()
    page.wait_for_url(re.compile("/advice"))
    phone.settle()
    expect(page.get_by_role("heading", level=1)).to_contain_text("your equipment")
    expect(page.get_by_role("heading", level=2).first).to_have_text(re.compile("^(?!.*never high enough)"))
    file = (own_folder / "equipment.toml")
    own = load_equipment(file)
    assert (own.site().latitude.value, own.site().longitude.value) == (-30.2, -70.7)
    assert own.rig().guider is None
    page.goto(app_address)
    page.wait_for_url(re.compile("/tonight"))
    phone.settle()
    expect(page.get_by_role("link", name="Welcome")).to_have_count(0)
    assert phone.errors == []
    assert phone.strangers == []


@pytest.mark.browser
def test_an_example_never_counts_and_what_was_typed_last_is_saved(desktop, app_address, own_folder):
    page = desktop.page
    page.goto(f"{app_address}/setup")
    page.get_by_label("Latitude", exact=True).wait_for()
    describe_a_southern_rig(page)
    page.get_by_label("Focal length (mm)", exact=True).fill("")
    page.get_by_role("button", name="Save and show the verdict").click()
    page.get_by_text("Not saved yet: Focal length (mm) is still open.").wait_for()
    assert not list(own_folder.iterdir())
    page.get_by_label("Focal length (mm)", exact=True).fill("12")
    page.get_by_role("button", name="Save and show the verdict").click()
    page.get_by_text(re.compile("must be at least half the aperture")).wait_for()
    page.get_by_label("Focal length (mm)", exact=True).fill("610")
    page.get_by_text("4 Your skyline").click()
    type_into_first_row(page, 0.3, "120,5")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Draw it").click()
    page.get_by_text("line 1, Altitude (°) = (missing): must be given.").wait_for()
    page.get_by_role("button", name="Save and plan tonight").click()
    page.get_by_text("Not saved yet: line 1, Altitude (°) is still open.").wait_for()
    type_into_first_row(page, 0.8, "29,5")
    for azimuth, altitude in ((200, 12), (250, 31), (300, 9)):  # on and on, as people type
        if azimuth == 200:
            page.keyboard.press("Enter")
            expect(page.locator(".gdg-input")).to_have_count(0)
        page.keyboard.press("ArrowLeft")
        type_on(page, f"{azimuth}", "Tab")
        type_on(page, f"{altitude}", "Enter")
    page.get_by_label("Height above the sea (m)", exact=True).fill("1300")
    page.get_by_role("button", name="Save and plan tonight").click()  # the first click, the field not left
    page.wait_for_url(re.compile("/tonight"))
    skyline = load_equipment(own_folder / "equipment.toml").site().horizon
    assert [*zip(skyline.azimuth.value, skyline.altitude.value, strict=True)] == [
        (120.5, 29.5), (200, 12), (250, 31), (300, 9)]
    written = tomllib.loads((own_folder / "equipment.toml").read_text())
    assert written["telescope"][0]["focal_length"] == "610 mm"
    desktop.settle()


def equipment_where_it_is_night(folder):
    """The demo's equipment, its first site moved to where it is midnight now."""
    file = begin_equipment(folder / "equipment.toml", copy_of_demo=True)
    hour = datetime.datetime.now(datetime.UTC).hour
    east = (24 - hour) % 24
    east -= 24 if east > 12 else 0
    zone = f"Etc/GMT{-east:+d}" if east else "UTC"  # in these names the sign is the other way round
    text = file.read_text().replace('longitude = "15.2 deg"', f'longitude = "{15 * east} deg"')
    file.write_text(text.replace('time_zone = "Europe/Vienna"', f'time_zone = "{zone}"'))
    return file


@pytest.mark.browser
def test_tonight_says_what_runs_and_what_is_next_and_plans_again_from_now(desktop, app_address, own_folder):
    equipment_where_it_is_night(own_folder)
    page = desktop.page
    page.goto(f"{app_address}/?site=hill")
    page.wait_for_url(re.compile("/tonight"))
    page.get_by_text(re.compile(r"^Now \d\d:\d\d · next$")).wait_for()
    desktop.settle()
    # The site's clock is that of local midnight, give or take the hour's minutes.
    expect(page.get_by_text(re.compile("^Now (23|00|01):"))).to_be_visible()
    expect(page.get_by_text(re.compile("^Running:"))).to_be_visible()
    expect(page.get_by_text(re.compile(r"Dark ends, in \d+ h \d\d min")).first).to_be_visible()
    page.get_by_role("button", name="Plan again from now").click()
    page.wait_for_url(re.compile("from="))
    desktop.settle()
    expect(page.get_by_role("heading", level=2).first).to_have_text(re.compile(r"^(?!.*from (?!23|00|01|02)\d\d:)"))
    page.reload()
    page.get_by_role("button", name="Plan the whole night").click()
    page.wait_for_function("!location.search.includes('from=')")
    fits_anywhere(page)
    assert desktop.errors == []
