"""Many users of one app at once: python tests/benchmarks/app_sessions.py [USERS [MINUTES [PATH ...]]], run by hand.

Starts the app on the demo, in a settings folder of its own, and one Chromium with a profile for each user. Until the
time is over a user goes from page to page and asks each for another target, with a lowest altitude that nobody else
has. Printed: how long a page takes to stand still, the memory of the server, and every answer in which a page showed
another user's target or altitude.
"""

import asyncio
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from app.conftest import CHROMIUM_FLAGS, serve  # noqa: E402

NIGHT = "2026-11-10"
PATHS = ("advice", "tonight", "year", "match")
TARGETS = tuple(f"NGC {number}" for number in (
    7814, 772, 925, 1023, 2403, 7479, 185, 278, 404, 1569, 1961, 7640, 147, 157, 488, 514, 628, 660, 672, 691, 736, 891,
    949, 1003, 1058, 1097, 1232, 1300, 1365, 1398, 1407, 1421, 1501, 1514, 1533, 1579, 1637, 1792, 1964, 2146))
PATIENCE_MS = 600_000
STILL_S = 0.5
STATE = "document.querySelector('[data-testid=\"stApp\"]')?.dataset.testScriptState"


async def still(page):
    """Wait until the app has not run for a while."""
    since = time.monotonic()
    while time.monotonic() - since < STILL_S:
        await asyncio.sleep(0.05)
        if await page.evaluate(STATE) != "notRunning":
            since = time.monotonic()


async def user(browser, address, number, users, paths, until):
    """Return the seconds of each answer of a user, and what was another's."""
    page = await (await browser.new_context(viewport={"width": 1280, "height": 900})).new_page()
    page.set_default_timeout(PATIENCE_MS)
    mine, took, wrong, turn = TARGETS[number::users], [], [], 0
    while time.monotonic() < until:
        path, target = paths[(number + turn) % len(paths)], mine[turn % len(mine)]
        await page.goto(f"{address}/{path}?night={NIGHT}&lowest={20 + number}", timeout=PATIENCE_MS)
        field = page.get_by_role("textbox", name="Target").first
        await field.wait_for()
        await still(page)
        begun = time.monotonic()
        await field.fill(target)
        await field.press("Enter")
        await still(page)
        took.append(time.monotonic() - begun - STILL_S)
        shown = await page.locator("body").inner_text()
        others = [other for other in TARGETS if other not in mine and f"{other} " in shown]
        if await field.input_value() != target or others or f"lowest={20 + number}" not in page.url:
            wrong.append(f"user {number}, {path}, {target}: shows {others or page.url}")
        turn += 1
    return took, wrong


def server_memory():
    """Return the most memory that the app, a child of this process, has held, in MB."""
    for child in Path(f"/proc/{os.getpid()}/task/{os.getpid()}/children").read_text(encoding="ascii").split():
        if b"streamlit" in Path(f"/proc/{child}/cmdline").read_bytes():
            status = Path(f"/proc/{child}/status").read_text(encoding="ascii")
            return next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM")) / 1e3
    return float("nan")


async def main(users=20, minutes=10.0, *paths):
    """Print the figures; 1 if a user saw another's."""
    from playwright.async_api import async_playwright

    with tempfile.TemporaryDirectory() as folder, serve(Path(folder)) as address:
        before = server_memory()
        async with async_playwright() as playwright:
            browser = await playwright.chromium.launch(executable_path=shutil.which("chromium"), args=CHROMIUM_FLAGS)
            until = time.monotonic() + 60 * minutes
            found = await asyncio.gather(*(user(browser, address, number, users, paths or PATHS, until)
                                           for number in range(users)))
            await browser.close()
        took = sorted(second for seconds, _ in found for second in seconds)
        wrong = [line for _, lines in found for line in lines]
        print(f"{users} users, {minutes:g} min, {len(took)} answers: median {median(took):.1f} s, p95 "
              f"{took[int(0.95 * (len(took) - 1))]:.1f} s; memory {before:.0f} to {server_memory():.0f} MB; "
              f"load {os.getloadavg()[0]:.1f}", *wrong, f"{len(wrong)} showed what was another's", sep="\n")
        return int(bool(wrong))


if __name__ == "__main__":
    asked = sys.argv[1:]
    sys.exit(asyncio.run(main(*map(int, asked[:1]), *map(float, asked[1:2]), *asked[2:])))
