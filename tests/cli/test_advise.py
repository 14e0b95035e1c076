"""`planner advise`, run as an observer runs it."""

import json
import re
import subprocess
import sys

import pytest

from planner.cli import run
from planner.files.own_files import packaged_data

NIGHT = ["--night", "2026-11-10"]


def test_the_verdict_comes_first(capsys):
    assert run(["advise", "NGC", "7331", *NIGHT]) == 0
    first, second, *rest = capsys.readouterr().out.splitlines()
    assert first.startswith("Guide: ")
    assert 'Rig "nebulae", site "hill", night of 2026-11-10' in second
    text = "\n".join(rest)
    for part in ("Why", "What would change it", "Tonight", "Stars", "Sky", "What moves the", "* best as it stands"):
        assert part in text


def test_the_demo_is_said_to_be_the_demo(capsys):
    run(["advise", "m31", *NIGHT, "--json"])
    captured = capsys.readouterr()
    assert "packaged demo" in captured.err
    assert json.loads(captured.out)["target"]["name"]


def test_the_same_question_gives_the_same_bytes(capsys):
    words = ["advise", "ngc7331", *NIGHT, "--json"]
    assert run(words) == 0
    other = subprocess.run([sys.executable, "-m", "planner", *words], capture_output=True, check=True).stdout
    assert capsys.readouterr().out == other.decode()
    assert json.loads(other)["verdict"] == "guided"


def test_four_times_the_area_takes_a_quarter_of_the_time(capsys):
    # Where sky makes the noise, S/N goes with the root of area times time: 2.5 log10(2) = 0.753 mag in the same hours.
    small, large = ({}, {})
    for found, words in ((small, []), (large, ["--area", "100 arcsec2"])):
        assert run(["advise", "ngc7331", *NIGHT, *words, "--json"]) == 0
        found.update(json.loads(capsys.readouterr().out))
    assert large["depth"]["area_arcsec2"] == large["total"]["area_arcsec2"] == 100
    deeper = large["depth"]["mag_per_arcsec2"] - small["depth"]["mag_per_arcsec2"]
    assert deeper == pytest.approx(0.753, abs=0.01)
    # Whole subs: one of 62 and one of 246.
    assert small["total"]["clock_time_h"] / large["total"]["clock_time_h"] == pytest.approx(4, rel=0.02)


def test_a_target_that_never_rises_exits_with_an_answer(capsys):
    assert run(["advise", "NGC 104", *NIGHT]) == 0
    assert "Never rises" in capsys.readouterr().out


@pytest.mark.parametrize(("words", "line"), [
    (["ngc99999"], "Did you mean NGC"),
    (["m31", "--rig", "nebulea"], "Did you mean nebulae?"),
    (["m31", "--site", "moon"], "site = moon: is not in the equipment file"),
    (["m31", "--filter", "Hb"], "filter = Hb: is not"),
    (["m31", "--night", "2026-02-30"], "night = 2026-02-30: must be a date"),
    (["m31", "--lowest-altitude", "95"], "--lowest-altitude"),
    (["m31", "--lowest-altitude", "30 kg"], "--lowest-altitude"),
    (["m31", "--brightness", "24 x"], "--brightness"),
    (["m31", "--line", "-3 R"], "--line"),
    (["m31", "--signal-to-noise", "nan"], "--signal-to-noise"),
    (["m31", "--area", "0 arcsec2"], "--area"),
    (["m31", "--equipment", "/nowhere/at/all.toml"], "all.toml"),
    ([], "planner advise --help"),
])
def test_bad_input_is_one_line(words, line, capsys):
    assert run(["advise", *words]) == 2
    captured = capsys.readouterr()
    told = [text for text in captured.err.splitlines() if "packaged demo" not in text]
    assert len(told) == 1
    assert line in told[0]
    assert not captured.out


def test_an_emission_line_gives_a_total(capsys):
    assert run(["advise", "ngc7000", "--filter", "Ha", "--line", "20 R", *NIGHT, "--json"]) == 0
    total = json.loads(capsys.readouterr().out)["total"]
    assert total["clock_time_h"] > 0
    assert total["signal_to_noise"] >= 10


def test_what_if_on_the_command_line_is_what_the_file_would_give(capsys, tmp_path):
    text = packaged_data("equipment.toml").read_text(encoding="utf-8")
    for name in ("horizon_hill.csv", "horizon_paddock.csv"):
        (tmp_path / name).write_text(packaged_data(name).read_text(encoding="utf-8"))
    path = tmp_path / "changed.toml"
    seeing = re.search(r'seeing = ".*"', text)[0]
    path.write_text(text.replace(seeing, 'seeing = "1.3 arcsec"', 1))
    words = ["advise", "ngc7331", "--night", "2026-11-10", "--json", "--quiet"]
    assert run([*words, "--equipment", str(path)]) == 0
    from_file = json.loads(capsys.readouterr().out)
    assert run([*words, "--set", "site.seeing=1.3arcsec"]) == 0
    what_if = json.loads(capsys.readouterr().out)
    assert what_if.pop("set") == ["site.seeing=1.3arcsec"]
    assert what_if == from_file
    assert run(words) == 0
    assert json.loads(capsys.readouterr().out) != from_file


def test_what_if_names_a_clock_that_cannot_be_that_of_the_place(capsys):
    words = ["advise", "10", "-80", "--set", "site.time_zone=UTC", "--set", "site.longitude=149"]
    assert run(words) == 0
    assert "do not belong together: that clock is 9.9 h behind the Sun" in capsys.readouterr().err


@pytest.mark.parametrize("words", [["--line", "1e-308 R"], ["--line", "1e300 R"], ["--signal-to-noise", "1e-300"]])
def test_wishes_beyond_all_light_are_refused(capsys, words):
    assert run(["advise", "M31", *NIGHT, "--quiet", *words]) == 2
    assert "must be at " in capsys.readouterr().err
