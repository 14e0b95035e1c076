"""Results of simulations in one file: the same bytes in however many goes, and a damaged end costs one row."""

from argparse import Namespace

import pytest
from astropy.table import Table
from worlds.spread import spread


def halved(case):
    """Return a result that a text must not round."""
    return {"half": case / 3, "words": 'a "word", and another'}


def run(cases, results):
    return list(spread(halved, cases, "halves", Namespace(scheduler=None, workers=None, results=results)))


def test_a_stopped_run_goes_on_and_writes_the_same_bytes(tmp_path):
    whole, parts = tmp_path / "whole.ecsv", tmp_path / "parts.ecsv"
    expected = run([1, 2, 3, 4], whole)
    run([1, 2], parts)
    torn = parts.read_bytes() + b'3,"{""half"": 1'
    parts.write_bytes(torn)
    assert run([1, 2, 3, 4], parts) == expected == [halved(case) for case in (1, 2, 3, 4)]
    assert parts.read_bytes() == whole.read_bytes()
    assert list(Table.read(whole, format="ascii.ecsv")["case"]) == ["1", "2", "3", "4"]


def test_results_of_another_kind_are_not_gone_on_from(tmp_path):
    path = tmp_path / "other.ecsv"
    path.write_text("x\n", encoding="utf-8")
    with pytest.raises(SystemExit, match="holds other results"):
        run([1], path)
    assert path.read_text(encoding="utf-8") == "x\n"
