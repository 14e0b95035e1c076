"""Reducers in the equipment file: read, named, and refused in one line each."""

import pytest
from astropy import units as u
from files.equipment_text import GOOD, written

from planner.files.equipment import check_equipment, load_equipment
from planner.files.packaged import packaged_data

REDUCER = '''
[[reducer]]
name = "flat"
factor = 0.8
telescopes = ["LONG "]
'''


def test_a_reducer_is_read_with_the_telescopes_it_fits(tmp_path):
    equipment = load_equipment(written(tmp_path, '[[camera]]', REDUCER + "[[camera]]"))
    (reducer,) = equipment.reducers
    assert reducer.telescopes == equipment.telescopes
    assert reducer.transmission == 0.95
    assert reducer.behind(equipment.telescopes[0]).focal_length == 1600 * u.mm


def test_a_reducer_may_stand_before_its_telescope(tmp_path):
    path = tmp_path / "equipment.toml"
    path.write_text(REDUCER + GOOD, encoding="utf-8")
    assert load_equipment(path).reducers[0].telescopes


def test_without_reducers_there_are_none(tmp_path):
    assert load_equipment(written(tmp_path)).reducers == ()


def test_the_demo_owns_some_and_each_fits_a_telescope():
    demo = load_equipment(packaged_data("equipment.toml"))
    assert len(demo.reducers) == 2
    for reducer in demo.reducers:
        assert any(reducer.fits(telescope) for telescope in demo.telescopes)


@pytest.mark.parametrize(("old", "new", "line"), [
    ("factor = 0.8", "factor = 0", 'reducer "flat".factor = 0: must be at least 0.1'),
    ("factor = 0.8", 'factor = "0.8"', 'reducer "flat".factor = "0.8": must be a finite number'),
    ("factor = 0.8", "", 'reducer "flat".factor = (missing): must be given'),
    ('["LONG "]', '["lnog"]', 'reducer "flat".telescopes = "lnog": names no [[telescope]] of this file. '
                              "Did you mean long?"),
    ('["LONG "]', '"long"', 'reducer "flat".telescopes = "long": must be a list of telescope names'),
    ("factor = 0.8", "factor = 0.8\nfocal_length = 3", 'reducer "flat".focal_length = 3: is not a key'),
])
def test_mistakes_are_named(tmp_path, old, new, line):
    assert old in REDUCER
    path = written(tmp_path, "[[camera]]", REDUCER.replace(old, new) + "[[camera]]")
    problems = check_equipment(path)
    assert len(problems) == 1
    assert line in problems[0]
