"""`planner done`: recording a night, showing what is left, and refusing what makes no sense."""

import json
import subprocess
import sys

import pytest

from planner.cli import run
from planner.files.projects import load_projects

FILE = '[[project]]\ntarget = "M 81"\nwanted = {L = "8 h", Ha = "6 h"}\n'


def _run(capsys, *words):
    code = run([str(word) for word in words])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


@pytest.fixture
def path(tmp_path):
    file = tmp_path / "projects.toml"
    file.write_text(FILE)
    return file


@pytest.mark.parametrize("name", [["M", "81"], ["m81"], ["NGC 3031"], ["Bode's", "Galaxy"]])
def test_a_night_is_recorded_under_any_name_of_the_target(capsys, path, name):
    code, out, err = _run(capsys, "done", *name, "--filter", "ha", "--subs", 24, "--sub-exposure", "300s",
                          "--night", "2026-11-03", "--counted", "1.5 h", "--project", path)
    assert code == 0
    assert "Recorded in" in err
    assert "4.5" in out  # 6 h wanted, 24 × 300 s = 2 h open count for 1.5 h
    project = load_projects(path).projects[0]
    assert project.done[0].filter == "Ha"
    assert project.done_time("Ha").value == pytest.approx(2)
    assert project.left("Ha").value == pytest.approx(4.5)
    assert len(load_projects(path).projects) == 1


def test_json_counts_what_is_left(capsys, path):
    _run(capsys, "done", "M81", "--filter", "L", "--hours", "90 min", "--night", "2026-11-03", "--counted", "1 h",
         "--project", path)
    code, out, _ = _run(capsys, "done", "--project", path, "--json")
    document = json.loads(out)
    assert code == 0
    assert document["projects"][0]["filters"][0] == {"filter": "L", "wanted_h": 8, "done_h": 1.5, "counted_h": 1,
                                                           "left_h": 7}
    assert document["projects"][0]["done"][0]["counted_h"] == 1
    assert document["projects"][0]["done"][0]["night"] == "2026-11-03"


def test_a_second_record_of_a_night_is_added_and_said(capsys, path):
    words = ["done", "M81", "--filter", "L", "--hours", "1 h", "--night", "2026-11-03", "--project", path]
    assert "already" not in _run(capsys, *words)[2]
    assert "There was a record for L on 2026-11-03 already" in _run(capsys, *words)[2]
    assert load_projects(path).projects[0].done_time("L").value == 2


def test_without_a_night_it_is_the_last_one(capsys, path):
    assert _run(capsys, "done", "M81", "--filter", "L", "--hours", "1 h", "--project", path)[0] == 0
    assert load_projects(path).projects[0].done[0].night is not None


def test_a_file_is_begun_with_hours_wanted(capsys, tmp_path):
    path = tmp_path / "mine.toml"
    words = ["done", "horsehead", "--filter", "Ha", "--hours", "2 h", "--night", "2026-11-03", "--project", path]
    code, _, err = _run(capsys, *words)
    assert code == 2
    assert "--wanted" in err
    assert not path.exists()
    assert _run(capsys, *words, "--wanted", "6 h")[0] == 0
    project = load_projects(path).projects[0]
    # Low in the sky and, late in the night, in moonlight: less than the 2 h on the clock.
    assert 0 < project.counted_time("Ha").value < 2
    assert project.left("Ha").value == pytest.approx(6 - project.counted_time("Ha").value)


@pytest.mark.parametrize(("more", "said"), [
    ([], "1.00 h open count for 0."), (["--start", "23:00"], "from 23:00 CET to"),
    (["--rig", "galaxies"], "in its best stretch of that night"),
    (["--counted", "0.5 h"], "Recorded in")])
def test_a_night_counts_for_what_its_sky_was_worth(capsys, path, more, said):
    code, _, err = _run(capsys, "done", "M81", "--filter", "L", "--hours", "1 h", "--night", "2026-11-10", *more,
                        "--project", path)
    assert code == 0
    assert said in err
    done = load_projects(path).projects[0].done[0]
    assert (done.counted is None) == ("paddock" in more)
    assert done.counted is None or 0 < done.counted.value < 1


