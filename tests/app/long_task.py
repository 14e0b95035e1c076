"""An observer's long task, counted: python tests/app/long_task.py, run by hand.

From nothing to an own southern rig without a guider, its verdict and combination, the night with a skyline, the printed
sheet, a test frame, a drift log saved, and then an off-axis guider. Printed for each step: values typed, clicks, files
handed in, and seconds of a browser that types and clicks without a pause. `people` is what a practised person needs
for as many: 0.28 s a key, 1.1 s to point, 0.2 s to press, 1.35 s to think before each field or click (S. K. Card,
T. P. Moran, A. Newell, Commun. ACM 23, 396 (1980), doi:10.1145/358886.358895).
"""

import re
import shutil
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from app.conftest import (
    CHROMIUM_FLAGS,
    DESKTOP,
    PATIENCE_MS,
    Watched,
    browser_context,
    go_to,
    night_sheet,
    serve,
    settle,
    type_on,
)
from playwright.sync_api import Page, expect, sync_playwright

DATA = Path(__file__).parents[2] / "data"
TYPED = {"Latitude": "30° 12′ S", "Longitude": "-70,7", "Height above the sea (m)": "1200", "Aperture (mm)": "130",
         "Focal length (mm)": "650", "Pixel (µm)": "3,8", "Pixels, long side": "6000", "Pixels, short side": "4000"}
PICKED = {"How dark is the zenith?": "countryside", "How steady are the stars?": "steady",
          "Kind of telescope": "lenses", "Camera sees": "mono", "Kind of sensor": "recent, cooled",
          "Kind of mount": "a solid mount", "Polar axis": "aligned with solved", "Guider": "none"}
SKYLINE = ((0, 8), (120, 20), (240, 6))  # azimuth, altitude in degrees
GUIDER = {"Name": "pick-off", "Aperture (mm)": "130", "Focal length (mm)": "650", "Pixel pitch (µm)": "3.8",
          "Columns": "1600", "Rows": "1200"}


class Observer:
    """Who types and clicks, and counts it."""

    def __init__(self, page: Page) -> None:
        self.page, self.counts, self.rows = page, [0, 0, 0, 0], []
        self.begun = time.monotonic()

    def type(self, label: str, text: str) -> None:
        """Type a value into a field."""
        self.page.get_by_label(label, exact=True).first.fill(text)
        self._count(1, 0, 0, len(text))

    def click(self, *wanted: object) -> None:
        """Click on one thing after the other."""
        for one in wanted:
            one.click(timeout=PATIENCE_MS)
            self._count(0, 1, 0, 0)

    def go(self, name: str, heading: str) -> None:
        """Follow a link of the menu."""
        go_to(self.page, name, heading)
        self._count(0, 1, 0, 0)

    def hand_in(self, file: Path) -> None:
        """Hand in a file: a click on the button, one on the file, one on Open."""
        self.page.locator('input[type="file"]').first.set_input_files(file)
        self._count(0, 3, 1, 0)

    def pick(self, label: str, start: str) -> None:
        """Choose from a list."""
        field = self.page.get_by_role("combobox", name=label, exact=True)
        field.scroll_into_view_if_needed()
        settle(self.page)
        self.click(field, self.page.get_by_role("option", name=re.compile(f"^{re.escape(start)}")).first)

    def _count(self, *more: int) -> None:
        self.counts = [have + one for have, one in zip(self.counts, more, strict=True)]

    def done(self, step: str) -> None:
        """Print what a step took."""
        settle(self.page)
        typed, clicks, files, keys = self.counts
        people = 0.28 * keys + (1.35 + 1.1 + 0.2) * (typed + clicks)
        self.rows.append((step, typed, clicks, files, time.monotonic() - self.begun, people))
        print(f"{step:<42}{typed:>6}{clicks:>8}{files:>7}{self.rows[-1][4]:>9.0f} s{people:>7.0f} s", flush=True)
        self.counts, self.begun = [0, 0, 0, 0], time.monotonic()


