"""`planner drift`, `polar` and `pointing` as an observer types them: answers, JSON, saving, and silly input."""

import re

import numpy as np
import pytest
from cli.asked import answer, planner
from measure.demo_logs import DATA
from measure.star_paths import guided, motion, rows

from planner.files.equipment import load_equipment
from planner.files.equipment.history import put_table_back, table_history
from planner.files.own_files import packaged_data

DRIFT, POLAR, POINTING = (str(DATA / f"{name}_demo.csv") for name in ("drift", "polar", "pointing"))


@pytest.fixture
def own(tmp_path):
    """An equipment file of one's own: the demo's text under another path."""
    for name in ("equipment.toml", "horizon_hill.csv", "horizon_paddock.csv"):
        (tmp_path / name).write_bytes(packaged_data(name).read_bytes())
    return tmp_path / "equipment.toml"


@pytest.fixture
def no_advice(monkeypatch):
    """Leave out what changes in the advice: it takes longer than all else, and has tests of its own."""
    monkeypatch.setattr("planner.cli.measure.measured.advice_effect", lambda *measured, **asked: None)


def test_drift_json_holds_the_design_keys(capsys):
    found = answer(capsys, "drift", DRIFT)
    # What tests/measure/demo_logs.py put in: a worm of 6 and 1.1 arcsec on the equator, seen at declination 12.
    worm, half = found["periodic"]
    assert worm["period_s"] == pytest.approx(501, abs=2)
    assert worm["amplitude_arcsec"] == pytest.approx(6 * 0.978, rel=0.03)
    assert (worm["order"], half["order"]) == (1, 2)
    assert 0 <= worm["false_alarm"] < 1e-6
    assert found["jitter_rms_arcsec"] == pytest.approx(0.35, rel=0.08)
    assert len(found["outliers_s"]) == 3
    assert {"ra_rate_arcsec_per_min", "ra_rate_arcsec_per_min_error", "dec_rate_arcsec_per_min",
            "dec_rate_arcsec_per_min_error"} <= set(found)
    assert found["saved"] is None


def test_drift_text_says_what_matters(capsys):
    code, out, err = planner(capsys, "drift", DRIFT)
    assert code == 0
    assert "1/2 of" in out
    assert "Polar axis: at least" in out
    assert "3 rows far off, set aside" in out
    assert "demo" in err
    table = "If its altitude is as the mount's table says"  # nobody's log is held against the demo's mount unasked
    assert "If its altitude is right" in out
    assert table not in out
    assert table in planner(capsys, "drift", DRIFT, "--rig", "nebulae")[1]


def test_drift_saves_the_mount_and_keeps_the_version_before(capsys, own):
    before = own.read_text(encoding="utf-8")
    code, out, _ = planner(capsys, "drift", DRIFT, "--equipment", own, "--save", "--exposure", "1 s")
    assert code == 0
    assert f"Saved in {own}" in out
    assert "jitter" in out
    assert "The advice " in out
    mount = load_equipment(own).rig("nebulae").mount
    # 0.35 arcsec less the air, known to a quarter, and the 0.25 of the table.
    air = float(re.search(r"([0-9.]+)″ of the jitter", out)[1])
    assert mount.jitter.value == pytest.approx((0.35**2 - air**2) ** 0.5, abs=0.04)
    assert 0.01 < mount.errors["jitter"].value < 0.05
    assert mount.periodic[0].amplitude.value == pytest.approx(6, rel=0.03)
    assert mount.flexure_ra.value == 2  # what the log does not tell stays
    assert (own.parent / "equipment.toml.bak").read_text(encoding="utf-8") == before


@pytest.mark.usefixtures("no_advice")
@pytest.mark.parametrize(("words", "jitter"), [
    # Of 0.35 arcsec; the table's 0.25 ± 0.07 says the rest.
    (("--centroid-noise", "0.1 arcsec"), (0.35**2 - 0.1**2) ** 0.5),
    (("--centroid-noise", "0.3 arcsec"), (0.35**2 - 0.3**2) ** 0.5),
    (("--centroid-noise", "1 arcsec"), 0.25),
])
def test_centroid_noise_comes_off(capsys, own, words, jitter):
    assert planner(capsys, "drift", DRIFT, "--equipment", own, "--save", "--exposure", "1 s", *words)[0] == 0
    assert load_equipment(own).rig("nebulae").mount.jitter.value == pytest.approx(jitter, abs=0.03)


