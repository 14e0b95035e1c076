"""`planner night`: the answer in words and as JSON, and one line for whatever is wrong."""

import json
import os
from pathlib import Path

import pytest

from planner.cli import run
from planner.cli.output import only_our_words

DATA = Path(__file__).resolve().parents[2] / "data"
# The contract of the documents; more keys may join.
KEYS = {"dark", "moon", "targets", "blocks", "flips", "value", "bound"}
MOON_KEYS = {"illumination", "rise_utc", "set_utc"}
TARGET_KEYS = {"name", "windows", "transit_utc", "max_altitude_deg", "reason"}
BLOCK_KEYS = {"target", "filter", "start_utc", "end_utc", "pier_side", "sub_exposure_s", "sub_count", "guided"}
FLIP_KEYS = {"target", "earliest_utc", "latest_utc", "planned_utc"}


def _run(capsys, *words):
    code = run(["night", *(str(word) for word in words)])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def _document(capsys, *words):
    code, out, _ = _run(capsys, *words, "--json")
    assert code == 0
    return json.loads(out)


def test_the_demo_list_is_planned_and_said_to_be_the_demos(capsys):
    code, out, err = _run(capsys, "--night", "2026-11-10")
    assert code == 0
    assert "demo's target list" in err
    for words in ('Night of 2026-11-10, site "hill", rig "nebulae"', "Dark (Sun below −18°)", "Moon 3 % lit",
                  "Timeline", "NGC 891", "of the pier", "Meridian flips", "of the best possible plan",
                  "equivalent hours"):
        assert words in out


def test_the_document_holds_what_the_contract_asks(capsys):
    document = _document(capsys, "NGC 891", "M 33", "NGC 3372", "--night", "2026-11-18", "--site", "hill")
    assert document.keys() >= KEYS
    assert document["moon"].keys() >= MOON_KEYS
    assert all(target.keys() >= TARGET_KEYS for target in document["targets"])
    assert all(block.keys() >= BLOCK_KEYS for block in document["blocks"])
    assert all(flip.keys() >= FLIP_KEYS for flip in document["flips"])
    assert document["blocks"]
    assert all(block["pier_side"] in ("east", "west") for block in document["blocks"])
    assert 0 < document["value"] <= document["bound"]
    times = [block[key] for block in document["blocks"] for key in ("start_utc", "end_utc")]
    assert times == sorted(times)
    assert all(len(time) == 20 and time.endswith("Z") for time in times)
    windows = {target["name"]: target["windows"] for target in document["targets"]}
    for block in document["blocks"]:
        assert any(window["start_utc"] <= block["start_utc"] and block["end_utc"] <= window["end_utc"]
                   for window in windows[block["target"]])


def test_the_same_question_has_the_same_answer_byte_for_byte(capsys):
    first, second = (_run(capsys, "M 81", "NGC 891", "--night", "2026-11-10", "--json")[1] for _ in range(2))
    assert first == second


def test_clocks_that_change_are_written_out(capsys):
    _, out, _ = _run(capsys, "NGC 891", "M 81", "--night", "2026-10-24")
    assert "The clocks go back by 1 h during this night" in out
    assert "CEST to" in out
    blocks = _document(capsys, "NGC 891", "M 81", "--night", "2026-10-24")["blocks"]
    assert {block[key][-6:] for block in blocks for key in ("start_local", "end_local")} == {"+02:00", "+01:00"}


@pytest.mark.parametrize(("old", "new", "night", "dark", "sides"), [
    ('latitude = "47.4 deg"', 'latitude = "66 deg"', "2026-06-21", False, set()),
    ('rate = "king"', 'design = "fork"', "2026-11-10", True, {None}),
])
def test_neither_dark_nor_sides_keep_the_schema(capsys, tmp_path, old, new, night, dark, sides):
    file = tmp_path / "equipment.toml"
    file.write_text((DATA / "equipment.toml").read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    for horizon in DATA.glob("horizon_*.csv"):
        (tmp_path / horizon.name).write_bytes(horizon.read_bytes())
    document = _document(capsys, "M 31", "--rig", "galaxies", "--night", night, "--equipment", file)
    assert (document["dark"] is not None) == dark
    assert {block["pier_side"] for block in document["blocks"]} == sides


def test_never_up_is_an_answer(capsys):
    code, out, _ = _run(capsys, "NGC 3372", "--night", "2026-11-10")
    assert code == 0
    assert "Never rises at this site." in out
    document = _document(capsys, "NGC 3372", "--night", "2026-11-10")
    assert document["blocks"] == document["flips"] == document["events"] == []
    assert document["targets"][0]["reason"] == document["reason"] == "Never rises at this site."


def test_a_list_of_ones_own(capsys, tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("name,ra,dec\nmy field,2:00:00,+45:00:00\nNGC 891,,\n")
    names = [target["name"] for target in _document(capsys, "--targets", path, "--night", "2026-11-10")["targets"]]
    assert names == ["my field", "NGC 891"]


@pytest.mark.parametrize(("words", "line"), [
    (["NGC 99999"], "target = NGC 99999: is not in the catalogue"),
    (["--night", "soon"], "night = soon: must be a date"),
    (["--lowest-altitude", "95 deg"], "must be less than 90"),
    (["--rig", "nebulai"], "rig = nebulai: is not in the equipment file. Did you mean nebulae?"),
])
def test_bad_input_is_one_line(capsys, words, line):
    code, out, err = _run(capsys, *words)
    assert (code, out) == (2, "")
    assert line in err.splitlines()[-1]


def test_what_a_library_says_stays_out_of_the_answer(capfd):
    with only_our_words():
        os.write(1, b"a solver talks")
    os.write(1, b"the answer")
    assert capfd.readouterr().out == "the answer"


def test_a_session_and_its_filters_are_kept(capsys):
    code, out, _ = _run(capsys, "--night", "2026-11-10", "--from", "20:30", "--until", "01:00", "--filters", "L,ha",
                        "--json")
    blocks = json.loads(out)["blocks"]
    assert code == 0
    assert blocks
    assert {block["filter"] for block in blocks} <= {"L", "Ha"}
    assert min(block["start_local"] for block in blocks) >= "2026-11-10T20:30"
    assert max(block["end_local"] for block in blocks) <= "2026-11-11T01:00:01"


@pytest.mark.parametrize(("words", "rule"), [
    (["--filters", "X"], "must name filters that are wanted"), (["--until", "25:00"], "must be a time of day"),
    (["--least-stay", "long"], "--least-stay = long"), (["--flip-margin", "900 min"], "--flip-margin"),
    (["--from", "23:00", "--until", "22:00"], "must end after it begins"),
])
def test_a_session_that_cannot_be_is_one_line(capsys, words, rule):
    code, _, err = _run(capsys, "--night", "2026-11-10", *words)
    assert code == 2
    assert rule in err
    assert "Traceback" not in err