def test_hours_beyond_those_in_which_the_target_is_clear_are_recorded_but_count_nothing(capsys, path):
    words = ["done", "M81", "--filter", "L", "--night", "2026-11-10", "--start", "02:00", "--project", path]
    for hours in ("6 h", "9 h"):  # dark from 02:00 until 05:10
        _, _, err = _run(capsys, *words, "--hours", hours)
        assert "M 81 stood clear of limits and skyline for 3.2 h from there" in err
        assert "no more than these count. Was it clear for longer, say --counted." in err
    first, second = load_projects(path).projects[0].done
    assert (first.time.value, second.time.value) == (6, 9)
    assert first.counted == second.counted


def test_what_was_taken_lower_than_usual_counts_where_that_is_said(capsys, path):
    words = ["done", "NGC 253", "--filter", "L", "--wanted", "4 h", "--hours", "1 h", "--night", "2026-11-10",
             "--project", path]  # 17 deg high from there at most
    assert "Correct target, --night, --site or --lowest-altitude" in _run(capsys, *words)[2]
    code, _, err = _run(capsys, *words, "--lowest-altitude", "12 deg")
    assert (code, "1.00 h open count for" in err) == (0, True)


def test_moonlight_counts_less(capsys, path):
    for night in ("2026-11-10", "2026-11-24"):  # Moon 3 % and 100 % lit
        _run(capsys, "done", "M81", "--filter", "L", "--hours", "1 h", "--night", night, "--project", path)
    dark, lit = (done.counted.value for done in load_projects(path).projects[0].done)
    assert 5 * lit < dark


def test_the_demo_is_shown_without_an_own_file(capsys):
    code, out, err = _run(capsys, "done")
    assert code == 0
    assert "NGC 7331" in out
    assert "demo" in err


RECORD = ["--filter", "L", "--hours", "1 h", "--night", "2026-11-03"]
SILLY = [
    (["M81", *RECORD, "--start", "noonish"], "--start = noonish: must be a time of day. Write it like 22:10."),
    (["M81", *RECORD, "--start", "14:00"], "start = 14:00 CET: must lie where the target is up in the dark. That was"),
    (["M81", *RECORD, "--start", "22:00", "--counted", "1 h"], "--start = 22:00: does not go with --counted"),
    (["M81", *RECORD, "--counted", "25 h"], "--counted = 25 h: must be at most 24 h"),
    (["--filter", "L"], "--filter = L: needs a target beside it"),
    (["M81", "--hours", "1 h"], "--filter = (none): must be given"),
    (["M81", "--filter", "L"], "must be given, or --subs and --sub-exposure together"),
    (["M81", "--filter", "L", "--subs", "3"], "must be given, or --subs and --sub-exposure together"),
    (["M81", *RECORD, "--subs", "3"], "must be given, or --subs and --sub-exposure together"),
    (["M81", "--filter", "L", "--hours", "2 x"], "has no known unit, must be a number with a unit like h"),
    (["M81", "--filter", "L", "--hours", "0 h"], "must be more than 0 h"),
    (["M81", "--filter", "L", "--hours", "25 h"], "must be at most 24 h"),
    (["M81", "--filter", "L", "--subs", "-3", "--sub-exposure", "60 s"], "must be more than 0"),
    (["M81", "--filter", "L", "--subs", "9000", "--sub-exposure", "60 s"], "must be at most 24 h"),
    (["M81", "--filter", "L", "--subs", "9", "--sub-exposure", "60 mag"], "must have a unit like s"),
    (["M81", "--filter", "XX", "--hours", "1 h"], "is neither in the project nor in the equipment"),
    (["M81", "--filter", "L", "--hours", "1 h", "--night", "2090-01-01"], "must not lie in the future"),
    (["M81", "--filter", "L", "--hours", "1 h", "--night", "soon"], "must be a date"),
    (["M 82", *RECORD], "has no project"), (["no such thing", *RECORD], "is not in the catalogue"),
    (["M81", *RECORD, "--wanted", "much"], "must be a number with a unit like h"),
]


