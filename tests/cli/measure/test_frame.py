"""`planner frame` as an observer types it: one frame, many, a series as a drift log, and silly input."""

import json
import os
import re
import subprocess
import sys

import galsim
import numpy as np
import pytest
from astropy import units as u
from astropy.io import fits
from astropy.time import Time
from cli.asked import answer, planner
from measure.frame.test_real_frames import DATA, PLATE
from measure.frame_sim import PROFILES, Sky, draw

from planner.files.own_files import packaged_data

START = Time("2026-03-14T20:00:00", scale="utc")
ALONE = ("--workers", 1)  # to start processes takes longer than to measure frames so small


def written(folder, name, image, **header):
    path = folder / name
    unit = fits.PrimaryHDU(image)
    for key, value in header.items():
        unit.header[key.replace("_", "-")] = value
    unit.writeto(path)
    return path


@pytest.fixture(scope="module")
def image():
    return draw(Sky(fwhm=3.0, trail=2.5, angle=30, stars=150, size=360, seed=1))[0]


@pytest.fixture
def frame(tmp_path, image):
    return written(tmp_path, "trailed.fits", image, EXPTIME=120.0, DATE_OBS=START.isot)


def test_json_holds_the_design_keys(capsys, frame):
    found = answer(capsys, "frame", frame)
    item = found["frames"][0]
    assert {"file", "stars", "fwhm_pixels", "elongation", "elongation_error", "position_angle_deg", "verdict",
            "parts"} <= item.keys()
    assert item["parts"].keys() == {"common", "radial", "tilt", "rotation"}
    assert item["file"] == str(frame)
    assert item["stars"] > 120
    assert item["trail"]["length_pixels"] == pytest.approx(2.5, abs=0.15)
    assert item["position_angle_of"] == "image"
    assert item["position_angle_deg"] == pytest.approx(120, abs=3)  # 30 deg from +x is 120 from up over left
    assert "fwhm_arcsec" not in item  # nobody said how much sky a pixel sees
    assert item["exposure_s"] == 120
    assert item["start_utc"] == "2026-03-14T20:00:00Z"
    assert found["skipped"] == []


def test_scale_and_camera_angle_put_the_trail_on_the_sky(capsys, frame):
    item = answer(capsys, "frame", frame, "--image-scale", 1.2, "--camera-angle", 10, "--target", "10 02 00 +20 30 00")[
        "frames"][0]
    assert item["fwhm_arcsec"] == pytest.approx(1.2 * item["fwhm_pixels"])
    assert item["position_angle_deg"] == pytest.approx(130, abs=3)
    sky = item["trail"]["sky"]
    assert sky["length_arcsec"] == pytest.approx(3.0, abs=0.2)
    assert sky["rate_arcsec_per_min"] == pytest.approx(1.5, abs=0.1)
    assert sky["ra_arcsec"] == pytest.approx(-3.0 * np.sin(np.radians(50)), abs=0.2)
    assert sky["dec_arcsec"] == pytest.approx(3.0 * np.cos(np.radians(50)), abs=0.2)
    first, second = sky["either_of"]
    assert first["rate_error_ppm"] == pytest.approx(-second["rate_error_ppm"])
    mirrored = answer(capsys, "frame", frame, "--image-scale", 1.2, "--camera-angle", 10, "--mirrored")["frames"][0]
    assert mirrored["position_angle_deg"] == pytest.approx(70, abs=3)


def test_a_rig_gives_scale_prediction_and_causes(capsys, frame):
    words = ("frame", frame, "--rig", "nebulae", "--site", "hill", "--target", "M 81", "--camera-angle", 0)
    item = answer(capsys, *words)["frames"][0]
    assert item["image_scale_arcsec_per_pixel"] == pytest.approx(206.265 * 3.8 / 800, rel=1e-4)
    assert -180 <= item["hour_angle_deg"] <= 180
    assert item["dec_deg"] == pytest.approx(68.9, abs=0.3)  # M 81 of date
    assert item["predicted"].keys() >= {"fwhm_arcsec", "elongation", "answer", "elongation_10_90_percent"}
    assert item["trail"]["sky"]["either_of"][0]["polar_altitude_error_arcmin"] is not None
    out = planner(capsys, *words)[1]
    assert "predicted" in out
    assert "If it went north" in out
    assert "polar axis" in out


