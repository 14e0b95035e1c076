"""A running app and a real browser, both on this machine, for the pages' tests."""

import contextlib
import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from concurrent.futures import Future
from pathlib import Path

import pytest
from playwright.sync_api import Error, TimeoutError, expect
from streamlit.components.v2.component_manager import BidiComponentManager

SCRIPT = Path(__file__).parents[2] / "streamlit_app.py"
CHROMIUM_FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]
DESKTOP = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
PATIENCE_MS = 120000  # of a busy machine
QUIET_MS = 300  # longer than a page's delay between a key and its run
expect.set_options(timeout=PATIENCE_MS)
# Each page run without a browser would look through all installed packages for components, half a second; we have none.
BidiComponentManager.discover_and_register_components = lambda *components, **how: None
PHONE_AGENT = "Mozilla/5.0 (Linux; Android 14) AppleWebKit/537.36 Chrome/130.0 Mobile Safari/537.36"


def open_framed(module="decide.advice_page", **address):
    """Return a page as run without a browser, with the frame of settings above it."""
    from streamlit.testing.v1 import AppTest

    def script(module):
        from importlib import import_module

        import streamlit as st

        from planner.ui import choices, settings

        settings.begin()
        st.session_state["chosen"] = choices.show_frame()
        choices.write_the_address()
        import_module(f"planner.ui.{module}").page()

    page = AppTest.from_function(script, default_timeout=60, kwargs={"module": module})
    for name, value in address.items():
        page.query_params[name] = value
    return page.run()


def answered(value):
    """Return an answer that is there already, in place of one that is worked out outside the pages' process."""
    future = Future()
    future.set_result(value)
    return future


def blocks_of(page):
    """Where the blocks stand that hold each keyed widget of a page run without a browser, by key.

    The browser builds a block anew that comes to stand elsewhere, and what is being typed or pressed in it is lost.
    """
    found = {}

    def look(node, path):
        for place, child in getattr(node, "children", {}).items():
            look(child, (*path, place))
        if getattr(node, "key", None) and not getattr(node, "children", None):
            found[node.key] = path[:-1]

    look(page.main, ())
    return found


def _free_port():
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return listener.getsockname()[1]


@pytest.fixture(scope="session")
def running_app(tmp_path_factory):
    """The address of the one app that all pages' tests of a worker share, and the folder of its user's own files."""
    home = tmp_path_factory.mktemp("home")
    with serve(home) as address:
        yield address, home / "config" / "planner"


@pytest.fixture
def own_folder(running_app):
    """The folder of the running app's own files, empty."""
    folder = running_app[1]
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder


@pytest.fixture
def app_address(running_app, own_folder):
    """The address of the running app: it has nothing but the demo until a test writes into `own_folder`."""
    return running_app[0]


@contextlib.contextmanager
def serve(home, settings=None, command=(sys.executable, "-m", "streamlit", "run")):
    """Start an app in a home folder of its own, with environment variables set; its address while it runs."""
    port = _free_port()
    environment = {**os.environ, "HOME": str(home), "XDG_CONFIG_HOME": str(home / "config"), **(settings or {})}
    server = subprocess.Popen(
        [*command, str(SCRIPT), f"--server.port={port}", "--server.headless=true"],
        env=environment, cwd=SCRIPT.parent, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}"
    try:
        _wait_until_it_answers(f"{address}/_stcore/health", server)
        yield address
    finally:
        server.terminate()
        server.wait(timeout=20)


def _wait_until_it_answers(address, server, patience_s=60):
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        if server.poll() is not None:
            raise RuntimeError(f"the app ended with code {server.returncode}")
        try:
            with urllib.request.urlopen(address, timeout=2) as answer:
                if answer.status == 200:
                    return
        except OSError:
            time.sleep(0.2)
    raise RuntimeError("the app did not start")


class Watched:
    """A page of a browser that remembers no visit, with the errors it printed and the hosts it asked."""

    def __init__(self, context):
        self.context = context
        self.page = context.new_page()
        self.errors = []
        self.warnings = []
        self.strangers = []
        self.page.on("console", self._note_error)
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))
        self.page.on("request", self._note_stranger)

    def _note_error(self, message):
        # A page opened by its own address looks for its server below that address first, and the browser notes it.
        looked_for_its_server = re.search(r"/\w+/_stcore/[\w-]+$", message.location.get("url", ""))
        if message.type == "error" and not looked_for_its_server:
            self.errors.append(message.text)
        elif message.type == "warning":
            self.warnings.append(message.text)

    def _note_stranger(self, request):
        if not request.url.startswith(("http://127.0.0.1", "ws://127.0.0.1", "data:", "blob:")):
            self.strangers.append(request.url)

    def settle(self):
        """Wait until the app runs no more."""
        settle(self.page)

    def close(self):
        """Forget the visit; the app's program, which is large, stays in the browser's store for the next one."""
        for page in self.context.pages:
            with contextlib.suppress(Error):  # a sheet that was set by its text has no store
                page.evaluate("localStorage.clear(), sessionStorage.clear()")
            page.close()
        self.context.clear_cookies()


