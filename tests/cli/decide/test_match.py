"""`planner match`, run as an observer runs it."""

import json
import operator
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
import tomlkit

from planner.cli import run
from planner.cli.decide.match import _pair
from planner.errors import InvalidInputError
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.optics import field_of_view
from planner.session.projects.framing import framing


@pytest.fixture(scope="module")
def few(tmp_path_factory):
    """An option for the demo's equipment with its first camera alone: five set-ups, judged sooner than fifteen."""
    folder, text = tmp_path_factory.mktemp("few"), packaged_data("equipment.toml").read_text(encoding="utf-8")
    owned = tomllib.loads(text)
    del owned["camera"][1:]
    owned["rig"] = [rig for rig in owned["rig"] if rig["camera"] == owned["camera"][0]["name"]]
    (folder / "equipment.toml").write_text(tomlkit.dumps(owned), encoding="utf-8")
    for name in ("horizon_hill.csv", "horizon_paddock.csv"):
        (folder / name).write_bytes(packaged_data(name).read_bytes())
    return "--equipment", str(folder / "equipment.toml")


def document(capsys, *words):
    assert run(["match", *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_the_choice_comes_first(capsys):
    assert run(["match", "NGC", "7331", "--beside", "1,4", "--as-good", "0.5", "--night", "2026-11-28"]) == 0
    captured = capsys.readouterr()
    assert captured.out.startswith("For NGC 7331: long")
    for part in ("Ranked on", "Set-ups on this mount", "limited by", "--all lists", "As good within",
                 "Side by side"):
        assert part in captured.out
    assert "which you own" not in captured.out  # the mount has its guider
    assert "packaged demo" in captured.err


def test_everything_that_is_owned_is_ranked(capsys):
    found = document(capsys, "m31")
    # Three telescopes, two of them with one reducer each; three cameras.
    assert len(found["set_ups"]) == 5 * 3
    assert [row["rank"] for row in found["set_ups"]] == list(range(1, 16))
    assert all(row["verdict"] in ("unguided", "either", "guided", "neither") for row in found["set_ups"])
    assert not found["set_ups"][0]["reason"]  # neither too heavy nor hopeless


def test_what_is_too_heavy_stands_behind_unless_the_observer_says_so(capsys):
    strict, lenient = (document(capsys, "ngc7331", *more)["set_ups"] for more in ((), ("--any-load",)))
    heavy = [row["rank"] for row in strict if "rated for" in row["reason"]]
    assert heavy
    assert min(heavy) > 1
    assert not any("rated for" in row["reason"] for row in lenient)
    assert lenient[0]["detail_time_h"] <= strict[0]["detail_time_h"]


def test_all_lists_the_outclassed_ones_too(capsys):
    run(["match", "m31", "--binning", "1"])
    few = capsys.readouterr().out
    run(["match", "m31", "--binning", "1", "--all"])
    many = capsys.readouterr().out
    assert len(many.splitlines()) > len(few.splitlines())
    hidden = re.search(r"(\d+) not listed: for (it|each) there is another set-up that is clearly worse in nothing and",
                       " ".join(few.split()))
    later = re.search(r"(\d+) more ranks? lower\. --all lists them\.", " ".join(few.split()))
    listed = len(re.findall(r"^ \d+=? ", few, re.M))
    assert listed + int(hidden[1]) + (int(later[1]) if later else 0) == 15
    assert "not listed" not in many  # nothing is hidden


def test_a_target_that_is_never_clear_here_is_said_to_be(capsys, few, tmp_path):
    text = Path(few[1]).read_text(encoding="utf-8").replace("horizon_hill.csv", "wall.csv")
    (tmp_path / "equipment.toml").write_text(text, encoding="utf-8")
    (tmp_path / "horizon_paddock.csv").write_bytes(packaged_data("horizon_paddock.csv").read_bytes())
    (tmp_path / "wall.csv").write_text("azimuth_deg,altitude_deg\n0,89\n", encoding="utf-8")
    for command in ("match", "advise"):
        assert run([command, "m31", "--equipment", str(tmp_path / "equipment.toml")]) == 0
        assert "Never here: Stands behind the skyline all the time. The answer is for" in " ".join(
            capsys.readouterr().out.split())


def test_without_a_target_any_field_overhead(capsys, few):
    found = document(capsys, "--brightness", "25 mag/arcsec2", *few)
    assert found["target"] is None
    assert "per square degree" in found["ranked_on"]["meaning"]
    assert all(row["target_fraction"] is None and row["surface_time_h_per_deg2"] > 0 for row in found["set_ups"])


def test_the_seeing_of_the_night_counts(capsys, few):
    calm, rough = (document(capsys, "ngc7331", "--seeing", seeing, *few)["set_ups"][0]["star_fwhm_arcsec"]
                   for seeing in ("1.5 arcsec", "4 arcsec"))
    assert rough > 2 * calm


def test_another_mount_and_no_guider(capsys):
    found = document(capsys, "ngc7331", "--mount", "friction", "--guider", "none", "--beside", "3,1")
    assert (found["mount"], found["guider"]) == ("friction", None)
    assert found["compared"] == [3, 1]
    assert all(row["method"] == "unguided" for row in found["set_ups"])


def test_the_observers_own_size_counts(capsys, few):
    found = document(capsys, "ngc7000", "--size", "2 × 3deg", *few)
    assert found["target"]["size_arcmin"] == pytest.approx([180, 120])


def test_a_line_in_its_own_filter(capsys, few):
    found = document(capsys, "ngc7000", *few, "--filter", "Ha", "--line", "20 R", "--rank", "surface")
    assert found["goal"]["brightness_mag_per_arcsec2"] is None
    assert found["ranked_on"]["name"] == "surface"
    assert found["set_ups"][0]["surface_time_h"] > 0.1


def test_a_target_that_never_rises_exits_with_an_answer(capsys):
    assert run(["match", "NGC 104"]) == 0
    assert "never high enough" in capsys.readouterr().out
    found = document(capsys, "NGC 104", "--beside", "1,2")
    assert found["set_ups"] == []
    assert found["reason"]


def test_a_rig_without_a_guider_hears_which_of_the_owned_ones_helps(capsys):
    assert run(["match", "m31", "--guider", "none"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    name, then, now = re.search(r"Guided with “([-\w ]+)”, which you own, the first takes (\d+) h instead of (\d+) h",
                                text).groups()
    alone, guided = (document(capsys, "m31", "--guider", guider)["set_ups"] for guider in ("none", name))
    parts = operator.itemgetter("telescope", "reducer", "camera")
    same = next(row for row in guided if parts(row) == parts(alone[0]))
    assert tuple(f"{float(format(row['detail_time_h'], '.2g')):.0f}" for row in (alone[0], same)) == (now, then)


def test_the_same_question_gives_the_same_bytes(capsys, few):
    words = ["match", "ngc7331", "--json", *few]
    assert run(words) == 0
    other = subprocess.run([sys.executable, "-m", "planner", *words], capture_output=True, check=True).stdout
    assert capsys.readouterr().out == other.decode()


@pytest.mark.parametrize("words", [(), ("--projects",)])
def test_a_band_of_equals_is_a_share(capsys, words):
    assert run(["match", *words, "--as-good", "-3"]) == 2
    assert "--as-good = -3.0: must be at least 0" in capsys.readouterr().err


@pytest.mark.parametrize(("words", "line"), [
    (["ngc99999"], "Did you mean NGC"),
    (["m31", "--rank", "beauty"], "rank = beauty: must be one of detail, surface, sharpness, field"),
    (["m31", "--mount", "wrom"], "Did you mean worm"),
    (["m31", "--guider", "nobody"], "guider = nobody: is not in the equipment file. There are: guide scope, "
                                      "off-axis middle, off-axis long, none."),
    (["m31", "--filter", "Hb"], "filter = Hb: is not"),
    (["m31", "--seeing", "2 x"], "--seeing"),
    (["m31", "--seeing", "-2 arcsec"], "--seeing"),
    (["m31", "--period", "-2 arcsec"], "--period"),
    (["m31", "--binning", "1,x"], "--binning = 1,x: must be whole numbers from 1 to 8"),
    (["m31", "--binning", ""], "--binning"),
    (["m31", "--binning", "9"], "--binning"),
    (["m31", "--beside", "1,16"], "--beside = 1,16: must be two different ranks from 1 to 15"),
    (["m31", "--size", "3x2"], "--size = 3x2: must be one angle or two, with their unit. Write it like"),
    (["--size", "3x2"], "--size = 3x2: must be one angle or two, with their unit. Write it like"),
    (["--size", "3x2deg"], "must be that of a target"),
    (["m31", "--as-good", "2"], "--as-good = 2.0: must be at most 1"),
    (["m31", "--overlap", "0.9"], "overlap = 0.9: must be at most 0.8"),
    (["m31", "--brightness", "24 x"], "--brightness"),
    (["m31", "--signal-to-noise", "0"], "--signal-to-noise"),
    (["m31", "--lowest-altitude", "95 deg"], "--lowest-altitude"),
    (["m31", "--equipment", "/nowhere/at/all.toml"], "all.toml"),
])
def test_bad_input_is_one_line(words, line, capsys):
    assert run(["match", *words]) == 2
    captured = capsys.readouterr()
    told = [text for text in captured.err.splitlines() if "packaged demo" not in text]
    assert len(told) == 1
    assert line in told[0]
    assert not captured.out


@pytest.mark.parametrize("text", ["1", "2,2", "1,16", "0,1", "1,x"])
def test_two_ranks_stand_beside_each_other(text):
    with pytest.raises(InvalidInputError, match=f"--beside = {text}: must be two different ranks from 1 to 15"):
        _pair(text, 15)
    assert _pair("1, 15", 15) == (1, 15)


def test_each_panel_of_a_mosaic_is_to_have_its_hours(capsys, tmp_path):
    path, left = tmp_path / "projects.toml", []
    words = ["--project", str(path), "--rig", "galaxies"]
    for mosaic in ("", "mosaic = true\n"):
        path.write_text(f'[[project]]\ntarget = "M 33"\nwanted = {{L = "8 h"}}\n{mosaic}')
        left.append(document(capsys, "--projects", *words)["projects"][0]["left_h"])
    assert run(["campaign", *words, "--night", "2026-08-10", "--nights", "20", "--json"]) == 0
    (campaign,) = json.loads(capsys.readouterr().out)["projects"]  # a mosaic is one project
    rig = load_equipment(None).rig("galaxies")
    panels = framing(field_of_view(rig.camera.pixel_pitch, rig.camera.columns, rig.camera.rows,
                                   rig.telescope.focal_length), find_target("M 33")).panels
    assert panels > 1
    assert left == [8, 8 * panels]
    assert campaign["needs"][0]["wanted_hours"] == left[1]


def test_a_list_of_projects_has_a_best_set_up_each_and_one_for_all(capsys, tmp_path):
    path = tmp_path / "projects.toml"
    path.write_text('[[project]]\ntarget = "M 51"\nwanted = {L = "8 h"}\n')
    found = document(capsys, "--projects", "--project", str(path), "--rig", "galaxies")
    assert found["projects"][0]["left_h"] == 8
    assert found["projects"][0]["set_up_h"] <= 8
    assert found["one_for_all"] == found["projects"][0]["set_up"]
    assert found["total_h"] == found["one_for_all_h"]
    assert (found["savings"], found["year_useful_h"]) == ([], None)


@pytest.mark.parametrize(("words", "named"), [
    (["M51", "--projects"], "target = M51"), (["--filter", "Ha", "--buy"], "--filter = Ha"),
    (["--projects", "--size", "3 deg"], "--size = 3 deg"), (["--projects", "--beside", "1,2"], "--beside = 1,2"),
    (["--projects", "--overlap", "0.15"], "--overlap = 0.15"),
])
def test_what_belongs_to_one_target_is_refused_beside_a_list(words, named, capsys):
    assert run(["match", *words]) == 2
    assert f"{named}: belongs to one target and must stand without --projects" in capsys.readouterr().err