def test_the_demo_is_not_taken_for_the_observers_rig(capsys, frame):
    code, out, err = planner(capsys, "frame", frame)
    assert code == 0
    assert err == ""
    assert "″" not in out
    assert "camera angle unknown" in out
    assert "Grade: reject: elongation 0.1" in out


def test_an_own_equipment_file_counts(capsys, frame, tmp_path):
    for name in ("equipment.toml", "horizon_hill.csv", "horizon_paddock.csv"):
        (tmp_path / name).write_bytes(packaged_data(name).read_bytes())
    item = answer(capsys, "frame", frame, "--equipment", tmp_path / "equipment.toml")["frames"][0]
    assert "fwhm_arcsec" in item
    assert any("target" in line for line in item["notes"])  # what is missing for a prediction is named


def test_many_frames_a_bad_one_is_named_and_skipped(capsys, tmp_path, image):
    sharp = draw(Sky(fwhm=3.0, stars=150, size=360, seed=1))[0]
    good = [written(tmp_path, f"{index}.fits", sharp + index, DATE_OBS=(START + index * u.min).isot)
            for index in range(5)]
    bad = tmp_path / "bad.fits"
    bad.write_text("no frame")
    long = written(tmp_path, "long.fits", image, DATE_OBS=(START + 6 * u.min).isot)
    code, out, err = planner(capsys, "frame", *good, bad, long, *ALONE)
    assert code == 0
    assert err.startswith("Skipped: frame = ")
    assert err.endswith("/bad.fits: is not a FITS file. Give a frame saved as FITS.\n")
    assert "keep 5, look 0, reject 1" in out
    found = answer(capsys, "frame", *good, bad, long, *ALONE)
    assert [item["verdict"] for item in found["frames"]] == ["keep"] * 5 + ["reject"]
    assert [item["file"] for item in found["skipped"]] == [str(bad)]
    assert {trend["name"] for trend in found["trends"]} == {"FWHM", "elongation", "stars", "background"}


def test_half_of_the_light_does_not_pass(capsys, tmp_path):
    # The same stars at half of their light, and once at 0.7 of it: cloud. One frame of rings: out of focus.
    for index, share in enumerate((1, 1, 0.5, 1, 0.7, 1)):
        sky = Sky(fwhm=3.0, stars=120, size=320, seed=1, flux=(4e3 * share, 1e5 * share))
        image = draw(sky)[0] + np.random.default_rng(index).normal(0, 3, (320, 320)).astype(np.float32)
        written(tmp_path, f"{index}.fits", image, EXPTIME=60.0, DATE_OBS=(START + index * u.min).isot)
    found = answer(capsys, "frame", tmp_path, *ALONE)["frames"]
    assert [item["verdict"] for item in found] == ["keep", "keep", "reject", "keep", "look", "keep"]
    assert [item["light"] for item in found] == pytest.approx([1, 1, 0.5, 1, 0.7, 1], abs=0.02)
    # Squared signal to noise of faint stars: a quarter and a half of the best frame's.
    assert found[2]["weight"] == pytest.approx(0.25, abs=0.02)
    code, out, _ = planner(capsys, "frame", tmp_path, *ALONE)
    assert code == 0
    assert "Cloud or haze on two frames" in out
    assert max(len(line) for line in out.splitlines() if "reject  " in line) <= 80


