"""Rules for every test: no network beyond this machine, repeatable examples, no silent skip in CI."""

import os
import shutil
import socket
import tempfile

import hypothesis
import pytest

hypothesis.settings.register_profile("repeatable", derandomize=True, deadline=None, print_blob=True)
hypothesis.settings.load_profile("repeatable")

# The tests see the packaged demo, never the equipment file of whoever runs them.
_SETTINGS = tempfile.TemporaryDirectory(prefix="planner-tests-")
os.environ["XDG_CONFIG_HOME"] = _SETTINGS.name

# A worker per core: threads of matrices this small would wait for each other. Processes of tests do the same.
os.environ["OMP_NUM_THREADS"] = "1"

# Tables are as wide as they are for a pipe, whatever runs the tests.
os.environ.pop("COLUMNS", None)

LOOPBACK = {"127.0.0.1", "::1", "localhost"}
_connect = socket.socket.connect


def _connect_on_this_machine(self, address):
    """Refuse any address that is not on this machine."""
    if self.family in (socket.AF_INET, socket.AF_INET6) and address[0] not in LOOPBACK:
        raise OSError(f"tests must not use the network: {address}")
    return _connect(self, address)


def pytest_xdist_auto_num_workers():
    """One worker more than cores: where a browser waits for its page another test runs."""
    return (os.cpu_count() or 1) + 1


@pytest.fixture(scope="session")
def chromium_path():
    """The system's own Chromium."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.skip("no chromium on this machine: install the Debian package chromium")
    return path


@pytest.fixture(scope="session")
def chromium(chromium_path):
    """A real Chromium, one for all tests of a worker."""
    from app.conftest import CHROMIUM_FLAGS
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path, args=CHROMIUM_FLAGS)
        yield browser
        browser.close()


@pytest.fixture(autouse=True)
def _no_network(monkeypatch):
    monkeypatch.setattr(socket.socket, "connect", _connect_on_this_machine)


@pytest.fixture(autouse=True)
def _nobodys_equipment():
    """No test leaves its equipment to the next one."""
    yield
    for folder in os.listdir(_SETTINGS.name):
        shutil.rmtree(os.path.join(_SETTINGS.name, folder), ignore_errors=True)


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item, call):
    """In CI a skip is a failure, unless the test needs data that do not travel with the project."""
    outcome = yield
    report = outcome.get_result()
    if report.skipped and not hasattr(report, "wasxfail") and os.environ.get("CI") == "true" and (
        item.get_closest_marker("optional_data") is None
    ):
        report.outcome = "failed"
        report.longrepr = f"skipped in CI: {report.longrepr}"
