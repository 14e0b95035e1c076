"""`planner app`: starts on this machine, prints its address, refuses what cannot be listened on."""

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

import planner
from planner.cli import run
from planner.cli.app import require_free


def test_a_taken_port_is_one_line(capsys):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert run(["app", "--port", str(port)]) == 2
    assert "cannot be listened on" in capsys.readouterr().err


def test_a_missing_equipment_file_is_told_before_anything_starts(capsys):
    assert run(["app", "--equipment", "/nowhere/mine.toml"]) == 2
    assert "mine.toml" in capsys.readouterr().err


@contextlib.contextmanager
def started(*more, **how):
    """Yield the app's port and process; it is ended by SIGTERM to that one process."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    app = subprocess.Popen([sys.executable, "-m", "planner", "app", "--port", str(port), *more], text=True,
                           stdout=subprocess.PIPE, start_new_session=True, **how)
    try:
        assert f"http://127.0.0.1:{port}" in app.stdout.readline()
        assert _answers(f"http://127.0.0.1:{port}/_stcore/health")
        yield port, app
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(app.pid, signal.SIGKILL)
        app.wait(timeout=20)
        app.stdout.close()


def test_it_answers_at_the_address_it_prints_and_sigterm_ends_all_of_it():
    with started() as (port, app):
        os.kill(app.pid, signal.SIGTERM)
        app.wait(timeout=20)
        with socket.socket() as probe:
            assert probe.connect_ex(("127.0.0.1", port)) != 0


def test_settings_where_it_is_started_and_variables_loosen_nothing(tmp_path):
    top = str(Path(planner.__file__).parents[1])
    (tmp_path / ".streamlit").mkdir()
    (tmp_path / ".streamlit" / "config.toml").write_text(
        "[server]\nenableCORS = false\nenableXsrfProtection = false\n")
    (tmp_path / "streamlit.py").write_text("raise SystemExit('the wrong module')")
    loose = {"STREAMLIT_SERVER_ENABLE_CORS": "false", "STREAMLIT_SERVER_ENABLE_XSRF_PROTECTION": "false"}
    with started(cwd=tmp_path, env=os.environ | loose | {"PYTHONPATH": top}) as (port, _):
        assert _handshake(port, "127.0.0.1", f"http://127.0.0.1:{port}") == 101
        assert _handshake(port, "localhost", f"http://localhost:{port}") == 101
        assert _handshake(port, "127.0.0.1", "http://evil.example") == 403
        assert _handshake(port, "evil.example", f"http://evil.example:{port}") == 403


def _handshake(port, host, origin):
    """Return the code with which a WebSocket of a page is answered."""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as line:
        line.sendall((f"GET /_stcore/stream HTTP/1.1\r\nHost: {host}:{port}\r\nOrigin: {origin}\r\n"
                      "Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
                      "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n").encode())
        return int(line.recv(100).split()[1])


@pytest.mark.parametrize(("host", "origin", "listed", "good"), [
    ("127.0.0.1:8501", "http://127.0.0.1:8501", "", True), ("localhost:8501", "http://localhost:8501", "", True),
    ("localhost:8501", "http://127.0.0.1:8501", "", True), ("[::1]:8501", "http://[::1]:8501", "", True),
    ("192.168.1.5:8501", "http://192.168.1.5:8501", "", True), (None, None, "", True),
    ("evil.example:8501", "http://evil.example:8501", "", False),  # a name made to point here
    ("pier.lan:8501", "http://pier.lan:8501", "", False),
    ("pier.lan:8501", "http://pier.lan:8501", "x, Pier.lan", True),
    ("127.0.0.1:8501", "http://evil.example", "", False), ("127.0.0.1:8501", "http://6.6.6.6", "", False),
    ("127.0.0.1:8501", "null", "", False), ("localhost.evil.example", None, "", False), ("", None, "", True),
])
def test_only_listed_names_are_answered(host, origin, listed, good):
    from planner.ui.hosts import foreign

    headers = {name: value for name, value in (("Host", host), ("Origin", origin)) if value is not None}
    assert (foreign(headers, listed) == "") == good


def _answers(address, patience_s=60):
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        try:
            with urllib.request.urlopen(address, timeout=2) as answer:
                return answer.status == 200
        except OSError:
            time.sleep(0.2)
    return False


@pytest.mark.skipif(os.name != "posix", reason="elsewhere such an address is taken by the system's own rules")
def test_a_port_whose_last_connection_is_still_closing_is_free_for_a_restart():
    with socket.socket() as server:
        server.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)  # as the app's server does
        server.bind(("127.0.0.1", 0))
        server.listen()
        port = server.getsockname()[1]
        with socket.create_connection(("127.0.0.1", port)) as visitor:
            taken, _ = server.accept()
            taken.close()  # this side closes first, and waits
            visitor.recv(1)
    require_free("127.0.0.1", port)