def test_cloud_over_one_side_counts_by_what_all_pixels_lose(capsys, tmp_path):
    # Cloud to the left of the middle takes 60 % of the light there: 0.3 of all. Over the upper half it takes all: 0.5.
    sky = Sky(fwhm=3.0, stars=120, size=320, seed=1, flux=(4e3, 1e5))
    stars = draw(sky)[0]
    ground = float(np.median(stars))
    for index in range(6):
        cloud = np.ones((320, 320))
        if index == 2:
            cloud[:, :160] = 0.4
        if index == 4:
            cloud[160:] = 0.0
        image = ground + (stars - ground) * cloud + np.random.default_rng(index).normal(0, 3, (320, 320))
        written(tmp_path, f"{index}.fits", image.astype(np.float32), EXPTIME=60.0,
                DATE_OBS=(START + index * u.min).isot)
    found = answer(capsys, "frame", tmp_path, *ALONE)["frames"]
    assert [item["verdict"] for item in found] == ["keep", "keep", "look", "keep", "reject", "keep"]
    # The halves across the edge of a cloud hold both, so that the mean of all is told within 0.06.
    assert [item["light"] for item in found] == pytest.approx([1, 1, 0.7, 1, 0.5, 1], abs=0.06)
    assert found[2]["reasons"][0].endswith("40 % towards the left: cloud or haze")
    assert found[4]["reasons"][0].endswith("towards the top: cloud or haze")


def test_the_frames_to_drop_are_a_list_for_other_commands(capsys, tmp_path, image):
    sharp = draw(Sky(fwhm=3.0, stars=150, size=360, seed=1))[0]
    night = tmp_path / "night"
    night.mkdir()
    good = [written(night, f"{index}.fits", sharp + index) for index in range(4)]
    long = written(night, "long.fits", image)
    code, out, err = planner(capsys, "frame", night, *ALONE, "--rejects", "-")
    assert (code, out, err) == (3, f"{long}\n", "")
    listed = tmp_path / "rejects.txt"
    assert planner(capsys, "frame", night, *ALONE, "--rejects", listed)[0] == 3
    assert listed.read_text() == f"{long}\n"
    assert planner(capsys, "frame", night, *ALONE, "--rejects", listed)[0] == 2  # never written over
    assert planner(capsys, "frame", *good, *ALONE, "--rejects", "-")[:2] == (0, "")


def test_rings_are_out_of_focus(capsys, tmp_path):
    # A hollow disc of light, 14 pixels wide, as through an obstructed telescope far out of focus.
    random = np.random.default_rng(3)
    image = random.normal(1000, 8, (500, 500))
    rows, columns = np.mgrid[-9:10, -9:10]
    radius = np.hypot(rows, columns)
    ring = np.clip(7.5 - radius, 0, 1) * np.clip(radius - 2.5, 0, 1)
    for row, column in random.integers(20, 470, (60, 2)):
        image[row: row + 19, column: column + 19] += ring * random.uniform(200, 2000)
    code, out, _ = planner(capsys, "frame", written(tmp_path, "rings.fits", image.astype(np.float32)))
    assert code == 0
    assert "out of focus: the stars are rings 1" in out  # 14 px, by its half light
    assert "nan" not in out


def test_a_header_against_its_pixels_is_named(capsys, tmp_path, image):
    item = answer(capsys, "frame", written(tmp_path, "odd.fits", image, SATURATE=1.0))["frames"][0]
    assert item["stars_used"] > 100
    assert any("SATURATE of the header says that pixels clip at 1" in note for note in item["notes"])


def test_frames_are_measured_as_they_arrive(tmp_path):
    sharp, long = (draw(Sky(fwhm=3.0, trail=trail, stars=100, size=300, seed=1))[0] for trail in (0.0, 3.5))
    night = tmp_path / "night"
    night.mkdir()
    written(night, "0.fits", sharp)
    command = [sys.executable, "-m", "planner", "frame", "--watch", str(night), "--idle", "3"]
    wide = os.environ | {"COLUMNS": "300"}
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=wide) as running:
        lines = [running.stdout.readline() for _ in range(2)]
        assert lines[0].startswith("Watching")
        assert lines[1].startswith("0.fits  keep")
        data = written(tmp_path, "1.fits", long).read_bytes()
        (night / "1.fits").write_bytes(data)
        out, err = running.stdout.read(), running.stderr.read()
    assert out.startswith("1.fits  reject: elongation 0.2")
    assert out.count(".fits") == 1
    assert (running.returncode, err) == (0, "")