@pytest.mark.parametrize(("words", "line"), SILLY, ids=[" ".join(words) for words, _ in SILLY])
def test_bad_input_is_one_line_and_writes_nothing(capsys, path, words, line):
    code, out, err = _run(capsys, "done", *words, "--project", path)
    assert (code, out) == (2, "")
    assert line in err
    assert err.count("\n") == 1
    assert path.read_text() == FILE


def test_the_demo_cannot_be_recorded_to(capsys):
    from planner.files.own_files import packaged_data

    code, _, err = _run(capsys, "done", "NGC7331", *RECORD, "--project", packaged_data("projects.toml"))
    assert code == 2
    assert "is the packaged demo and cannot be changed" in err


def _open_hours(path, band="L"):
    return sum(item.done_time(band).value for item in load_projects(path).projects)


def test_a_record_with_an_id_may_be_tried_again(capsys, tmp_path):
    path = tmp_path / "p.toml"
    words = ["done", "M81", *RECORD, "--counted", "1 h", "--project", path, "--id", "script-7"]
    assert _run(capsys, *words, "--wanted", "8 h")[0] == 0
    for _ in range(3):
        assert _run(capsys, *words)[0] == 0
    assert _open_hours(path) == 1
    _run(capsys, *[*words[:-1], "script-8"])
    assert _open_hours(path) == 2


def test_the_answer_may_break_and_the_record_still_counts_once(tmp_path):
    path = tmp_path / "p.toml"
    words = [sys.executable, "-m", "planner", "done", "M81", *RECORD, "--counted", "1 h", "--wanted", "8 h",
             "--project", str(path), "--id", "x"]
    for _ in range(2):
        child = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        child.stdout.close()
        assert child.wait() == 0
    assert _open_hours(path) == 1


def test_replace_puts_a_record_in_the_place_of_the_nights(capsys, tmp_path):
    path = tmp_path / "p.toml"
    words = ["done", "M81", "--filter", "L", "--night", "2026-11-03", "--counted", "1 h", "--project", path]
    _run(capsys, *words, "--hours", "1 h", "--wanted", "8 h")
    _run(capsys, *words, "--hours", "2 h")
    assert _open_hours(path) == 3
    _run(capsys, *words, "--hours", "2.5 h", "--replace")
    assert _open_hours(path) == 2.5


def test_undo_takes_the_last_fitting_record_out(capsys, tmp_path):
    path = tmp_path / "p.toml"
    for night, hours in (("2026-11-01", "1 h"), ("2026-11-02", "2 h"), ("2026-11-03", "4 h")):
        _run(capsys, "done", "M81", "--filter", "L", "--night", night, "--hours", hours, "--counted", "1 h", "--wanted",
             "8 h", "--project", path)
    code, _, err = _run(capsys, "done", "m81", "--undo", "--night", "2026-11-02", "--project", path)
    assert code == 0
    assert "2.00 h in L on 2026-11-02" in err
    assert _open_hours(path) == 5
    _run(capsys, "done", "M 81", "--undo", "--project", path)
    assert _open_hours(path) == 1
    _run(capsys, "done", "M 81", "--undo", "--project", path)
    code, _, err = _run(capsys, "done", "M 81", "--undo", "--project", path)
    assert code == 2
    assert "has no such record" in err


@pytest.mark.parametrize("words", [["M81", "--undo", "--hours", "1 h"], ["--undo"], ["M81", "--undo"],
                                   ["--id", "x"], ["--replace"]])
def test_undo_and_id_are_refused_where_they_make_no_sense(capsys, words):
    code, _, err = _run(capsys, "done", *words)
    assert code == 2
    assert err.count("\n") == 1
    assert "True" not in err  # an option without a value stands by its name alone