def test_the_noise_of_the_air_is_said_and_a_short_log_too(capsys, own):
    code, out, _ = planner(capsys, "drift", DRIFT, "--equipment", own, "--exposure", "0.5 s")
    assert code == 0
    assert "is put down to the air (2.4″ seeing, 200 mm, exposures of 0.5 s)" in out
    assert "measured" in out
    assert "Jitter stays as it was: rows of 4 s average it away." in planner(
        capsys, "drift", DRIFT, "--equipment", own)[1].replace("\n", " ")  # rows of 4 s
    assert "Once saved: The advice " in out
    assert not (own.parent / "equipment.toml.bak").exists()


@pytest.mark.usefixtures("no_advice")
def test_a_measurement_from_elsewhere_is_named_and_a_log_not_saved(capsys, own):
    south = ("--latitude", "-33.9", "--equipment", own)
    code, _, err = planner(capsys, "drift", DRIFT, *south, "--save")
    assert code == 2
    assert "latitude -33.9 deg, where the site" in err.replace("\n", " ")
    assert "--anyway saves it" in err
    assert "Doubtful: Latitude -33.9 deg" in planner(capsys, "drift", DRIFT, *south)[1]
    for command in (("polar", POLAR), ("pointing", POINTING)):
        assert planner(capsys, *command, *south, "--save")[0] == 2
        assert "latitude -33.9" in planner(capsys, *command, *south)[2].lower().replace("\n", " ")
        assert "latitude" not in planner(capsys, *command, "--equipment", own)[2].lower()


@pytest.mark.usefixtures("no_advice")
def test_a_known_axis_stays_and_the_rest_is_flexure(capsys, own):
    words = ("drift", DRIFT, "--equipment", own, "--save", "--keep-axis")
    assert planner(capsys, *words)[0] == 0
    mount = load_equipment(own).rig("nebulae").mount
    # The demo log has the worm's own polar axis, 2.5 and -3 arcmin, and no flexure; wander of 0.25 arcsec/min(1/2) over
    # 50 min is 1.8 arcsec, 2 arcsec/h.
    assert (mount.polar_altitude_error.value, mount.polar_azimuth_error.value) == (2.5, -3)
    assert mount.flexure_dec.value == pytest.approx(0, abs=5)
    assert mount.flexure_ra.value == 2


@pytest.mark.parametrize("command", [("drift", DRIFT), ("polar", POLAR), ("pointing", POINTING)])
def test_every_command_says_what_changes_in_the_advice(capsys, own, command):
    words = (*command, "--equipment", own, "--rig", "galaxies", "--night", "2026-11-10", "--target", "M 33")
    found = answer(capsys, *words)["advice"]
    assert (found["target"], found["rig"], found["night"]) == ("M 33", "galaxies", "2026-11-10")
    assert found["before"]["verdict"] == "either"  # what the friction mount of the file is good for
    told = [[found[when][key] for key in ("verdict", "unguided_s", "guided_s")] for when in ("before", "after")]
    assert found["changed"] == (told[0] != told[1])
    assert found["changed"] or command[0] != "drift"
    if found["changed"]:
        assert f"{found['after']['sub_exposure_s']:g} s" in found["sentence"].partition("now,")[2]
    assert found["sentence"] in planner(capsys, *words, "--save")[1].replace("\n", " ")
    now = answer(capsys, "advise", "M 33", *words[2:-2])
    assert now["verdict"] == found["after"]["verdict"]
    assert now["unguided"]["sub_exposure_s"] == found["after"]["unguided_s"]


def test_polar_from_positions(capsys):
    found = answer(capsys, "polar", POLAR, "--altitude-screw", "1.5 mm, 180 mm", "--azimuth-screw", "1.5 mm, 120 mm")
    assert found["altitude_error_arcmin"] == pytest.approx(2.5, abs=0.2)
    assert found["azimuth_error_arcmin"] == pytest.approx(-3.0, abs=0.2)
    assert 0 < found["altitude_uncertainty_arcmin"] < 0.2
    # 2.5' x 180 mm / 1.5 mm down, 3' x 120 mm / 1.5 mm to the east.
    assert found["altitude_turns"] == pytest.approx(-0.0873, rel=0.08)
    assert found["azimuth_turns"] == pytest.approx(0.0698, rel=0.08)
    advice = answer(capsys, "advise", found["advice"]["target"], "--night", found["advice"]["night"],
                    "--set", f"mount.polar_altitude_error={found['altitude_error_arcmin']:.3f} arcmin",
                    "--set", f"mount.polar_azimuth_error={found['azimuth_error_arcmin']:.3f} arcmin")
    assert found["advice"]["after"]["unguided_longest_s"] == pytest.approx(advice["unguided"]["longest_s"], rel=1e-3)