def test_a_frame_from_standard_input(frame):
    done = subprocess.run([sys.executable, "-m", "planner", "frame", "-", "--json"], input=frame.read_bytes(),
                          capture_output=True, check=True)
    assert json.loads(done.stdout)["frames"][0]["stars_used"] > 100


def test_processes_change_nothing(capsys, tmp_path, image):
    paths = [written(tmp_path, f"{index}.fits", image + index) for index in range(3)]
    one, two = (answer(capsys, "frame", *paths, "--workers", workers) for workers in (1, 2))
    assert one == two


def test_a_series_becomes_a_drift_log(capsys, tmp_path):
    # 14 frames of one field; the stars drift by 0.6 pixel a minute east (towards lower columns) and 0.3 north.
    sky = Sky(fwhm=3.0, stars=60, size=300, seed=3)
    paths = []
    random = np.random.default_rng(3)
    _, truth = draw(sky)
    for index in range(14):
        shifted = np.full((300, 300), 1000.0) + random.normal(0, 10, (300, 300))
        rows, columns = np.mgrid[:300, :300]
        for x, y, light in truth[:40]:
            x, y = x - 0.6 * index, y + 0.3 * index
            square = (columns - x) ** 2 + (rows - y) ** 2
            shifted += light / (2 * np.pi * 1.3**2) * np.exp(-square / 2 / 1.3**2)
        paths.append(written(tmp_path, f"s{index:02d}.fits", shifted.astype(np.float32), EXPTIME=10.0,
                             DATE_OBS=(START + index * u.min).isot))
    log = tmp_path / "drift.csv"
    words = ("frame", *paths, *ALONE, "--log", log, "--image-scale", 2, "--camera-angle", 0, "--target",
             "10 00 00 +20 00 00", "--site", "hill")
    code, out, _ = planner(capsys, *words)
    assert code == 0
    assert f"planner drift {log}" in " ".join(out.split())
    assert "# dec_deg: 19.87" in log.read_text()  # of date
    assert "# latitude_deg: 47.4" in log.read_text()
    found = answer(capsys, "drift", log)
    assert found["ra_rate_arcsec_per_min"] == pytest.approx(1.2, abs=0.02)
    assert found["dec_rate_arcsec_per_min"] == pytest.approx(0.6, abs=0.02)
    code, _, err = planner(capsys, *words)
    assert code == 2
    assert "is there already and is never overwritten" in err


@pytest.mark.parametrize("option", ["--log", "--stars", "--rejects"])
def test_an_output_that_cannot_be_written_is_told_before_a_frame_is_measured(capsys, tmp_path, monkeypatch, option):
    frame = tmp_path / "none.fits"
    frame.write_text("no frame, which would be told first")
    for path, words in ((tmp_path / "no" / "x.csv", "a folder that is not there"), (frame, "never overwritten"),
                        (tmp_path, "must be a file")):
        code, out, err = planner(capsys, "frame", frame, option, path)
        assert (code, out, err.count("\n")) == (2, "", 1)
        assert err.startswith(f"{option} = ")
        assert words in err
    monkeypatch.setattr("os.access", lambda path, mode: mode == os.R_OK)
    assert "cannot be written (Permission denied)" in planner(capsys, "frame", frame, option, tmp_path / "x.csv")[2]