def test_a_target_that_was_not_up_is_refused_unless_one_knows_better(capsys, path):
    # M 81 at +69 deg never rises above 30 deg at 32 deg south.
    words = ["done", "M81", "--filter", "L", "--hours", "1 h", "--night", "2026-11-03", "--project", path]
    code, _, err = _run(capsys, *words, "--site", "paddock")
    assert code == 2
    assert 'was not up in the dark at "paddock" on the night of 2026-11-03' in err
    assert path.read_text() == FILE
    assert _run(capsys, *words, "--site", "paddock", "--counted", "0.5 h")[0] == 0


MOSAIC = FILE + """
[[project]]
target = "NGC 7000"
wanted = {Ha = "4 h"}
mosaic = true
done = [{night = 2026-10-01, filter = "Ha", time = "3 h", counted = "1.2 h"}]
"""
NIGHT = ("--filter", "Ha", "--hours", "2 h", "--counted", "1 h", "--night", "2026-11-03")


def test_a_mosaic_is_told_with_all_panels_and_hours_without_one_are_shared(capsys, path):
    path.write_text(MOSAIC)
    code, out, err = _run(capsys, "done", "--project", path, "--json")
    parts = [item for item in json.loads(out)["projects"] if item["target"].startswith("NGC 7000 panel")]
    assert code == 0
    assert [item["target"].split()[-1] for item in parts] == [str(number + 1) for number in range(len(parts))]
    assert len(parts) > 1
    assert [item["filters"][0]["counted_h"] for item in parts] == pytest.approx([1.2 / len(parts)] * len(parts))
    assert f"Ha 1.2 h counted without a panel are shared alike by all {len(parts)}" in err


@pytest.mark.parametrize("name", ["M 33 panel 9", "M 81 panel 9", "M 81 all panels"])
def test_a_panel_of_what_is_no_mosaic_is_refused(capsys, path, name):
    # M 33 is no project yet, M 81 one that is no mosaic: its panel 9 was written into the file.
    code, _, err = _run(capsys, "done", name, "--filter", "L", "--hours", "1 h", "--counted", "1 h", "--wanted", "8 h",
                        "--night", "2026-11-03", "--project", path)
    assert code == 2
    assert len(err.strip().splitlines()) == 1
    assert "no mosaic" in err
    assert path.read_text() == FILE


def test_a_mosaic_that_no_catalogue_knows_is_said_and_hides_no_other(capsys, path):
    path.write_text(FILE + '[[project]]\ntarget = "Gibberish 12"\nwanted = {L = "8 h"}\nmosaic = true\n')
    code, out, err = _run(capsys, "done", "--project", path)
    assert code == 0
    assert "M 81" in out
    assert "target = Gibberish 12: is not in the catalogue" in err
    code, _, err = _run(capsys, "done", "Gibberish 12 panel 2", *NIGHT[2:], "--filter", "L", "--project", path)
    assert code == 2
    assert "target = Gibberish 12: is not in the catalogue" in err


def test_a_record_of_a_mosaic_says_its_panel(capsys, path):
    path.write_text(MOSAIC)
    code, _, err = _run(capsys, "done", "NGC", "7000", *NIGHT, "--project", path)
    assert code == 2
    assert len(err.strip().splitlines()) == 1
    assert "NGC 7000 panel 1" in err
    assert _run(capsys, "done", "NGC 7000 panel 100", *NIGHT, "--project", path)[0] == 2
    assert path.read_text() == MOSAIC
    assert _run(capsys, "done", "NGC 7000 panel 2", *NIGHT, "--project", path)[0] == 0
    assert _run(capsys, "done", "NGC 7000 all panels", *NIGHT, "--project", path)[0] == 0
    assert [night.panel for night in load_projects(path).projects[1].done] == [None, 2, None]
    assert _run(capsys, "done", "NGC 7000 panel 2", "--undo", "--project", path)[0] == 0
    assert [night.panel for night in load_projects(path).projects[1].done] == [None, None]