def test_polar_from_drift_logs_and_by_hand(capsys, tmp_path):
    # Ten minutes centred on the meridian and on hour angle -6 h: begun there, the 2.5 deg that the sky
    # turns would mix 0.15 arcmin of one error into the other.
    by_hand = answer(capsys, "polar", "--run=-1.2534,0,10,-0.9278", "--run=-91.2534,0,10,1.3122", "--latitude", "45",
                     "--no-refraction")
    assert by_hand["azimuth_error_arcmin"] == pytest.approx(5, abs=0.01)
    assert by_hand["altitude_error_arcmin"] == pytest.approx(5, abs=0.01)
    text = (DATA / "drift_demo.csv").read_text(encoding="utf-8")
    east = tmp_path / "east.csv"
    east.write_text(text.replace("# hour_angle_deg: -14.0", "# hour_angle_deg: -95"), encoding="utf-8")
    logs = answer(capsys, "polar", "--drift", DRIFT, "--drift", east)
    assert logs["latitude_deg"] == 47.4
    assert logs["scatter_arcsec"] is None


def test_polar_saves_into_the_mount(capsys, own):
    code, out, _ = planner(capsys, "polar", POLAR, "--equipment", own, "--save", "--rig", "galaxies")
    assert code == 0
    assert 'Mount "friction": changed' in out
    assert load_equipment(own).rig("galaxies").mount.polar_altitude_error.value == pytest.approx(2.5, abs=0.2)


def test_sky_positions_with_times(capsys, tmp_path):
    # Three exposures of a still mount, the sky going by: nothing turned, so there is no axis to find.
    rows = "".join(f"2026-11-25T{hour}:00:00Z,{10 + 15.04 * (hour - 19)},60\n" for hour in (19, 21, 23))
    path = tmp_path / "sky.csv"
    path.write_text(f"# latitude_deg: 47\n# longitude_deg: 15\ntime_utc,ra_deg,dec_deg\n{rows}", encoding="utf-8")
    code, _, err = planner(capsys, "polar", path, "--json")
    assert code == 2
    assert "must turn about one within 15 deg" in err
    turned = "".join(f"2026-11-25T20:0{i}:00Z,{(330 + 25 * i) % 360},60\n" for i in range(4))
    path.write_text(f"# latitude_deg: 47\n# longitude_deg: 15\ntime_utc,ra_deg,dec_deg\n{turned}", encoding="utf-8")
    found = answer(capsys, "polar", path, "--no-refraction")
    # Equal declinations of J2000: the axis is the pole of J2000, 9 arcmin from that of date after 26.9 years of
    # precession (20.04 arcsec a year, IAU 2006); aberration (20 arcsec) and nutation (9 arcsec) shift it by up to 0.5.
    offset = (found["altitude_error_arcmin"]**2 + (found["azimuth_error_arcmin"] * 0.682)**2) ** 0.5
    assert offset == pytest.approx(20.04 * 26.9 / 60, abs=0.55)


def test_pointing_json_holds_the_design_keys(capsys):
    found = answer(capsys, "pointing", POINTING, "--dec", "20")
    put_in = {"hour_angle_zero": -340, "declination_zero": 210, "collimation": 95, "axes_not_square": -60,
              "polar_altitude": 150,
              "polar_azimuth": -122, "tube_flexure": 30}
    for name, value in put_in.items():
        assert abs(found["terms"][name]["value_arcsec"] - value) < 4 * found["terms"][name]["error_arcsec"]
    assert found["outliers"] == [31]
    assert found["rms_before_arcsec"] > 100
    assert found["rms_held_out_arcsec"] == pytest.approx(2.0, rel=0.15)
    assert found["polar_axis"]["altitude_error_arcmin"] == pytest.approx(2.5, abs=0.05)
    assert len(found["drift"]) == 12


def test_pointing_of_one_side_says_what_is_tied(capsys, tmp_path):
    rows = [line for line in (DATA / "pointing_demo.csv").read_text(encoding="utf-8").splitlines()
            if not line.endswith(",west")]
    path = tmp_path / "east.csv"
    path.write_text("\n".join(rows), encoding="utf-8")
    code, out, _ = planner(capsys, "pointing", path)
    assert code == 0
    assert "hour angle zero and collimation are tied" in out
    found = answer(capsys, "pointing", path)
    assert found["tied"][0]["terms"] == ["hour_angle_zero", "collimation"]
    assert found["terms"]["collimation"]["value_arcsec"] is None


@pytest.mark.usefixtures("no_advice")
def test_sightings_of_the_wrong_side_are_not_saved(capsys, own, tmp_path):
    path = tmp_path / "west.csv"
    path.write_text((DATA / "pointing_demo.csv").read_text(encoding="utf-8").replace(",east", ",west"),
                    encoding="utf-8")
    words = ("pointing", path, "--equipment", own)
    assert answer(capsys, *words)["doubts"][0]["kind"] == "pier side"
    assert "Doubtful: Sides of the pier" in planner(capsys, *words)[2]
    code, _, err = planner(capsys, *words, "--save")
    assert code == 2
    assert "--anyway saves it" in err
    assert planner(capsys, *words, "--save", "--anyway")[0] == 0