def test_the_stars_can_be_written(capsys, frame, tmp_path):
    table = tmp_path / "stars.csv"
    assert planner(capsys, "frame", frame, "--stars", table)[0] == 0
    rows = table.read_text().splitlines()[1:]
    assert rows[0] == "file,x_pixels,y_pixels,flux,signal_to_noise,fwhm_pixels,elongation,angle_deg"
    values = np.array([row.split(",")[1:] for row in rows[1:]], dtype=float)
    assert len(values) > 100
    assert np.median(values[:, 6]) == pytest.approx(30, abs=3)


def test_the_real_plate(capsys):
    code, out, err = planner(capsys, "frame", PLATE)
    assert code == 0
    assert err == ""
    assert "position angle" in out
    item = answer(capsys, "frame", PLATE)["frames"][0]
    assert item["position_angle_of"] == "sky"
    assert item["dec_deg"] == pytest.approx(36.46, abs=0.01)  # CRVAL2 of its header


@pytest.mark.optional_data
@pytest.mark.skipif(not (DATA / "ccd_frame.fits").is_file(), reason="shared/data with the real frame is not here")
def test_the_real_frame(capsys):
    item = answer(capsys, "frame", DATA / "ccd_frame.fits")["frames"][0]
    assert item["stars_used"] >= 15
    assert not item["trail"]["significant"]


SILLY = [
    (["frame"], "Missing argument"), (["frame", "/no/such.fits"], "frame = /no/such.fits: is not there."),
    (["frame", "/"], "is a folder without FITS files"),
    (["frame", "FRAME", "--image-scale", "0"], "--image-scale = 0: must be more than 0"),
    (["frame", "FRAME", "--image-scale", "x"], "must be a number with a unit"),
    (["frame", "FRAME", "--image-scale", "nan"], "image-scale"),
    (["frame", "FRAME", "--camera-angle", "30"], "needs the sky per pixel beside it"),
    (["frame", "FRAME", "--camera-angle", "999", "--image-scale", "1"], "must be at most 360"),
    (["frame", "FRAME", "--target", "no such thing"], "is not in the catalogue"),
    (["frame", "FRAME", "--exposure", "-1"], "--exposure = -1: must be more than 0 s"),
    (["frame", "FRAME", "--rig", "none"], "is not in the equipment file"),
    (["frame", "FRAME", "--rig", "nebulae", "--filter", "x"], "is not in the equipment file"),
    (["frame", "FRAME", "--colour", "pink"], "must be red, green or blue"),
    (["frame", "FRAME", "--mosaic", "XXXX"], "must be RGGB"),
    (["frame", "FRAME", "--workers", "0"], "must be at least 1"),
    (["frame", "FRAME", "--log", "x.csv"], "needs the camera's place on the sky"),
    (["frame", "FRAME", "--stars", "/no/folder/x.csv"], "lies in a folder that is not there"),
    (["frame", "FRAME", "--watch"], "must be a folder"), (["frame", "FRAME", "FRAME", "--watch"], "must be one folder"),
    (["frame", "FRAME", "--watch", "--idle", "0"], "--idle = 0: must be more than 0 s"),
    (["frame", "FRAME", "--saturation", "-4"], "saturation = -4.0: must be more than 0"),
]


@pytest.mark.parametrize(("words", "line"), SILLY, ids=[" ".join(words) for words, _ in SILLY])
def test_bad_input_is_one_line_and_code_2(capsys, frame, words, line):
    code, out, err = planner(capsys, *(str(frame) if word == "FRAME" else word for word in words))
    assert code == 2
    assert out == ""
    assert line in err
    assert err.count("\n") == 1


def test_silly_frames_still_get_an_answer(capsys, tmp_path):
    frames = {
        "dark": np.zeros((100, 100), np.uint16), "white": np.full((100, 100), 65535, np.uint16),
        "noise": np.random.default_rng(1).normal(1000, 10, (100, 100)).astype(np.float32),
        "one": draw(Sky(fwhm=3.0, stars=1, size=120, flux=(5e4, 5e4), seed=4))[0],
        "ramp": np.arange(14400.0).reshape(120, 120),
    }
    for name, image in frames.items():
        code, out, err = planner(capsys, "frame", written(tmp_path, f"{name}.fits", image))
        assert code == 0, name
        assert err == ""
        assert "usable star" in out
        assert "Grade: " in out


