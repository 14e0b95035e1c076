"""The project file: what it may hold, the line of what it may not, and how a night gets into it."""

import datetime
import difflib
import subprocess
import sys
import tomllib

import pytest
from astropy import units as u

from planner.errors import InvalidInputError
from planner.files.own_files import packaged_data
from planner.files.projects import load_projects, user_projects_path
from planner.files.projects.edit import record_night, set_wanted
from planner.files.projects.load import name_key, parse_projects
from planner.session.projects.project import DoneNight, Project

NIGHT = datetime.date(2026, 11, 3)
FILE = """\
# my own notes

[[project]]
target = "NGC 7331"    # the galaxy
wanted = {L = "8 h", R = "90 min"}
done = [
    {night = 2026-10-12, filter = "L", subs = 40, sub_exposure = "180 s"},  # good seeing
    {night = 2026-10-13, filter = "l", time = "1.5 h"},
]

# the winter one
[[project]]
target = "IC 434"
priority = 2
wanted = {Ha = "6 h"}

# the end
"""


def done(band="L", hours=2.0, **more):
    return DoneNight(night=NIGHT, filter=band, time=hours * u.h, **more)


@pytest.fixture
def path(tmp_path):
    file = tmp_path / "projects.toml"
    file.write_text(FILE)
    return file


def test_a_file_is_read(path):
    first, second = load_projects(path).projects
    assert (first.target, first.priority, second.priority) == ("NGC 7331", 1.0, 2.0)
    # 40 × 180 s = 2 h, and 1.5 h under another spelling of the filter.
    assert first.done_time("L").value == pytest.approx(3.5)
    assert first.left("L").value == pytest.approx(4.5)
    assert first.left("R").value == pytest.approx(1.5)
    assert first.left("B").value == 0
    assert second.left("Ha") == 6 * u.h


def test_more_than_wanted_leaves_nothing():
    project = Project(target="a", wanted={"L": 1 * u.h}, done=(done(hours=3.0),))
    assert project.left("L") == 0 * u.h
    assert project.filters == ("L",)


def test_the_demo_stands_in_until_there_is_an_own_file(monkeypatch, tmp_path):
    monkeypatch.setattr("platformdirs.user_config_path", lambda *names, **more: tmp_path)
    demo = load_projects()
    assert demo.is_demo
    assert len(demo.projects) >= 3
    (tmp_path / "projects.toml").write_text(FILE)
    assert not load_projects().is_demo


def test_the_demo_names_what_the_catalogue_and_the_demo_rigs_know():
    from planner.files import find_target, load_equipment

    filters = {band.name for rig in load_equipment(None).rigs for band in rig.filters}
    for project in load_projects(packaged_data("projects.toml")).projects:
        find_target(project.target)
        assert set(project.filters) <= filters


BAD = [
    ('target = "NGC 7331"', 'traget = "NGC 7331"', 4, "is not a key of a project. Did you mean target"),
    ('target = "NGC 7331"', "target = 7331", 4, "must be a text"),
    ('target = "IC 434"', 'target = "ngc7331"', 13, "is given twice"),
    ('R = "90 min"', 'R = "90"', 5, "must be a number with a unit like h"),
    ('R = "90 min"', 'R = "90 mag"', 5, "wanted.R = 90 mag: must have a unit like h"),
    ('R = "90 min"', 'R = "-3 h"', 5, "must be more than 0 h"),
    ('R = "90 min"', 'R = "nan h"', 5, "must be a finite value"),
    ('wanted = {Ha = "6 h"}', 'wanted = "6 h"', 15, "must give hours by filter"),
    ("priority = 2", "priority = 0", 14, "must be more than 0"),
    ("priority = 2", 'priority = "high"', 14, "must be a finite number"),
    ("night = 2026-10-13", 'night = "2026-10-13"', 8, "must be a date without quotes"),
    ("night = 2026-10-13, ", "", 8, "must be a date without quotes"),
    ('filter = "l", ', "", 8, "must be the name of a filter"),
    ('time = "1.5 h"', 'tim = "1.5 h"', 8, "done.tim = 1.5 h: is not a key of a night. Did you mean time"),
    ('time = "1.5 h"', 'time = "30 h"', 8, "must be at most 24 h"),
    ('time = "1.5 h"', 'time = "1.5 h", counted = "-1 h"', 8, "done.counted = -1 h: must be at least 0"),
    (', time = "1.5 h"', "", 8, "must give either time, or subs and sub_exposure"),
    ("subs = 40, ", "", 7, "must give either time, or subs and sub_exposure"),
    ("subs = 40", "subs = 4.5", 7, "must be a whole number"),
    ("subs = 40", "subs = 4000", 7, "must be at most 24 h"),
    ("subs = 40", 'time = "2 h", subs = 40', 7, "must give either time, or subs and sub_exposure"),
    ("# the end", "[other]", 17, "is not a table of the project file"),
    ("# the winter one", "x = ", 11, "is not TOML"),
]