@pytest.mark.usefixtures("no_advice")
def test_pointing_saves_the_polar_axis(capsys, own):
    code, _, err = planner(capsys, "pointing", POINTING, "--equipment", own, "--save", "--terms",
                           "hour_angle_zero,declination_zero")
    assert code == 2
    assert "needs both angles of the polar axis" in err
    code, _, _ = planner(capsys, "pointing", POINTING, "--equipment", own, "--save")
    assert code == 0
    mount = load_equipment(own).rig().mount
    assert mount.polar_azimuth_error.value == pytest.approx(-3, abs=0.1)
    assert 0 < mount.errors["polar_azimuth_error"].value < 0.1
    assert 0 < mount.errors["tube_flexure"].value < 3


@pytest.mark.parametrize(("words", "match"), [
    (("drift",), "Missing argument"), (("drift", "nowhere.csv"), "is not there"), (("drift", POINTING), "time_s"),
    (("drift", DRIFT, "--dec", "95"), "at most 90 deg"), (("drift", DRIFT, "--dec", "nan"), "finite"),
    (("drift", DRIFT, "--centroid-noise", "3 x"), "a number with a unit"),
    (("drift", DRIFT, "--save"), "packaged demo and cannot be changed"),
    (("polar",), "needs a file of solved positions, or two drifts"), (("polar", POLAR, "--drift", DRIFT), "two drifts"),
    (("polar", "--run", "1,2,3"), "must be four numbers"), (("polar", "--run=1,2,3,4"), "at least two"),
    (("polar", "--run=1,95,3,4"), "out of range"), (("polar", POINTING), "do not fix the axis"),
    (("polar", POLAR, "--altitude-screw", "3"), "a thread pitch and a lever arm"),
    (("pointing", DRIFT), "hour_angle_deg"), (("pointing", POINTING, "--terms", "wobble"), "is not a term"),
    (("pointing", POINTING, "--terms", ","), "at least one term"),
    (("pointing", POINTING, "--latitude", "99"), "at most 90"), (("pointing", POINTING, "--site", "moon"), "moon"),
])
def test_silly_input_is_one_line_and_code_2(capsys, words, match):
    code, out, err = planner(capsys, *words)
    assert code == 2
    assert out == ""
    lines = [line for line in err.splitlines() if "packaged demo equipment" not in line and "from the site" not in line]
    assert len(lines) == 1
    assert match in lines[0]


def guided_file(folder):
    rng = np.random.default_rng(3)
    time, *paths = motion(rng, 10)
    log = rows(rng, time, guided(rng, paths))
    path = folder / "held.csv"
    path.write_text("# dec_deg: 10\ntime_s,ra_arcsec,dec_arcsec\n" + "".join(
        f"{t:.1f},{x:.3f},{y:.3f}\n" for t, x, y in zip(log.time.value, log.ra.value, log.dec.value, strict=True)))
    return path


@pytest.mark.usefixtures("no_advice")
def test_a_doubtful_log_is_saved_only_on_demand(capsys, own, tmp_path):
    path, before = guided_file(tmp_path), own.read_text(encoding="utf-8")
    found = answer(capsys, "drift", path, "--equipment", own)
    assert [doubt["kind"] for doubt in found["doubts"]] == ["guided"]
    code, out, err = planner(capsys, "drift", path, "--equipment", own, "--save")
    assert (code, out) == (2, "")
    assert "a star guided in RA and Dec" in err
    assert "--anyway saves it" in err
    assert own.read_text(encoding="utf-8") == before
    assert planner(capsys, "drift", path, "--equipment", own, "--save", "--anyway")[0] == 0
    assert own.read_text(encoding="utf-8") != before


@pytest.mark.usefixtures("no_advice")
def test_a_log_is_saved_once_until_the_table_is_put_back(capsys, own):
    saving = ("drift", DRIFT, "--equipment", own, "--save")
    assert planner(capsys, *saving)[0] == 0
    saved = own.read_text(encoding="utf-8")
    code, _, err = planner(capsys, *saving)
    assert code == 2
    assert "once more it would count twice. Put the table back first" in err
    assert own.read_text(encoding="utf-8") == saved
    mount = load_equipment(own).rig("nebulae").mount.name
    put_table_back(own, "mount", mount, table_history(own, "mount", mount)[0])
    assert planner(capsys, *saving)[0] == 0
    assert own.read_text(encoding="utf-8") == saved
    assert planner(capsys, *saving, "--anyway")[0] == 0
