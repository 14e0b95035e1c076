"""The README's lines of Python do what they show."""

import doctest
import shlex
from pathlib import Path

import pytest

from planner.cli import run

README = Path(__file__).parents[1] / "README.md"
EXAMPLE = README.read_text(encoding="utf-8").partition("on the demo's first rig:")[2].partition("\n## ")[0]
SOUTH = README.read_text(encoding="utf-8").partition("## In the south")[2].partition("## ")[0]


def test_the_lines_of_python_do_what_they_show():
    found = doctest.testfile(str(README), module_relative=False, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert found.attempted > 10
    assert found.failed == 0


def test_the_answer_shown_is_what_the_command_prints(capsys, monkeypatch):
    monkeypatch.chdir(README.parent)
    assert run(["advise", "NGC 7331", "--night", "2026-11-10", "--quiet"]) == 0
    shown = " ".join(line for line in EXAMPLE.splitlines() if line.startswith("    ")).split()
    assert shown == capsys.readouterr().out.split()


@pytest.mark.parametrize("line", [line.strip() for line in SOUTH.splitlines() if line.startswith("    planner ")])
def test_each_southern_command_answers_from_there(capsys, monkeypatch, line):
    monkeypatch.chdir(README.parent)
    assert run([*shlex.split(line)[1:], "--quiet"]) == 0
    out = capsys.readouterr().out
    assert "paddock" in out or "NGC 1316" in out
    assert "never" not in out.splitlines()[0].lower()
