"""`planner app`: starts on this machine, prints its address, refuses what cannot be listened on."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request

from planner.cli import run


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


def test_it_answers_at_the_address_it_prints():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    app = subprocess.Popen([sys.executable, "-m", "planner", "app", "--port", str(port)], stdout=subprocess.PIPE,
                           text=True, start_new_session=True)
    try:
        assert f"http://127.0.0.1:{port}" in app.stdout.readline()
        assert _answers(f"http://127.0.0.1:{port}/_stcore/health")
    finally:
        os.killpg(app.pid, signal.SIGTERM)
        app.wait(timeout=20)
        app.stdout.close()


def _answers(address, patience_s=60):
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        try:
            with urllib.request.urlopen(address, timeout=2) as answer:
                return answer.status == 200
        except OSError:
            time.sleep(0.2)
    return False