def test_all_files_bad(capsys, tmp_path):
    for name in ("a.fits", "b.fits"):
        (tmp_path / name).write_text("x")
    code, out, err = planner(capsys, "frame", tmp_path / "a.fits", tmp_path / "b.fits")
    assert code == 2
    assert out == ""
    assert err.count("\n") == 1
    assert "(1 more cannot be used.)" in err


def test_help_loads_no_heavy_library():
    code = ("import sys\nfrom planner.cli import run\nrun(['frame', '--help'])\n"
            "print([m for m in ('sep', 'scipy', 'astropy.io.fits', 'astropy.coordinates') if m in sys.modules])")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.parametrize(("bare", "written"), [
    (["--exposure", "90"], ["--exposure", "1.5 min"]), (["--image-scale", "1.2"], ["--image-scale", "1.2 arcsec/pix"]),
    (["--image-scale", "2", "--camera-angle", "-30"], ["--image-scale", "2", "--camera-angle", "-1800 arcmin"]),
])
def test_an_option_without_unit_is_in_its_usual_one(capsys, frame, bare, written):
    assert answer(capsys, "frame", frame, *bare) == answer(capsys, "frame", frame, *written)


def test_a_trend_is_told_in_arcsec_where_the_scale_is_known(capsys, tmp_path):
    # Stars of 3 pixels that widen by 0.2 pixel a frame, at 2 arcsec a pixel.
    paths = [written(tmp_path, f"{index}.fits", draw(Sky(fwhm=3 + 0.2 * index, stars=80, size=300, seed=5))[0])
             for index in range(7)]
    for options, unit, size in (((), " pix", 0.2), (("--image-scale", "2"), "″", 0.4)):
        out = planner(capsys, "frame", *paths, *ALONE, *options)[1]
        slope = re.search(rf"FWHM: \+([0-9.]+){unit} ± [0-9.]+{unit} per frame", out)
        assert float(slope[1]) == pytest.approx(size, rel=0.1)


def test_a_frame_of_another_rig_or_by_day_has_no_prediction(capsys, tmp_path, image):
    words = ("--rig", "nebulae", "--site", "hill", "--target", "10 00 00 +47 24 00")
    mine, other, noon = (answer(capsys, "frame", written(
        tmp_path, f"{name}.fits", image, EXPTIME=5.0, DATE_OBS=start, XPIXSZ=3.8, FOCALLEN=length), *words)["frames"][0]
        for name, start, length in (("mine", START.isot, 790), ("other", START.isot, 400),
                                    ("noon", "2026-03-14T11:00:00", 800)))
    assert mine["image_scale_arcsec_per_pixel"] == pytest.approx(206.265 * 3.8 / 790, rel=1e-4)
    assert mine["predicted"] is not None
    assert (other["predicted"], noon["predicted"]) == (None, None)
    assert 'A pixel of the frame is 1.96″ of sky, one of rig "nebulae" 0.98″' in " ".join(other["notes"])
    assert "the Sun stood 40° above the horizon" in " ".join(noon["notes"])  # 90 - 47.4 - 2.4, at noon
    said = answer(capsys, "frame", tmp_path / "other.fits", *words, "--image-scale", "1 arcsec/pix")["frames"][0]
    assert said["image_scale_arcsec_per_pixel"] == 1


def star_of_the_rig(fwhm, scale):
    """Return a star near the zenith as GalSim makes it: Kolmogorov air, the rig's aperture, obstruction and blur."""
    return galsim.Convolve(
        galsim.Kolmogorov(fwhm=fwhm), galsim.Gaussian(fwhm=0.8 / scale), galsim.OpticalPSF(
            lam_over_diam=np.degrees(550e-9 / 0.2) * 3600 / scale, obscuration=0.35))


