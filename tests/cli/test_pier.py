"""`planner pier`: answers, JSON with units in its keys, one line for bad input."""

import json

import pytest

from planner.cli import run
from planner.files.own_files import packaged_data

PIER = ["pier"]
UNITS = ("_kg", "_mm", "_kg_mm", "_N_m", "_V", "_A", "_W", "_Wh", "_Ah", "_h", "_mm2", "_m", "_deg_C", "_K", "_Hz",
         "_N_per_um", "_deg", "_m_per_s", "_N_m_per_rad", "_N",
          "_um", "_arcsec", "_arcsec_per_h", "_s", "_days", "_MPa", "_GPa")
BARE = {"payload_share", "drop_share", "humidity", "cooler_duty", "heater_duty", "column_share_of_tilt", "shear_share",
        "bolt_share", "strength_share", "load_share", "cold", "depth_of_discharge", "rate_of_discharge"}


@pytest.fixture(autouse=True)
def _no_own_file(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))


def answer(capsys, *words):
    code = run([*PIER, *words])
    out, err = capsys.readouterr()
    return code, out, err


def numbers(document, path=""):
    """Every key that holds numbers, in all depths."""
    for key, value in document.items():
        for item in value if isinstance(value, list) else [value]:
            if isinstance(item, dict):
                yield from numbers(item, key)
            elif isinstance(item, (int, float)) and not isinstance(item, bool):
                yield key


@pytest.mark.parametrize("command", ["balance", "power", "column"])
def test_json_keys_end_in_their_unit(capsys, command):
    code, out, err = answer(capsys, command, "--json")
    assert code == 0
    assert "demo" in err
    document = json.loads(out)
    assert document["cautions"]
    assert [key for key in numbers(document) if not key.endswith(UNITS) and key not in BARE] == []


@pytest.mark.parametrize("command", ["balance", "power", "column"])
def test_words_for_people(capsys, command):
    code, out, _ = answer(capsys, command)
    assert code == 0
    assert "Caution:" in out
    assert "nan" not in out


def test_the_demo_is_believable(capsys):
    # What someone who has bolted such a mount to such a pier would expect; common practice, no source.
    balance = json.loads(answer(capsys, "balance", "--json")[1])
    assert 0.5 < balance["before"]["payload_share"] < 0.8
    assert abs(balance["moves"][-1]["shift_mm"]) < 100
    assert abs(balance["after"]["right_ascension_moment_kg_mm"]) <= 2.5  # whole millimetres of 5 kg
    assert balance["verdict"] == "check"
    assert {"part", "finding", "remedy"} == balance["objections"][0].keys()
    assert balance["after"]["right_ascension_torque_N_m"] < 0.2  # parts beside the tube's plane stay: 22 kg mm
    power = json.loads(answer(capsys, "power", "--json")[1])
    assert 2 < power["working_current_A"] < 6
    assert 200 < power["energy"]["energy_Wh"] < 700
    assert power["changes"][0]["wanted_mm2"] == 2.5
    column = json.loads(answer(capsys, "column", "--json")[1])
    assert 10 < column["frequency_Hz"] < 40
    assert 0.3 < column["cases"][1]["angle_arcsec"] < 10
    assert 3 < column["concrete"]["bolt_age_days"] < 8


def test_swapping_a_camera(capsys):
    before = json.loads(answer(capsys, "balance", "--json")[1])
    after = json.loads(answer(capsys, "balance", "--swap", "camera", "--mass", "1.7 kg", "--json")[1])
    assert after["before"]["tube_mass_kg"] == pytest.approx(before["before"]["tube_mass_kg"] + 1)
    # One kilogram more, 210 + 400 mm from the right-ascension axis.
    more = after["before"]["right_ascension_moment_kg_mm"] - before["before"]["right_ascension_moment_kg_mm"]
    assert more == pytest.approx(610)


def test_adding_a_guide_scope(capsys):
    before = json.loads(answer(capsys, "balance", "--json")[1])["before"]
    after = json.loads(answer(capsys, "balance", "--add", "guide scope", "--mass", "2 kg", "--along", "50 mm",
                              "--height", "290 mm", "--json")[1])["before"]
    assert after["declination_moment_kg_mm"] - before["declination_moment_kg_mm"] == pytest.approx(2 * 50)
    more = after["right_ascension_moment_kg_mm"] - before["right_ascension_moment_kg_mm"]
    assert more == pytest.approx(2 * (210 + 290))


def test_a_colder_damper_longer_night_takes_more(capsys):
    warm = json.loads(answer(capsys, "power", "--json")[1])
    cold = json.loads(answer(capsys, "power", "--temperature=-12 °C", "--humidity", "0.99", "--hours", "14",
                             "--json")[1])
    assert cold["energy"]["usable_charge_Ah"] < warm["energy"]["usable_charge_Ah"]
    assert cold["duration_h"] == 14
    assert cold["temperature_deg_C"] == -12