def settle(page):
    """Wait until a page's script has not run for a while: what was just clicked or typed has been answered."""
    page.evaluate("window.lastRun = performance.now()")
    page.wait_for_function("""quiet => {
        const app = document.querySelector('[data-testid="stApp"]');
        if (app?.dataset.testScriptState !== 'notRunning') window.lastRun = performance.now();
        return performance.now() - (window.lastRun ??= performance.now()) > quiet;
    }""", arg=QUIET_MS, polling=50)


def go_to(page, name, heading):
    """Follow a link of the menu, which a phone hides, until a heading of the page is there."""
    opener = page.get_by_test_id("stExpandSidebarButton")
    narrow = page.viewport_size["width"] < 600
    if narrow:
        opener.click()
    page.get_by_role("link", name=name).click()
    if narrow:
        opener.wait_for()  # the menu closes by itself
    page.get_by_role("heading", name=heading).first.wait_for()
    settle(page)


def fits_width(page):
    """Wait until a page scrolls up and down only."""
    page.wait_for_function("""() => [document.documentElement, document.querySelector('[data-testid="stMain"]')]
        .every(box => box.scrollWidth <= box.clientWidth)""")


def fits_anywhere(page):
    """Check that a page of 1280 pixels scrolls up and down only, at twice its size and on a phone as well."""
    for size in ({"width": DESKTOP["width"] // 2, "height": DESKTOP["height"] // 2}, PHONE):
        page.set_viewport_size(size)
        fits_width(page)


def night_sheet(page, heading):
    """Take the printed sheet from the page Tonight and open it; its heading stands on it."""
    with page.expect_download() as saved:
        page.get_by_role("button", name="Night sheet to print (HTML)").click()
    sheet = page.context.new_page()
    sheet.set_content(saved.value.path().read_text())
    expect(sheet.get_by_role("heading", name=heading)).to_be_visible()
    return sheet


def type_into_first_row(page, across, text):
    """Type into the first row of the first table: it is one picture, whose cell is found by its share of the width."""
    grid, editor = page.get_by_test_id("stDataFrame").first, page.locator(".gdg-input").first
    grid.scroll_into_view_if_needed()
    settle(page)
    for _ in range(PATIENCE_MS // 2000):
        box = grid.bounding_box()
        at = box["x"] + across * box["width"], box["y"] + 35 + 17
        page.mouse.click(*at)  # a cell is chosen before it is opened
        page.wait_for_timeout(500)
        page.mouse.dblclick(*at)
        with contextlib.suppress(TimeoutError):
            editor.wait_for(timeout=2000)
            break
    editor.press("Control+A")
    editor.press_sequentially(text, delay=50)


def type_on(page, text, leave):
    """Type into the chosen cell and leave it by a key, no faster than the table opens and closes its editor."""
    editor = page.locator(".gdg-input")
    for _ in range(PATIENCE_MS // 5000):
        page.keyboard.type(text[:1])
        with contextlib.suppress(TimeoutError):
            editor.first.wait_for(timeout=5000)
            break
    page.keyboard.type(text[1:], delay=60)
    page.keyboard.press(leave)
    expect(editor).to_have_count(0)


def tab_to(page, words, key="Tab", most=120):
    """Press a key until what is called so has the focus."""
    named = "(one => one.getAttribute('aria-label') || one.innerText || '')(document.activeElement)"
    for _ in range(most):
        page.keyboard.press(key)
        if page.evaluate(named).strip().splitlines()[-1:] == [words]:  # a summary begins with the name of its sign
            return
    raise AssertionError(f"{key} does not lead to {words}")


def browser_context(browser, viewport):
    # The app closes its menu after a choice on what calls itself a phone.
    context = browser.new_context(viewport=viewport, user_agent=PHONE_AGENT if viewport is PHONE else None)
    context.set_default_timeout(PATIENCE_MS)
    return context


@pytest.fixture(scope="session")
def _desk(chromium):
    return browser_context(chromium, DESKTOP)


@pytest.fixture(scope="session")
def _pocket(chromium):
    return browser_context(chromium, PHONE)


@pytest.fixture
def desktop(_desk):
    """A watched page at desktop width."""
    watched = Watched(_desk)
    yield watched
    watched.close()


@pytest.fixture
def phone(_pocket):
    """A watched page at phone width."""
    watched = Watched(_pocket)
    yield watched
    watched.close()