def test_the_error_of_a_seeing_is_that_of_the_width_times_what_the_seeing_makes_of_it(capsys, tmp_path, monkeypatch):
    # Fine air under coarse pixels and few faint stars: a width changes less than the seeing does. By how much less
    # GalSim's own widths tell; 5 % for focus and motion beside it (common practice, no source).
    scale = 206.265 * 3.8 / 800
    monkeypatch.setitem(PROFILES, "rig", lambda fwhm: star_of_the_rig(fwhm, scale))
    image = draw(Sky(fwhm=1.0 / scale, profile="rig", stars=12, size=200, flux=(900, 1800), seed=4))[0]
    path = written(tmp_path, "fine.fits", image, EXPTIME=5.0, DATE_OBS=START.isot)
    found = answer(capsys, "frame", path, "--rig", "nebulae", "--site", "hill", "--target", "10 00 00 +47 24 00",
                   "--hour-angle", 0, "--guided")
    frame, seeing = found["frames"][0], found["seeing"]
    at = seeing["zenith_500_nm_arcsec"] * (550 / 500) ** -0.2 / scale
    width = [galsim.Convolve(star_of_the_rig(at * step, scale), galsim.Pixel(1)).calculateFWHM()
             for step in (0.98, 1.02)]
    times = np.log(1.02 / 0.98) / np.log(width[1] / width[0])
    assert times > 1.4
    own = times * frame["fwhm_error_arcsec"] / frame["fwhm_arcsec"]
    assert seeing["error_arcsec"] / seeing["zenith_500_nm_arcsec"] == pytest.approx(np.hypot(0.05, own), rel=0.1)


def test_the_seeing_of_a_night_is_kept_for_the_site(capsys, tmp_path, monkeypatch):
    scale = 206.265 * 3.8 / 800
    monkeypatch.setitem(PROFILES, "rig", lambda fwhm: star_of_the_rig(fwhm, scale))
    for name in ("equipment.toml", "horizon_hill.csv", "horizon_paddock.csv"):
        (tmp_path / name).write_bytes(packaged_data(name).read_bytes())
    sky = Sky(fwhm=2.8 / scale, profile="rig", stars=30, size=200, seed=4)
    path = written(tmp_path, "round.fits", draw(sky)[0], EXPTIME=5.0, DATE_OBS=START.isot)
    words = ("frame", path, "--rig", "nebulae", "--site", "hill", "--target", "10 00 00 +47 24 00", "--hour-angle", 0,
             "--guided", "--save", "--equipment", tmp_path / "equipment.toml")
    unnamed = planner(capsys, *words[:6], *words[8:])
    assert unnamed[2] == ("--save = seeing: lacks the target. Give the target, for the headers hold no RA and DEC.\n")
    untimed = written(tmp_path, "untimed.fits", draw(sky)[0], EXPTIME=5.0)
    assert "--save = seeing: lacks the time of the frames. " in planner(capsys, "frame", untimed, *words[2:])[2]
    seeing = answer(capsys, *words)["seeing"]
    assert seeing["night"] == "2026-03-14"
    assert seeing["zenith_500_nm_arcsec"] == pytest.approx(2.8 * (550 / 500) ** 0.2, rel=0.02)
    code, out, _ = planner(capsys, *words)  # the same night again takes the place of itself
    assert code == 0
    assert "by 1 night in seeing.csv" in " ".join(out.split())
    record = (tmp_path / "seeing.csv").read_text(encoding="utf-8").splitlines()
    assert [line.split(",")[1] for line in record] == ["night", "before", "2026-03-14"]
    assert re.search(r'seeing = "2\.[5-9]\d? ± 0\.\d+ arcsec"', (tmp_path / "equipment.toml").read_text("utf-8"))
    demo = planner(capsys, *words[:-2])
    assert demo[0] == 2
    assert "is the packaged demo and cannot be changed" in demo[2]