def test_the_dark_time_of_a_night(capsys):
    winter = json.loads(answer(capsys, "power", "--night", "2026-12-21", "--json")[1])
    summer = json.loads(answer(capsys, "power", "--night", "2026-06-21", "--json")[1])
    assert summer["duration_h"] < 3 < 11 < winter["duration_h"]


@pytest.mark.parametrize(("words", "line"), [
    (["power", "--humidity", "3"], "humidity = 3.0: must be at most 1"),
    (["power", "--temperature", "5 s"], "must have a unit like deg_C"),
    (["power", "--hours", "nan"], "--hours = nan: must be a finite value"),
    (["balance", "--mass", "3 kg"], "mass = 3 kg: needs --swap or --add"),
    (["balance", "--swap", "camera"], "swap = camera: needs --mass"),
    (["balance", "--add", "heater"], "add = heater: needs --mass"),
    (["balance", "--add", "camera", "--mass", "1 kg"], "tube.name = camera: is there twice"),
    (["balance", "--add", "heater", "--swap", "camera"], "cannot go with --swap"),
    (["balance", "--swap", "camra", "--mass", "1 kg"], "part = camra: is not on the tube. Did you mean camera"),
    (["balance", "--swap", "camera", "--mass", "-1 kg"], "--mass = -1 kg: must be more than 0 kg"),
    (["column", "--concrete-temperature=-5 °C"], "must be at least 0 deg_C"),
    (["column", "--pier", "none.toml"], "pier file = none.toml: is not there"),
    (["check", "--pier", "none.toml"], "pier file = none.toml: is not there"),
    (["power", "--night", "soon"], "night = soon: must be a date"),
    ([], "Missing command"),
    (["colum"], "No such command"),
])
def test_bad_input_is_one_line(capsys, words, line):
    code, out, err = answer(capsys, *words)
    assert code == 2
    assert out == ""
    assert line in err
    assert err.count("\n") == 1


def test_check(capsys, tmp_path):
    assert answer(capsys, "check")[1].endswith("no problems.\n")
    broken = tmp_path / "broken.toml"
    broken.write_text('[column]\nheight = "0 m"\nwidth = 200\n')
    code, out, err = answer(capsys, "check", "--pier", str(broken))
    assert (code, out) == (2, "")
    assert err.count("\n") == 2
    assert json.loads(answer(capsys, "check", "--json", "--pier", str(broken))[1])["good"] is False


def test_a_part_that_the_file_does_not_describe(capsys, tmp_path):
    only = tmp_path / "only.toml"
    only.write_text('[column]\nheight = "1 m"\nwidth = "200 mm"\nwall = "5 mm"\n')
    assert answer(capsys, "column", "--pier", str(only))[0] == 0
    code, _, err = answer(capsys, "power", "--pier", str(only))
    assert code == 2
    assert "does not describe the tree" in err


def test_a_collapsed_tree_is_an_answer(capsys, tmp_path):
    from planner.files.own_files import packaged_data

    long = tmp_path / "long.toml"
    long.write_text(packaged_data("pier.toml").read_text().replace('length = "4 m"', 'length = "60 m"'))
    code, out, _ = answer(capsys, "power", "--pier", str(long))
    assert code == 0
    assert "cannot carry the peak power" in out
    assert "nan" not in out
    document = json.loads(answer(capsys, "power", "--json", "--pier", str(long))[1])
    assert document["collapsed"] is True
    assert document["loads"][0]["lowest_voltage_V"] is None


def test_a_pier_file_is_begun_and_never_written_over(capsys, tmp_path):
    path = tmp_path / "pier.toml"
    code, out, _ = answer(capsys, "init", "--file", str(path))
    assert (code, path.is_file()) == (0, True)
    assert f'run: planner pier check --pier "{path}"' in out
    path.write_text("[pier]\nname = 'mine'\n")
    code, _, err = answer(capsys, "init", "--file", str(path))
    assert code == 2
    assert "is never overwritten" in err
    assert "mine" in path.read_text()


def test_check_lists_all_faults_a_line_each(capsys, tmp_path):
    path = tmp_path / "pier.toml"
    demo = packaged_data("pier.toml").read_text()
    path.write_text(demo.replace('position = "250 mm"', 'position = "20 mm"').replace(
        'position = "390 mm"', 'position = "500 mm"').replace('feeds = "camera"', 'feeds = "kamera"'))
    code, _, err = answer(capsys, "check", "--pier", str(path))
    assert code == 2
    assert len(err.splitlines()) == 4  # two weights off the bar, a cable to nowhere, a camera without one
