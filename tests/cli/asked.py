"""The planner as an observer types it, in one process."""

import json

from planner.cli import run


def planner(capsys, *words):
    """Return exit code, standard output and standard error."""
    code = run([str(word) for word in words])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def answer(capsys, *words):
    """Return the JSON document of an answer."""
    code, out, _ = planner(capsys, *words, "--json")
    assert code == 0
    return json.loads(out)
