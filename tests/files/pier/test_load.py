"""The pier file: the demo is whole, every problem is told in one go, nothing ends in a traceback."""

import pytest
from astropy import units as u

from planner.errors import InvalidInputError
from planner.files.equipment.start import MORE_KEYS, begin_file
from planner.files.own_files import packaged_data
from planner.files.pier import check_pier, load_pier, pier_path
from planner.files.pier.load import parse_pier
from planner.pier import balance

DEMO = packaged_data("pier.toml").read_text()


def problems_of(text):
    setup, problems = parse_pier(text, file="pier.toml")
    assert (setup is None) == bool(problems)
    return [str(problem) for problem in problems]


def test_the_demo_is_whole():
    setup = load_pier(packaged_data("pier.toml"))
    assert setup.is_demo
    assert check_pier(packaged_data("pier.toml")) == []
    for part in ("assembly", "tree", "column"):
        assert setup.require(part) is getattr(setup, part)
    assert setup.latitude == 47.4 * u.deg
    assert setup.tree.supply.capacity == 100 * u.A * u.h
    # The column carries what the balance adds up to, unless the file says otherwise.
    assert setup.loads.mass == balance(setup.assembly).pier_load
    other, _ = parse_pier(DEMO.replace('[loads]', '[loads]\nmass = "70 kg"'), file="pier.toml")
    assert other.loads.mass == 70 * u.kg
    assert not other.is_demo


def test_the_users_own_file_comes_before_the_demo(tmp_path, monkeypatch):
    monkeypatch.setattr("platformdirs.user_config_path", lambda *names, **more: tmp_path)
    assert pier_path() == packaged_data("pier.toml")
    (tmp_path / "pier.toml").write_text('[column]\nheight = "1 m"\nwidth = "200 mm"\nwall = "5 mm"\n')
    setup = load_pier()
    assert not setup.is_demo
    assert setup.assembly is None
    with pytest.raises(InvalidInputError, match=r"does not describe the tree\. Add \[supply\]"):
        setup.require("tree")


def test_every_problem_in_one_go():
    broken = (DEMO.replace('mass = "9.5 kg"', 'mass = "9.5"').replace("humidity = 0.9", "humidity = 90")
              .replace('cross_section = "1 mm2"', 'cross_section = "1.2 mm2"', 1)
              .replace('wall = "5 mm"', 'wal = "5 mm"').replace('kind = "pad"', 'kind = "bog"')
              .replace('end = "460 mm"', 'end = "100 mm"'))
    found = problems_of(broken)
    assert len(found) == 6
    text = "\n".join(found)
    assert 'pier.toml: tube "tube".mass = "9.5": must be a number with a unit like kg' in text
    assert "pier.toml: night.humidity = 90: must be at most 1" in text
    assert "must be of the standard series" in text
    assert "pier.toml: column.wal = \"5 mm\": is not a key of this table. Did you mean wall" in text
    assert 'pier.toml: footing.kind = "bog": must be one of rigid, pad, slab, suspended floor' in text
    assert 'bar.end = "100 mm": must be more than bar.start, 140 mm' in text
    assert all("\n" not in line for line in found)