@pytest.mark.parametrize(("old", "new", "line", "message"), BAD, ids=[case[1] or "left out" for case in BAD])
def test_a_damaged_file_is_refused_with_its_line_and_never_written(path, old, new, line, message):
    assert old in FILE
    damaged = FILE.replace(old, new, 1)
    path.write_text(damaged)
    for use in (lambda: load_projects(path), lambda: record_night(path, "IC 434", done("Ha"))):
        with pytest.raises(InvalidInputError) as caught:
            use()
        assert message in str(caught.value)
        assert f"line {line}" in str(caught.value)
        assert "\n" not in str(caught.value)
    assert path.read_text() == damaged
    assert not path.with_name("projects.toml.bak").exists()


@pytest.mark.parametrize("text", ['project = "NGC 7331"', "project = [1]", '[project]\ntarget = "a"', "a = 1"])
def test_other_shapes_are_refused(tmp_path, text):
    file = tmp_path / "p.toml"
    file.write_text(text)
    with pytest.raises(InvalidInputError, match=r"p\.toml"):
        load_projects(file)


def test_an_empty_file_holds_no_projects():
    assert parse_projects("# nothing yet\n", file="f") == ()


def test_a_night_is_added_and_everything_else_stays(path):
    record_night(path, "ngc7331", done("R", 1.25))
    record_night(path, "IC 434", done("Ha", 2.0, subs=24, sub_exposure=300 * u.s, counted=1.5 * u.h))
    changes = [line for line in difflib.ndiff(FILE.splitlines(), path.read_text().splitlines()) if line[0] in "+-"]
    assert changes == ['+     {night = 2026-11-03, filter = "R", time = "1.25 h"},', "+ done = [",
                       '+     {night = 2026-11-03, filter = "Ha", subs = 24, sub_exposure = "300 s", '
                       'counted = "1.5 h"},', "+ ]"]
    first, second = load_projects(path).projects
    assert first.done_time("R").value == pytest.approx(1.25)
    assert second.done_time("Ha").value == pytest.approx(2.0)
    assert second.left("Ha").value == pytest.approx(4.5)  # what counts, of 6
    before = parse_projects(path.with_name("projects.toml.bak").read_text(), file="bak")
    assert before[1].done == ()
    assert before[0].done_time("R").value == pytest.approx(1.25)


def test_a_night_of_a_panel_is_kept_with_its_number(path):
    path.write_text(FILE.replace("priority = 2", "mosaic = true"))
    record_night(path, "IC 434", done("Ha", panel=2))
    mosaic = load_projects(path).of("IC 434 panel 2")
    assert mosaic.mosaic
    assert [night.panel for night in mosaic.done] == [2]


def test_a_new_target_needs_hours_wanted(path):
    with pytest.raises(InvalidInputError, match=r'has no project\. Did you mean NGC 7331'):
        record_night(path, "NGC 7332", done())
    assert path.read_text() == FILE
    record_night(path, 'M 81 "the tidy one"', done(), wanted=5 * u.h)
    project = load_projects(path).projects[2]
    assert (project.target, project.left("L")) == ('M 81 "the tidy one"', 3 * u.h)
    assert path.read_text().startswith(FILE.rstrip())


