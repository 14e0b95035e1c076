"""How soon a warm page answers: python tests/benchmarks/app_latency.py [PATH ...], run by hand.

Starts the app on the demo, in a settings folder of its own, and a Chromium at desktop width. On each page a target and
one more figure are changed ten times each, every time to a value not seen before, after two changes that warm up. The
time runs from the key that ends the entry, as the browser felt it, to the moment the app has stopped running. The share
of the core is the time inside the functions below, which the server's own process notes, whatever they call counted
once.
"""

import functools
import importlib
import os
import shutil
import sys
import tempfile
import threading
import time
from pathlib import Path
from statistics import median

TIMES = "APP_LATENCY_TIMES"
NIGHT = "2026-11-10"
WARM_UP, COUNT = 2, 10
CORE = (
    "files.measured.frame_task.measure_file", "files.targets.stars.stars_around",
    "measure.drift.causes.implied_polar_error", "measure.posterior.mount.measured_mount",
    "measure.drift.report.analyse_drift", "measure.drift.spectrum.drift_spectrum", "measure.frame.report.reported",
    "measure.pointing.fit.fit_pointing", "session.advice.answer.advise", "session.advice.change.advice_change",
    "session.match.combinations.weigh_combinations", "session.match.set_ups.set_ups", "session.night.plan.plan_night",
    "session.night.sky.night_sky", "session.year.season.season", "session.advice.sky_field.sky_field",
    "session.advice.star_strip.star_strip", "session.year.objects.fitting_objects",
)
TARGETS = ("NGC 7814", "NGC 772", "NGC 925", "NGC 1023", "NGC 2403", "NGC 7479", "NGC 185", "NGC 278", "NGC 404",
           "NGC 1569", "NGC 1961", "NGC 7640")
# path: label of one more figure, its values from and by
FIGURES = {
    "match": ("Seeing at the zenith (arcsec)", 1.5, 0.1), "advice": ("Lowest altitude (°)", 20, 1),
    "tonight": ("Lowest altitude (°)", 20, 1), "year": ("Lowest altitude (°)", 20, 1),
    "frame": ("Exposure (s)", 60, 1), "drift": ("Exposure of a row (s)", 1, 0.5),
    "pointing": ("Latitude (deg)", 47, 0.1),
}
WATCH = """() => {
  window.stops = [];
  const app = document.querySelector('[data-testid="stApp"]');
  new MutationObserver(() => window.stops.push([performance.now(), app.dataset.testScriptState]))
    .observe(app, {attributes: true, attributeFilter: ['data-test-script-state']});
  document.addEventListener('keydown', event => { if (event.key === 'Enter') {
    window.began = performance.now(); window.stops = []; } }, true);
}"""
OPEN = "document.querySelectorAll('details:not([open]) > summary').forEach(summary => summary.click())"
QUIET = """() => window.stops.length > 1 && window.stops.at(-1)[1] === 'notRunning'
                 && performance.now() - window.stops.at(-1)[0] > 500"""


def serve_timed(arguments):
    """Run the app in this process, with the functions of the core wrapped in a clock."""
    inside = threading.local()

    def timed(function):
        @functools.wraps(function)
        def call(*positional, **named):
            if getattr(inside, "busy", False):
                return function(*positional, **named)
            inside.busy, start = True, time.perf_counter()
            try:
                return function(*positional, **named)
            finally:
                inside.busy = False
                with open(os.environ[TIMES], "a", encoding="utf-8") as file:
                    file.write(f"{time.perf_counter() - start}\n")
        return call

    for name in CORE:
        module, function = f"planner.{name}".rsplit(".", 1)
        loaded = importlib.import_module(module)
        setattr(loaded, function, timed(getattr(loaded, function)))
    from streamlit.web.cli import main

    sys.argv = ["streamlit", "run", *arguments]
    main()


def entered(page, field, text, times):
    """Return the seconds until the page stood still after an entry, and those of the core among them."""
    before = times.stat().st_size if times.exists() else 0
    field.fill(text)
    field.press("Enter")
    page.wait_for_function(QUIET, timeout=120000)
    total = page.evaluate("window.stops.at(-1)[0] - window.began") / 1000
    if not times.exists():
        return total, 0.0
    with times.open(encoding="utf-8") as file:
        file.seek(before)
        return total, sum(map(float, file))


def measured(page, path, times):
    """Yield a row for the target and one for the other figure of a page."""
    label, first, step = FIGURES[path]
    figures = [f"{first + step * place:g}" for place in range(WARM_UP + COUNT)]
    page.evaluate(OPEN)
    for name, role, values in (("Target", "textbox", TARGETS), (label, "spinbutton", figures)):
        field = page.get_by_role(role, name=name).or_(page.get_by_role("textbox", name=name)).first
        rows = [entered(page, field, value, times) for value in values][WARM_UP:]
        totals, cores = zip(*rows, strict=True)
        yield name, median(totals), max(totals), median(cores)


def main(paths):
    """Print the table."""
    sys.path.insert(0, str(Path(__file__).parents[1]))
    from app.conftest import CHROMIUM_FLAGS, DESKTOP, Watched, browser_context, serve
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        home, times = Path(folder), Path(folder) / "times"
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=CHROMIUM_FLAGS)
        with serve(home, {TIMES: str(times)}, command=(sys.executable, __file__, "--serve")) as address:
            print(f"{'page':<10}{'changed':<32}{'median':>8}{'slowest':>9}{'core':>8}{'share':>7}   load")
            for path in paths or FIGURES:
                watched = Watched(browser_context(browser, DESKTOP))
                page = watched.page
                page.goto(f"{address}/{path}?night={NIGHT}")
                page.get_by_role("heading", level=2).first.wait_for(timeout=120000)
                watched.settle()
                page.evaluate(WATCH)
                for name, middle, slowest, core in measured(page, path, times):
                    print(f"{path:<10}{name:<32}{middle:>6.2f} s{slowest:>7.2f} s{core:>6.2f} s{core / middle:>7.0%}"
                          f"   {os.getloadavg()[0]:.1f}", flush=True)
                watched.context.close()
        browser.close()


if __name__ == "__main__":
    if sys.argv[1:2] == ["--serve"]:
        serve_timed(sys.argv[2:])
    else:
        main(sys.argv[1:])