def test_the_first_problem_says_how_many_more(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(DEMO.replace("humidity = 0.9", "humidity = 90").replace('wall = "5 mm"', 'wal = "5 mm"'))
    with pytest.raises(InvalidInputError, match=r'\(1 more: "planner pier check" lists them\.\)'):
        load_pier(path)
    assert len(check_pier(path)) == 2


@pytest.mark.parametrize(("change", "line"), [
    (('[mount]\nsaddle_distance = "210 mm"', "[mount]\n#"), "mount.saddle_distance = (missing): must be given"),
    (('feeds = "computer"', 'feeds = "camera"'), "must be fed by one cable, not 2"),
    (('feeds = "computer"', 'feeds = "komputer"'), "must be a hub or a load. Did you mean computer?"),
    (('position = "320 mm"', 'position = "255 mm"'), "overlaps the weight inside it"),
    (('wall = "5 mm"', 'wall = "90 mm"'), 'column.wall = "90 mm": must be less than half the width'),
    (("[column]", "[colum]"), "is not a table of the pier file. Did you mean column?"),
    (("[bar]", "[[bar]]"), "bar = [{'mass': '1.9 kg', "),
    (("[supply]", "[zzz]"), "must be given with [[load]]"),
    (('name = "camera"\nmass', 'mass'), "name = (missing): must be given"),
    (("humidity = 0.9", "humidity = 0.9 0.8"), "is not TOML"),
    (('latitude = "47.4 deg"', 'latitude = "100 deg"'), "latitude = \"100 deg\": must be at most 90 deg"),
    (('rods = 3', 'rods = 2'), "rods = 2: must be 0 or at least 3"),
    (('capacity = "100 Ah"', 'capacity = "100 zz"'), "has no known unit"),
    (('duration = "9 h"', "duration = 9"), 'Write it like "9 h"'),
])
def test_one_mistake_one_line(change, line):
    assert change[0] in DEMO
    found = problems_of(DEMO.replace(*change))
    assert any(line in problem for problem in found), found


@pytest.mark.parametrize("text", ["", "tube = 3", "load = [3]", "[column]", "[[tube]]", "pier = 'x'", "[mount]",
                                  "[supply]\nname='s'\nvoltage='12 V'", "[night]\nduration = '1e999 h'", "a.b.c = 1"])
def test_nothing_ends_in_a_traceback(text):
    _, problems = parse_pier(text, file="pier.toml")
    assert all(": " in str(problem) and "\n" not in str(problem) for problem in problems)
    assert bool(problems) == bool(text)


def test_an_empty_file_is_a_pier_of_which_nothing_is_known():
    setup, problems = parse_pier("", file="pier.toml")
    assert problems == []
    assert (setup.assembly, setup.tree, setup.column) == (None, None, None)


def test_a_missing_file_is_one_line(tmp_path):
    (line,) = check_pier(tmp_path / "none.toml")
    assert line.startswith("pier file = ")
    assert line.endswith("is not there. Check the path.")


MANY_FAULTS = """
[mount]
saddle_distance = "210 mm"
[bar]
start = "100 mm"
end = "300 mm"
[[tube]]
name = "tube"
mass = "9"
along = "0 mm"
turns = true
[[counterweight]]
name = "inner"
mass = "5 kg"
position = "250 mm"
thickness = "40 mm"
[[counterweight]]
name = "outer"
mass = "5 kg"
position = "260 mm"
thickness = "40 mm"
[[counterweight]]
name = "Inner"
mass = "5 kg"
position = "390 mm"
[rotater]
[supply]
name = "battery"
voltage = "12 V"
lowest_voltage = "12.5 V"
volts = 12
[[hub]]
name = "hub"
[[hub]]
name = "other hub"
[[load]]
name = "camera"
power = "10 W"
peak_power = "9 W"
minimum_voltage = "12 V"
maximum_voltage = "11 V"
cold = true
[[cable]]
source = "batery"
feeds = "hub"
length = "1 m"
cross_section = "1 mm2"
[[cable]]
source = "other hub"
feeds = "other hub"
length = "1 m"
cross_section = "1 mm2"
[[cable]]
source = "hub"
feeds = "camra"
length = "1 m"
cross_section = "1.1 mm2"
"""


def test_tree_and_bar_tell_of_all_their_faults_beside_those_of_single_keys():
    found = problems_of(MANY_FAULTS)
    for words in ('tube "tube".mass', 'cross_section = "1.1 mm2"', 'counterweight.name = "inner": is there twice',
                  'counterweight "outer".position = 260.0 mm: overlaps', '"Inner".position = 390.0 mm: must lie on',
                  'cable.source = "batery"', 'cable.feeds = "camra"', 'feeds = "camera": must be fed by one cable',
                  'cable = "other hub": lies on a ring', "rotater", "[rotator] = (missing)", "supply.volts = 12",
                  'supply.lowest_voltage = "12.5 V": must be at most', '"camera".cold', '"camera".peak_power = "9 W"',
                  '"camera".maximum_voltage = "11 V": must be more'):
        assert sum(words in line for line in found) == 1, (words, found)
    assert len(found) == 16


def test_the_starting_file_tells_every_key_and_each_is_accepted(tmp_path):
    text = begin_file("pier", tmp_path / "pier.toml").read_text()
    bare, tables = text[:text.index(MORE_KEYS)], {}
    assert parse_pier(text, file="pier.toml")[1] == []
    table = ""
    for line in text[text.index(MORE_KEYS):].splitlines():
        if line.startswith("# ["):
            table = line[2:]
        elif " = " in line and "]" not in line:
            tables[table, line[4:].split(" = ")[0]] = line[4:].split(": ")[0]
    assert len(tables) > 20
    for (table, key), written in tables.items():
        assert table in bare
        changed = bare.replace(f"{table}\n", f"{table}\n{written}\n", 1)
        assert parse_pier(changed, file="pier.toml")[1] == [], (table, key)
