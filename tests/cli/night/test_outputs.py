"""What `planner night` writes besides its answer, and what it takes from a project file."""

import json
import os

import pytest

from planner.cli import run
from planner.files.own_files import packaged_data
from planner.files.projects import user_projects_path

NIGHT = ["--night", "2026-09-12"]
PROJECTS = """\
[[project]]
target = "M 31"
priority = 3
wanted = {L = "3 h", XX = "9 h"}
done = [{night = 2026-09-01, filter = "L", time = "2 h"}]

[[project]]
target = "NGC 7000"
wanted = {XX = "5 h"}
"""


def _run(capsys, *words):
    code = run([str(word) for word in words])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_all_outputs_at_once_beside_the_json(capsys, tmp_path):
    files = {name: tmp_path / f"night.{name}" for name in ("ics", "html", "csv")}
    code, out, err = _run(capsys, "night", "NGC", "7331", *NIGHT, "--ics", files["ics"], "--sheet", files["html"],
                          "--csv", files["csv"], "--json")
    assert code == 0
    blocks = json.loads(out)["blocks"]
    assert blocks
    assert all(str(path) in err for path in files.values())
    assert files["ics"].read_bytes().count(b"BEGIN:VEVENT") >= 1 + len(blocks)
    assert files["csv"].read_text().count("\n") == 1 + len(blocks)
    assert files["html"].read_text().count('class="block"') == len(blocks)


def test_nothing_is_overwritten_or_half_written(capsys, tmp_path):
    sheet, table = tmp_path / "s.html", tmp_path / "t.csv"
    table.write_text("mine")
    words = ["night", "NGC7331", *NIGHT, "--sheet", sheet, "--csv", table]
    code, out, err = _run(capsys, *words)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert "is there already. Give another name, or --force" in err
    assert table.read_text() == "mine"
    assert not sheet.exists()
    assert _run(capsys, *words, "--force")[0] == 0
    assert table.read_text().startswith("target,")


@pytest.mark.parametrize(("options", "line"), [
    (["--sheet", "{0}", "--ics", "{0}"], "must be different files"), (["--sheet", "/dev/null/x"], "cannot be written"),
    (["--csv", "/"], "this is a folder"), (["--csv", "/no/such/a.csv"], "that is not there"),
    (["--project", "/no/such.toml"], "is not there"),
])
def test_silly_outputs_are_one_line(capsys, tmp_path, options, line):
    words = [option.format(tmp_path / "a") for option in options]
    code, out, err = _run(capsys, "night", "NGC7331", *NIGHT, *words)
    err = [text for text in err.splitlines() if "demo" not in text]
    assert (code, out, len(err)) == (2, "", 1)
    assert line in err[0]


def test_an_empty_plan_is_written_too(capsys, tmp_path):
    code, _, _ = _run(capsys, "night", "NGC3372", *NIGHT, "--sheet", tmp_path / "s.html", "--ics", tmp_path / "n.ics",
                      "--csv", tmp_path / "n.ecsv")
    assert code == 0
    assert "Never rises at this site." in (tmp_path / "s.html").read_text()
    assert (tmp_path / "n.ics").read_bytes().count(b"BEGIN:VEVENT") == 1


def test_a_project_gives_what_is_left_to_do(capsys, tmp_path):
    file = tmp_path / "p.toml"
    file.write_text(PROJECTS)
    code, out, err = _run(capsys, "night", "--project", file, *NIGHT, "--json")
    document = json.loads(out)
    assert code == 0
    assert {block["target"] for block in document["blocks"]} == {"M 31"}
    assert {block["filter"] for block in document["blocks"]} == {"L"}
    assert "NGC 7000 is left out: the rig" in err
    # 1 h is left of 3 h: fewer blocks than the same night without its project.
    free = json.loads(_run(capsys, "night", "M31", *NIGHT, "--json")[1])
    minutes = [sum(block["sub_exposure_s"] * block["sub_count"] for block in plan["blocks"] if block["filter"] == "L")
               / 60 for plan in (document, free)]
    assert 60 <= minutes[0] < 0.6 * minutes[1]