def test_wanted_is_set_in_place(path):
    record_night(path, "NGC 7331", done("B"), wanted=2.5 * u.h)
    assert 'wanted = {L = "8 h", R = "90 min", B = "2.5 h"}' in path.read_text()


def test_a_file_is_begun_only_when_hours_are_wanted(tmp_path):
    path = tmp_path / "new folder" / "mine.toml"
    with pytest.raises(InvalidInputError, match="is not there"):
        record_night(path, "M 81", done())
    assert not path.exists()
    record_night(path, "M 81", done(), wanted=4 * u.h)
    assert tomllib.loads(path.read_text())["project"][0]["wanted"] == {"L": "4 h"}
    assert path.read_text().startswith("#")


def test_the_demo_is_never_written():
    before = packaged_data("projects.toml").read_bytes()
    with pytest.raises(InvalidInputError, match="is the packaged demo and cannot be changed"):
        record_night(packaged_data("projects.toml"), "NGC 7331", done())
    assert packaged_data("projects.toml").read_bytes() == before


def test_a_folder_in_its_place_is_named(tmp_path):
    with pytest.raises(InvalidInputError, match="must be a file"):
        record_night(tmp_path, "M 81", done(), wanted=1 * u.h)


def test_windows_line_ends_survive(path):
    path.write_bytes(FILE.replace("\n", "\r\n").encode())
    record_night(path, "IC 434", done("Ha"))
    assert load_projects(path).projects[1].done_time("Ha") == 2 * u.h


WRITER = """
import datetime, pathlib, sys
from astropy import units as u
from planner.files.projects.edit import record_night, set_wanted
from planner.session.projects.project import DoneNight
for _ in range(20):
    record_night(pathlib.Path(sys.argv[1]), "NGC 7331",
                 DoneNight(night=datetime.date(2026, 10, 12), filter="L", time=0.1 * u.h))
"""


def test_two_writers_at_once_lose_nothing(path):
    writers = [subprocess.Popen([sys.executable, "-c", WRITER, str(path)]) for _ in range(2)]
    assert [writer.wait(600) for writer in writers] == [0, 0]  # a lock that hangs, not a slow machine
    assert load_projects(path).projects[0].done_time("L").value == pytest.approx(3.5 + 40 * 0.1)


@pytest.mark.parametrize(("one", "other"), [("NGC 7331", "ngc7331"), (" ic  434", "IC434")])
def test_names_are_compared_loosely(one, other):
    assert name_key(one) == name_key(other)


@pytest.mark.parametrize(("values", "message"), [
    ({"time": 0 * u.h}, "must be more than 0 h"), ({"time": 25 * u.h}, "must be at most 24 h"),
    ({"counted": -1 * u.h}, "must be at least 0"),
    ({"night": "2026-10-12"}, "must be a date"), ({"filter": " "}, "at least one character"),
    ({"night": datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)}, "must be a date")])
def test_silly_nights_are_refused(values, message):
    with pytest.raises(InvalidInputError, match=message):
        DoneNight(**({"night": NIGHT, "filter": "L", "time": 1 * u.h} | values))


def test_the_own_file_lies_beside_the_equipment():
    from planner.files.equipment import user_equipment_path

    assert user_projects_path().parent == user_equipment_path().parent


def test_all_that_is_wanted_is_set_and_what_is_recorded_stays(path):
    before = load_projects(path).projects
    first = before[0]
    record_night(path, first.target, DoneNight(night=datetime.date(2026, 1, 2), filter="L", time=1 * u.h))
    set_wanted(path, {first.target: {}, "M 33": {"L": 3 * u.h}, **{item.target: {} for item in before[1:]}})
    after = load_projects(path)
    assert after.of(first.target).wanted == {}
    assert after.of(first.target).done[-1].time == 1 * u.h
    assert after.of("M 33").wanted_time("l") == 3 * u.h
    assert [item.target for item in after.projects if not item.done and not item.wanted] == []


def test_hours_that_cannot_be_wanted_leave_the_file_as_it_stands(path):
    before = path.read_bytes()
    with pytest.raises(InvalidInputError, match="hours wanted of M 33 in L"):
        set_wanted(path, {"M 33": {"L": -1 * u.h}})
    assert path.read_bytes() == before
