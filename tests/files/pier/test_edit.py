"""Changing the pier file: notes stay, what others changed stays, what is applied reads back as it was meant."""

import copy
from dataclasses import replace

import pytest
from astropy import units as u

from planner.errors import InvalidInputError
from planner.files.own_files import packaged_data
from planner.files.pier import load_pier
from planner.files.pier.edit import differences, example_share, merged, pier_tables, try_pier, with_changes, write_pier
from planner.pier import plan_balance


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "pier.toml"
    path.write_text(packaged_data("pier.toml").read_text(encoding="utf-8"), encoding="utf-8")
    return path


def test_rows_come_go_and_change_and_all_notes_stay(file):
    before, start = file.read_text().splitlines(), pier_tables(file)
    new = copy.deepcopy(start)
    new["tube"][6]["mass"] = "1.1 kg"
    del new["tube"][2]
    new["tube"].append({"name": "finder", "mass": "0.4 kg", "along": "80 mm"})
    new["column"]["wall"] = "6 mm"
    del new["footing"]["frost_depth"]
    write_pier(file, start, new)
    after = file.read_text().splitlines()
    assert pier_tables(file) == new
    # Taken out: the focuser's table and the frost depth. Added: a table of three figures.
    lost, came = [line for line in before if line not in after], [line for line in after if line not in before]
    assert lost == ['name = "focuser motor"', 'mass = "0.3 kg"', 'across = "40 mm"', 'height = "290 mm"',
                    'width = "50 mm"', 'wall = "5 mm"',
                    'frost_depth = "0.8 m"                  # the local code has yours']
    assert came == ['mass = "1.1 kg"', 'name = "finder"', 'mass = "0.4 kg"', 'along = "80 mm"', 'wall = "6 mm"']
    assert file.with_name("pier.toml.bak").read_text().splitlines() == before


def test_a_table_that_was_not_there_is_added_and_one_that_is_emptied_goes(file):
    file.write_text('# my column\n[column]\nheight = "1 m"\nwidth = "200 mm"\n\n[loads]\nmass = "30 kg"\n')
    start = pier_tables(file)
    new = {**copy.deepcopy(start), "loads": {}, "footing": {"kind": "slab"}}
    write_pier(file, start, new)
    assert pier_tables(file) == new
    assert file.read_text().startswith("# my column\n")


def test_both_changes_stay_and_what_both_changed_is_told():
    start = pier_tables(packaged_data("pier.toml"))
    mine, theirs = copy.deepcopy(start), copy.deepcopy(start)
    mine["tube"][0]["mass"], theirs["tube"][0]["mass"] = "9 kg", "8 kg"
    mine["load"].append({"name": "fan", "power": "1 W"})
    theirs["tube"][1]["mass"], theirs["night"]["humidity"] = "2 kg", 0.5
    del theirs["tube"][2]
    both, lost = merged(start, mine, theirs)
    assert lost == ["tube “tube” mass: 9.5 kg became 8 kg elsewhere, yours is 9 kg."]
    assert both["tube"] == [mine["tube"][0], theirs["tube"][1], *start["tube"][3:]]
    assert (both["load"], both["night"]) == (mine["load"], theirs["night"])


def test_a_file_changed_since_is_not_written(file):
    start = pier_tables(file)
    file.write_text(file.read_text().replace('wall = "5 mm"', 'wall = "7 mm"'))
    with pytest.raises(InvalidInputError, match="was changed elsewhere"):
        write_pier(file, start, {**start, "night": {"humidity": 0.3}})
    assert 'wall = "7 mm"' in file.read_text()


def test_the_demo_and_what_has_problems_are_refused(file):
    demo = packaged_data("pier.toml")
    start = pier_tables(demo)
    with pytest.raises(InvalidInputError, match="packaged demo"):
        write_pier(demo, start, start)
    before = file.read_text()
    with pytest.raises(InvalidInputError, match="less than half the width"):
        write_pier(file, start, {**start, "column": {**start["column"], "wall": "100 mm"}})
    assert file.read_text() == before


def test_what_is_applied_reads_back_as_it_was_meant(file):
    setup, tables = load_pier(file), pier_tables(file)
    heavy = replace(setup.assembly.counterweights[2], mass=6 * u.kg)
    new = replace(heavy, name="fourth", mass=2 * u.kg, position=200 * u.mm)
    cable = replace(setup.tree.cables[0], cross_section=4 * u.mm**2, fuse=None)
    wanted = replace(setup, footing=replace(setup.footing, width=1.1 * u.m), assembly=replace(
        setup.assembly, counterweights=(*setup.assembly.counterweights[:2], heavy, new)), tree=replace(
        setup.tree, cables=(cable, *setup.tree.cables[1:])))
    changed = with_changes(tables, setup, wanted)
    read, problems = try_pier(file, changed)
    assert problems == []
    assert replace(read, loads=setup.loads) == wanted
    assert [row[0] for row in differences(tables, changed)] == [
        "footing width", "counterweight “outer” mass", "counterweight “fourth”",
        "cable “battery → saddle hub” cross section", "cable “battery → saddle hub” fuse"]


def test_figures_of_the_example_are_counted(file):
    same, count = example_share(pier_tables(file))
    assert same == count > 80
    file.write_text('[column]\nheight = "1.2 m"\nwidth = "200 mm"\n')
    assert example_share(pier_tables(file)) == (1, 2)


def test_the_axis_of_the_camera_is_written_with_the_tube_that_slid(tmp_path):
    path = tmp_path / "pier.toml"
    path.write_text(packaged_data("pier.toml").read_text().replace('along = "-70 mm"', 'along = "-120 mm"'))
    tables = pier_tables(path)
    before, _ = try_pier(path, tables)
    plan = plan_balance(before.assembly)
    new = with_changes(tables, before, replace(before, assembly=plan.moved))
    shift = plan.moves[0].shift.value
    assert shift > 20
    assert new["rotator"]["along"] == f"{270 + shift:g} mm"
    after, problems = try_pier(path, new)
    assert problems == []
    assert plan_balance(after.assembly).moves == ()