def set_up(who: Observer) -> None:
    """Describe site and rig with a skyline, save, and read the verdict."""
    page = who.page
    who.click(page.get_by_role("button", name="Describe my site and rig"))
    for label, text in TYPED.items():
        who.type(label, text)
    for label, start in PICKED.items():
        who.pick(label, start)
    light = page.get_by_role("option", name=re.compile("^none, or all"))
    who.click(page.get_by_role("combobox", name="Filters"), light)
    page.keyboard.press("Escape")
    who.click(page.get_by_text("4 Your skyline"))
    table = page.get_by_test_id("stDataFrame").first
    table.scroll_into_view_if_needed()
    settle(page)
    box = table.bounding_box()
    page.mouse.click(box["x"] + 60, box["y"] + 52)
    for azimuth, altitude in SKYLINE:
        for number, last in ((azimuth, "Tab"), (altitude, "Enter")):
            type_on(page, f"{number}", last)
        page.keyboard.press("ArrowLeft")
        who._count(2, 0, 0, len(f"{azimuth}{altitude}") + 3)
    page.get_by_text("18 of 18 answered").wait_for()
    who.click(page.get_by_role("button", name="Save and show the verdict"))
    page.wait_for_url(re.compile("/advice"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("your equipment")
    page.get_by_text("cases drawn").first.wait_for()
    who.done("own rig without a guider, skyline, verdict")


def night(who: Observer) -> None:
    """Choose the combination, plan the night and print its sheet."""
    who.go("Choose the combination", "For ")
    who.done("combination")
    who.go("Tonight", "Take it with you")
    who.done("night")
    night_sheet(who.page, "Night of").close()
    who._count(0, 1, 0, 0)
    who.done("printed sheet")


def measure(who: Observer) -> None:
    """Hand in a test frame and a drift log, and save what the log says."""
    page = who.page
    who.go("Test frame", "elongation")
    who.hand_in(DATA / "frame_demo.fits")
    page.get_by_role("heading", name=re.compile("^Reject it")).first.wait_for()
    who.done("test frame")
    who.go("Drift and polar", "Drift a minute")
    who.hand_in(DATA / "drift_demo.csv")
    save = page.get_by_role("button", name="Save into my equipment").first
    settle(page)
    if save.is_disabled():
        who.click(page.get_by_text("The measurement is right in spite of the doubts"))
    who.click(save)
    page.get_by_text("Saved in equipment.toml").wait_for()
    who.done("drift log saved")


def add_guider(who: Observer) -> None:
    """Add an off-axis guider, give it to the rig, and read the verdict."""
    page = who.page

    def part(name: str) -> None:
        who.click(page.get_by_role("radio", name=name).or_(page.get_by_role("button", name=name)).first)
        settle(page)

    who.go("My equipment", "My equipment")
    part("Guiders")
    for label, text in GUIDER.items():
        who.type(label, text)
    who.click(page.get_by_text("Off axis", exact=True))
    who.click(page.get_by_role("button", name="Add this guider"))
    page.get_by_text("Saved: guider").wait_for()
    part("Rigs")
    who.pick("Guider", "pick-off")
    who.click(page.get_by_role("button", name="Save", exact=True))
    page.get_by_text("Saved: rig").wait_for()
    who.go("Guide or not", "subs for")
    expect(page.get_by_text("Without guiding")).to_be_visible()
    who.done("off-axis guider, verdict")


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright, serve(Path(folder)) as address:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=CHROMIUM_FLAGS)
        watched = Watched(browser_context(browser, DESKTOP))
        watched.page.goto(address)
        print(f"{'step':<42}{'typed':>6}{'clicks':>8}{'files':>7}{'browser':>11}{'people':>9}")
        who = Observer(watched.page)
        try:
            for step in (set_up, night, measure, add_guider):
                step(who)
        finally:
            typed, clicks, files, seconds, people = (sum(column) for column in list(zip(*who.rows, strict=True))[1:])
            print(f"{'in all':<42}{typed:>6}{clicks:>8}{files:>7}{seconds:>9.0f} s{people:>7.0f} s")
        browser.close()


if __name__ == "__main__":
    main()
