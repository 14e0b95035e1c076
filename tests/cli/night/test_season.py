"""`planner season` and `planner objects`: the promised JSON, a readable page, and one line for whatever is silly."""

import inspect
import json
from typing import get_args

import pytest

from planner.cli import run
from planner.cli.night import campaign, outputs
from planner.session.campaign.campaign import CLEAR

UTC_KEYS = {"name", "nights", "best_night", "total_hours"}


def _run(capsys, *words):
    code = run([str(word) for word in words])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_json_holds_what_is_promised(capsys):
    code, out, err = _run(capsys, "season", "ngc7331", "M 81", "--night", "2026-09-01", "--nights", 40, "--json")
    assert code == 0
    assert "demo" in err
    document = json.loads(out)
    assert len(document["targets"]) == 2
    for target in document["targets"]:
        assert set(target) >= UTC_KEYS
        hours = [night["hours"] for night in target["nights"]]
        assert len(hours) == 40
        assert sum(hours) == pytest.approx(target["total_hours"])
        best = max(target["nights"], key=lambda night: night["hours"])
        assert best["night"] == target["best_night"]
        assert all(night["hours"] <= night["up_hours"] + 1e-9 for night in target["nights"])
    assert document["targets"][0]["nights"][0]["night"] == "2026-09-01"
    assert "moonless zenith" in document["hours_mean"]


def test_the_full_moon_costs_hours_and_the_dark_ones_are_best(capsys):
    document = json.loads(_run(capsys, "season", "NGC7331", "--night", "2026-09-01", "--nights", 40, "--json")[1])
    moon = {night["night"]: night["moon_illumination"] for night in document["nights"]}
    target = document["targets"][0]
    assert moon["2026-09-26"] > 0.98  # full Moon of 2026 September 26, almanac
    nights = {night["night"]: night for night in target["nights"]}
    at_full, best = nights["2026-09-26"], nights[target["best_night"]]
    assert at_full["hours"] < 0.3 * at_full["up_hours"]
    assert best["hours"] > 0.7 * best["up_hours"]


@pytest.mark.parametrize("words", [["NGC", "7331"], ["ngc 7331"], ["NGC", "7331", "NGC7331"]])
def test_a_number_may_stand_apart(capsys, words):
    document = json.loads(_run(capsys, "season", *words, "--nights", 2, "--json")[1])
    assert [target["name"] for target in document["targets"]] == ["NGC 7331"]


@pytest.mark.parametrize(("words", "names"), [
    (["Horsehead", "Nebula"], ["B 33"]), (["22", "37", "04", "+34", "24", "57"], ["a place"]),
    (["horsehead", "rosette"], ["B 33", "NGC 2237"]), (["M31", "M", "33"], ["M 31", "M 33"])])
def test_several_words_are_one_name_where_they_are(capsys, words, names):
    document = json.loads(_run(capsys, "season", *words, "--nights", 1, "--json")[1])
    assert len(document["targets"]) == len(names)
    if "+34" not in words:
        assert [target["name"] for target in document["targets"]] == names


@pytest.mark.parametrize("site", ["hill", "paddock"])
def test_the_demo_projects_at_both_sites(capsys, site):
    code, out, err = _run(capsys, "season", "--site", site, "--night", "2026-11-25")
    assert code == 0
    assert "demo projects" in err
    assert "clear night" in out
    assert "Left to do: " in out
    low = "NGC 253" if site == "hill" else "NGC 7000"
    assert f"{low}: Never gets above 30.0°" in out
    assert max(map(len, out.splitlines())) <= 140


def test_a_wrong_name_elsewhere_in_the_projects_does_not_matter(capsys, tmp_path):
    file = tmp_path / "projects.toml"
    file.write_text('[[project]]\ntarget = "NGC 99999"\nwanted = {L = "3 h"}\n\n'
                    '[[project]]\ntarget = "M 33"\nwanted = {L = "20 h"}\n')
    common = ["M33", "--project", file, "--night", "2026-11-10", "--json"]
    code, out, _ = _run(capsys, "season", *common, "--nights", 3)
    assert code == 0
    assert json.loads(out)["targets"][0]["to_do"]["left"] == [{"filter": "L", "hours": 20}]
    code, out, _ = _run(capsys, "night", *common)
    assert code == 0
    assert {block["filter"] for block in json.loads(out)["blocks"]} == {"L"}
    code, _, err = _run(capsys, "season", "--project", file, "--nights", 3)  # each of them is asked for
    assert code == 2
    assert "NGC 99999: is not in the catalogue" in err