def test_named_targets_keep_their_project(capsys, tmp_path):
    file = tmp_path / "p.toml"
    file.write_text(PROJECTS.replace("2 h", "3 h"))  # done
    document = json.loads(_run(capsys, "night", "M31", "--project", file, *NIGHT, "--json")[1])
    assert document["blocks"] == []
    assert document["targets"][0]["reason"] == "Nothing is left to do."


def test_the_own_file_counts_without_being_named(capsys):
    own = user_projects_path()
    own.parent.mkdir(parents=True, exist_ok=True)
    own.write_text(PROJECTS)
    code, out, err = _run(capsys, "night", *NIGHT, "--json")
    assert code == 0
    assert {block["target"] for block in json.loads(out)["blocks"]} == {"M 31"}
    assert "Planning what projects.toml still wants." in err


def test_a_table_may_go_to_a_device_or_a_pipe(capsys, tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    assert run(["night", "M31", "--night", "2026-11-10", "--quiet", "--csv", str(pipe)]) == 0
    assert os.read(reader, 10).startswith(b"target,")
    os.close(reader)


def test_a_list_of_comments_alone_leaves_the_night_to_the_projects(capsys):
    folder = user_projects_path().parent
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "targets.csv").write_bytes(packaged_data("starter_targets.csv").read_bytes())
    (folder / "projects.toml").write_text('[[project]]\ntarget = "M 81"\nwanted = {L = "4 h"}\n')
    assert run(["night", "--night", "2026-11-10", "--tonight-alone"]) == 0
    captured = capsys.readouterr()
    assert "Planning what projects.toml still wants." in captured.err
    assert "M 81" in captured.out
    (folder / "projects.toml").unlink()
    assert run(["night", "--night", "2026-11-10"]) == 2
    assert "holds no target yet" in capsys.readouterr().err


def _own_files(**texts):
    folder = user_projects_path().parent
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in texts.items():
        (folder / {"projects": "projects.toml", "targets": "targets.csv"}[name]).write_text(text)
    return folder


def test_a_list_of_ones_own_hides_no_project(capsys):
    folder = _own_files(
        projects='[[project]]\ntarget = "LDN 9"\nwanted = {L = "4 h"}\n[[project]]\ntarget = "M 81"\n'
                 'wanted = {L = "4 h"}\n',
        targets="name,ra,dec\nLDN 9,22:14:00,+73:25:00\nM 33,,\nNGC 3031,,\n")
    for command in (["night", "--tonight-alone"], ["campaign", "--nights", "3"]):
        code, out, err = _run(capsys, *command, "--night", "2026-11-10", "--json")
        document = json.loads(out)
        assert code == 0
        assert [item["name"] for item in document.get("targets", document.get("projects"))] == ["LDN 9", "M 81"]
        assert "Of your list these are no projects, and left out: M 33;" in err  # NGC 3031 is M 81
    out = _run(capsys, "night", "--targets", folder / "targets.csv", "--night", "2026-11-10", "--json")[1]
    assert [item["name"] for item in json.loads(out)["targets"]] == ["LDN 9", "M 33", "NGC 3031"]


@pytest.mark.parametrize("text", ["# none yet\n", '[[project]]\ntarget = "M 81"\nwanted = {XX = "4 h"}\n'])
def test_projects_that_hold_nothing_for_the_rig_leave_the_night_to_the_list(capsys, text):
    folder = _own_files(projects=text)
    code, out, err = _run(capsys, "night", "--night", "2026-11-10", "--tonight-alone", "--json")
    assert code == 0
    assert len(json.loads(out)["targets"]) == 10  # of the demo's list
    assert "projects.toml wants nothing of the rig" in err
    assert "Planning the demo's target list" in err
    _own_files(targets="name\nM 33\n")
    assert [item["name"] for item in json.loads(_run(
        capsys, "night", "--night", "2026-11-10", "--tonight-alone", "--json")[1])["targets"]] == ["M 33"]
    code, _, err = _run(capsys, "night", "--project", folder / "projects.toml", "--night", "2026-11-10")
    assert code == 2
    assert "hold nothing for the rig" in err
