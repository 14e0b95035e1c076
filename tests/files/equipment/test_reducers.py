"""Reducers in the equipment file: read, named, and refused in one line each."""

import datetime
from dataclasses import replace

import pytest
from astropy import units as u
from files.equipment_text import GOOD, written

from planner.errors import InvalidInputError
from planner.files.equipment import check_equipment, load_equipment
from planner.files.equipment.edit import remove_equipment_table, write_equipment_table
from planner.files.own_files import packaged_data

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


def with_it_on_the_rig(tmp_path, changed=REDUCER):
    path = written(tmp_path, "[[camera]]", changed + "[[camera]]")
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("[[rig]]", '[[rig]]\nreducer = "Flat"', 1), encoding="utf-8")
    return path


def test_a_rig_works_behind_its_reducer(tmp_path):
    equipment = load_equipment(with_it_on_the_rig(tmp_path))
    rig = equipment.rig()
    assert rig.reducer == equipment.reducers[0]
    assert rig.telescope.focal_length == 1600 * u.mm
    assert rig.telescope.transmission == pytest.approx(0.95 * equipment.telescopes[0].transmission)
    assert equipment.telescopes[0].focal_length == 2000 * u.mm
    assert rig.telescope.expanding_length == 2000 * u.mm  # the tube does not shrink


def test_a_reducer_that_does_not_fit_the_rig_is_named(tmp_path):
    other = REDUCER.replace('["LONG "]', '["short"]') + """
[[telescope]]
name = "short"
aperture = "80 mm"
focal_length = "400 mm"
"""
    (problem,) = check_equipment(with_it_on_the_rig(tmp_path, other))
    assert 'reducer = "flat": does not go onto the telescope long. It goes onto: short.' in problem


def test_an_unknown_reducer_of_a_rig_is_named(tmp_path):
    path = with_it_on_the_rig(tmp_path)
    path.write_text(path.read_text(encoding="utf-8").replace('"Flat"', '"flaat"'), encoding="utf-8")
    (problem,) = check_equipment(path)
    assert 'reducer = "flaat": names no [[reducer]] of this file. Did you mean flat?' in problem


def test_a_rig_follows_the_name_of_its_reducer_and_keeps_it(tmp_path):
    path = with_it_on_the_rig(tmp_path)
    write_equipment_table(path, "reducer", "flat", {"name": "flattener"})
    assert load_equipment(path).rig().reducer.name == "flattener"
    with pytest.raises(InvalidInputError, match="flattener"):
        remove_equipment_table(path, "reducer", "flattener")


def test_an_advice_behind_a_reducer_is_that_of_the_telescope_described_so():
    from planner.files.targets import find_target
    from planner.session.advice.answer import advise

    demo = load_equipment(packaged_data("equipment.toml"))
    rig, reducer = demo.rig("galaxies"), next(item for item in demo.reducers if item.name == "0.7 reducer")
    bare, behind = rig, replace(rig, telescope=reducer.behind(rig.telescope), reducer=reducer)
    described = replace(rig, telescope=replace(reducer.behind(rig.telescope), name="as described"))
    target, site, night = find_target("NGC 7331"), demo.site(), datetime.date(2026, 11, 10)
    best = [advise(target, one, site, night).better for one in (bare, behind, described)]
    speeds = [float(one.speed) for one in best]
    assert best[1].recommended == best[2].recommended
    assert speeds[1] == speeds[2] != speeds[0]