def test_what_is_left_comes_from_the_project_file_or_the_option(capsys, tmp_path):
    file = tmp_path / "p.toml"
    file.write_text('[[project]]\ntarget = "M 81"\nwanted = {Ha = "20 h", XX = "3 h"}\n')
    code, out, err = _run(capsys, "season", "--project", file, "--night", "2026-12-01", "--nights", 60, "--json")
    to_do = json.loads(out)["targets"][0]["to_do"]
    assert code == 0
    assert to_do["left"] == [{"filter": "Ha", "hours": 20}, {"filter": "XX", "hours": 3}]
    assert 2 <= to_do["clear_nights_needed"] <= 6
    assert "has no filter XX" in err
    code, out, _ = _run(capsys, "season", "M81", "--project", file, "--hours", "200 h", "--nights", 3,
                        "--night", "2026-12-01")
    assert "more than these nights hold" in out


def test_a_list_file_stands_for_its_targets(capsys, tmp_path):
    file = tmp_path / "list.csv"
    file.write_text("name,ra,dec\nmy place,10.5,41\nM 81,,\n")
    document = json.loads(_run(capsys, "season", file, "--nights", 2, "--json")[1])
    assert [target["name"] for target in document["targets"]] == ["my place", "M 81"]


def test_suits_ranks_and_says_how(capsys):
    code, out, _ = _run(capsys, "objects", "--night", "2026-11-08", "--rig", "wide", "--json", "--count", 10)
    document = json.loads(out)
    assert code == 0
    figures = [item["figure"] for item in document["objects"]]
    assert figures == sorted(figures, reverse=True)
    assert len(figures) == 10
    assert document["considered"] > 12000
    assert "fit x hours" in document["figure_means"]


@pytest.mark.parametrize(("words", "there"), [
    (["--month", "2026-06", "--site", "paddock", "--kind", "galaxy", "--rig", "galaxies"],
     "nights 2026-06-01 to 2026-06-30"),
    (["--night", "2026-06-21", "--lowest-altitude", "60 deg", "--kind", "planetary"], "night of 2026-06-21"),
    (["--night", "2026-11-25", "--filter", "Ha"], "~ the catalogue gives no brightness"),
    (["--night", "2026-06-21", "--lowest-altitude", "89 deg", "--kind", "planetary"],
     "Nothing: no object that fits is up in the dark."),
])
def test_suits_reads_like_an_answer(capsys, words, there):
    code, out, _ = _run(capsys, "objects", *words)
    assert code == 0
    assert there in out
    assert "objects considered" in out
    assert max(map(len, out.splitlines())) <= 120


SILLY = [
    (["season", "NGC 99999"], "is not in the catalogue"),
    (["season", "M81", "--nights", "0"], "nights = 0: must be at least 1"),
    (["season", "M81", "--nights", "many"], "--nights = many: must be a whole number"),
    (["campaign", "--calendar", "-2"], "--calendar = -2: must be at least 0"),
    (["season", "M81", "--nights", "1000"], "must be at most 366"),
    (["season", "M81", "--hours", "8,5 h"], "Write a decimal point"),
    (["season", "M81", "--hours", "-8 h"], "must be more than 0 h"),
    (["season", "M81", "--filter", "XX"], "is not in the equipment file"),
    (["season", "M81", "--lowest-altitude", "95 deg"], "must be less than 90 deg"),
    (["season", "M81", "--lowest-altitude", "low"], "must be a number with a unit"),
    (["season", "M81", "--night", "yesterday"], "must be a date"),
    (["season", "M81", "--night", "1950-01-01"], "must lie between 1973-01-03 and 2098-12-31"),
    (["season", "M81", "--night", "2098-12-01"], "must be at most 31 from 2098-12-01 on"),
    (["season", "M81", "--project", "/no/such.toml"], "is not there"),
    (["season", "M81", "--site", "nowhere"], "is not in the equipment file"),
    (["season", "/no/such/list.csv"], "is not there"),
    (["season", ""], "must name something"),
    (["objects", "M81"], "Got unexpected extra argument"),
    (["objects", "--month", "2026-13"], "must be a month"), (["objects", "--month", "June"], "must be a month"),
    (["objects", "--month", "2026-06", "--night", "2026-06-01"], "cannot stand beside --night"),
    (["objects", "--month", "1900-01"], "must lie between 1973-01-03 and 2098-12-31"),
    (["objects", "--count", "0"], "count = 0: must be at least 1"),
    (["objects", "--kind", "teapot"], "Give a word of: association of stars"),
    (["objects", "--signal-to-noise", "nan"], "must be a finite number"),
]


@pytest.mark.parametrize(("words", "line"), SILLY, ids=[" ".join(words) for words, _ in SILLY])
def test_bad_input_is_one_line_and_code_2(capsys, words, line):
    code, out, err = _run(capsys, *words)
    assert code == 2
    assert out == ""
    err = [text for text in err.splitlines() if "demo" not in text]
    assert len(err) == 1
    assert line in err[0]


def test_the_share_of_clear_nights_is_one_number():
    # Written out where commands begin: importing it would cost each of them its cold start.
    shown = inspect.signature(campaign.campaign).parameters["clear"].default
    assert shown == CLEAR
    assert f"{CLEAR:g} if not given" in get_args(outputs.ClearOption)[1].help
