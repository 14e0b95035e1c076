"""The pages under Measure: the demo, files handed in, files that are wrong, and the way back into the mount's table."""

import datetime
import functools
import io
import re
import shutil
import time
import tomllib

import numpy as np
import pytest
from app.conftest import fits_anywhere
from astropy import units as u
from astropy.io import fits
from measure.frame_sim import Sky, draw
from measure.simulated import mount_log
from streamlit.testing.v1 import AppTest

from planner.charts.measure import (
    axis_chart,
    axis_frame,
    drift_chart,
    drift_frame,
    outlines_frame,
    plan_chart,
    plan_frame,
    rates_chart,
    rates_frame,
    series_chart,
    series_frame,
    shape_map_chart,
    spectrum_chart,
    spectrum_frame,
    strokes_frame,
)
from planner.files.equipment import load_equipment
from planner.files.logs import read_drift_log, read_pointing
from planner.files.measured.frame_log import drift_log_text
from planner.files.measured.frame_task import Task, measure_file
from planner.files.own_files import packaged_data
from planner.measure.drift.report import analyse_drift
from planner.measure.drift.spectrum import drift_spectrum
from planner.measure.pointing.drift import path_drift
from planner.measure.pointing.fit import fit_pointing
from planner.measure.pointing.residual_plan import residual_plan
from planner.measure.polar.alignment import PolarAlignment
from planner.measure.stars.outlines import star_outlines
from planner.measure.stars.star_field import measure_frame
from planner.ui.measure import watching

NIGHT = "2026-11-10"  # one day after the new Moon of 2026 November 9, 07:02 UTC
START = datetime.datetime(2026, 11, 10, 19, 40)
CSV, FITS = "text/csv", "application/fits"
EQUIPMENT = ("equipment.toml", "horizon_hill.csv", "horizon_paddock.csv")


def show_frames():
    from planner.ui.measure.frame_page import page

    page()


def show_drift():
    from planner.ui.measure.drift_page import page

    page()


def show_pointing():
    from planner.ui.measure.pointing_page import page

    page()


def opened(script, **address):
    page = AppTest.from_function(script, default_timeout=120)
    for name, value in {"night": NIGHT, **address}.items():
        page.query_params[name] = value
    return page.run()


def words(page):
    kinds = ("header", "markdown", "success", "warning", "info", "error", "caption")
    return "\n".join(str(item.value) for kind in kinds for item in page.get(kind))


def table(page, column):
    """Return the first table that has a column of this name."""
    return next(item.value for item in page.table if column in item.value.columns)


@pytest.fixture(autouse=True)
def demo(monkeypatch, tmp_path):
    """The demo equipment, whatever this machine's user may own."""
    monkeypatch.delenv("PLANNER_EQUIPMENT", raising=False)
    nowhere = tmp_path / "none" / "equipment.toml"
    monkeypatch.setattr("planner.files.equipment.load.user_equipment_path", lambda: nowhere)


@pytest.fixture
def own(tmp_path, monkeypatch):
    """An equipment file of one's own."""
    return own_equipment(tmp_path, monkeypatch.setenv)


def own_equipment(folder, setenv):
    for name in EQUIPMENT:
        (folder / name).write_bytes(packaged_data(name).read_bytes())
    setenv("PLANNER_EQUIPMENT", str(folder / "equipment.toml"))
    return folder / "equipment.toml"


@pytest.fixture(scope="module")
def tired_log():
    """An hour on the demo's worn mount: it drifts, and its worm swings by 34 arcsec."""
    mount = load_equipment(packaged_data("equipment.toml")).rig("old pier").mount
    log = mount_log(3, mount, minutes=64, hour_angle=-20, declination=10, latitude=47.4, rows=1900, jitter=1.6)
    return drift_log_text(log).encode()


@pytest.fixture(scope="module")
def thin_log(tired_log):
    """Every eighth row of it, where only the page is tried."""
    head = [line for line in tired_log.splitlines() if not line[:1].isdigit()]
    return b"\n".join([*head, *tired_log.splitlines()[len(head)::8]])


@pytest.fixture(scope="module")
def frames():
    """Three frames of one field, the stars moving on, with places and times."""
    return [(f"light_{index}.fits", frame_bytes(index), FITS) for index in range(3)]


@functools.cache
def field():
    return draw(Sky(fwhm=3.0, trail=1.0, angle=20.0, stars=120, size=300, seed=9))[0]


def frame_bytes(index):
    unit = fits.PrimaryHDU(np.roll(field(), index, axis=1))
    time = (START + datetime.timedelta(minutes=2 * index)).isoformat()
    unit.header.update({
        "EXPTIME": 60.0, "DATE-OBS": time, "CTYPE1": "RA---TAN", "CTYPE2": "DEC--TAN", "CRVAL1": 339.267,
        "CRVAL2": 34.416, "CRPIX1": 150.5, "CRPIX2": 150.5, "CD1_1": -0.97 / 3600, "CD1_2": 0.0, "CD2_1": 0.0,
        "CD2_2": 0.97 / 3600})
    file = io.BytesIO()
    unit.writeto(file)
    return file.getvalue()


class TestFrames:
    def test_the_demo_is_measured_and_told(self):
        page = opened(show_frames)
        assert not page.exception
        assert not page.error
        text = words(page)
        assert page.header[0].value.startswith("The demo frame. Reject it: elongation 0.1")
        assert "This is the demo" in text
        # 2.9 arcsec east and 1.1 north went into the frame: tests/measure/demo_frame.py.
        assert re.search(r"On the sky 2\.[89]\d″ in right ascension and 1\.[01]\d″ in declination", text)
        assert "If it went north" in text
        assert "as with coma" in text
        assert "tilted sensor" in text
        assert table(page, "present")["present"].tolist() == ["yes", "yes", "yes", "no"]
        assert table(page, "left").shape == (3, 3)
        assert table(page, "predicted")["measured"].str.match(r"\d\.\d+").all()
        assert "drawn 3 times" in text
        assert "which of its two ways the star went" in text
        assert "Hand in a series instead: 12 or more short frames" in text
        page.selectbox(key="widget_site").select("paddock").run()  # half a world away
        assert "Nothing is predicted for it" in words(page)

    def test_a_rig_of_another_scale_predicts_nothing(self):
        page = opened(show_frames)
        assert table(page, "predicted")["predicted"].tolist()
        page.toggle(key="frame_guided").set_value(True).run()
        assert "0 predicted while guided" in words(page)
        page.selectbox(key="widget_rig").select("galaxies").run()
        assert not page.exception
        assert 'one of rig "galaxies" 0.746″: another rig' in words(page)
        assert "predicted while guided" not in words(page)

    def test_a_series_with_a_bad_file(self, frames):
        page = opened(show_frames)
        page.file_uploader(key="frame_files").set_value([*frames, ("notes.fits", b"no frame", FITS)]).run()
        assert not page.exception
        assert [item.value for item in page.error] == [
            "frame = notes.fits: is not a FITS file. Give a frame saved as FITS."]
        assert page.header[0].value == "3 frames: keep 3, look 0, reject 0"
        grades = page.dataframe[0].value
        assert grades["frame"].tolist() == [name for name, *_ in frames]
        page.selectbox(key="frame_picked").select("2: light_1.fits").run()
        assert page.header[1].value.startswith("Keep it")

    def test_frames_outlive_a_visit_to_another_page(self, frames):
        # The uploader forgets its files when its page is left: what was measured stays, until it is taken away.
        first = opened(show_frames)
        first.file_uploader(key="frame_files").set_value(list(frames)).run()
        page = AppTest.from_function(show_frames, default_timeout=60)
        page.session_state["kept_frame_files"] = first.session_state["kept_frame_files"]
        page.run()
        assert not page.exception
        assert page.header[0].value == "3 frames: keep 3, look 0, reject 0"
        assert "Nothing to do: go on as you are." in words(page)
        page.button(key="frame_drop").click().run()
        assert page.header[0].value.startswith("The demo frame.")

    def test_a_file_of_another_kind_leaves_no_verdict_standing(self):
        page = opened(show_frames)
        page.file_uploader(key="frame_files").set_value([("picture.jpg", b"\xff\xd8\xff", "image/jpeg")]).run()
        assert page.error[0].value == "frame = picture.jpg: is not a FITS file. Give a frame saved as FITS."
        assert not page.header

    def test_a_folder_is_watched_until_it_is_stopped(self, frames, tmp_path):
        page = opened(show_frames)
        page.text_input(key="frame_folder").set_value(str(tmp_path / "elsewhere"))
        page.button(key="frame_watch_start").click().run()
        assert "must be a folder" in page.error[0].value
        page.text_input(key="frame_folder").set_value(str(tmp_path))
        page.button(key="frame_watch_start").click().run()
        assert "no frame yet" in words(page)
        assert not page.header  # nor the demo's verdict
        for count, (name, content, _) in enumerate(frames[:2], start=1):
            (tmp_path / name).write_bytes(content)
            (tmp_path / f"bad{count}.fits").write_bytes(b"no frame")
            for _ in range(200):
                page.run()
                if f"{2 * count} so far." in words(page):
                    break
                time.sleep(0.25)
        assert len(page.error) == 2
        assert page.header[0].value.startswith("2 frames: ")
        assert page.selectbox(key="frame_picked_2").value.startswith("2: ")
        (tmp_path / "bad1.fits").write_bytes(frames[2][1])  # it was half there, or is written anew
        for _ in range(200):
            page.run()
            if page.header[0].value.startswith("3 frames: "):
                break
            time.sleep(0.25)
        assert len(page.error) == 1
        assert "4 so far." in words(page)
        shutil.rmtree(tmp_path)
        page.run()
        assert "The folder is not there" in words(page)
        page.button(key="frame_watch_stop").click().run()
        assert page.header[0].value.startswith("3 frames: ")
        assert "as measured before" in words(page)
        page.button(key="frame_drop").click().run()
        assert page.header[0].value.startswith("The demo frame.")

    def test_others_on_the_network_open_no_folder(self, monkeypatch):
        monkeypatch.setattr(watching.st, "get_option", lambda name: "0.0.0.0")
        assert not [one for one in opened(show_frames).text_input if one.key == "frame_folder"]

    def test_a_series_becomes_a_drift_log(self, frames):
        page = opened(show_frames)
        page.file_uploader(key="frame_files").set_value(list(frames)).run()
        assert page.button(key="frame_to_drift").disabled
        assert "A drift log needs at least 12 rows." in words(page)
        page.file_uploader(key="frame_files").set_value(
            [*frames, *((f"light_{index}.fits", frame_bytes(index), FITS) for index in range(3, 12))]).run()
        page.toggle(key="frame_guided").set_value(True).run()
        assert "These frames were guided" in words(page)
        page.toggle(key="frame_guided").set_value(False).run()
        page.button(key="frame_to_drift").click().run()
        kept = page.session_state["kept_drift_file"]
        rows = [line.split(",") for line in kept.data.decode().splitlines() if line[0].isdigit()]
        # Each frame lies one column, 0.97 arcsec, to the right of the one before: to the west.
        assert [float(row[0]) for row in rows] == [120 * index for index in range(12)]
        assert [float(row[1]) for row in rows] == pytest.approx([-0.97 * index for index in range(12)], abs=0.05)
        assert read_drift_log(kept).exposure == 60 * u.s

    def test_only_a_bad_file(self):
        page = opened(show_frames)
        page.file_uploader(key="frame_files").set_value([("notes.fits", b"", FITS)]).run()
        assert not page.exception
        assert "is empty" in page.error[0].value
        assert page.info[0].value == "No frame could be measured."

    def test_a_frame_without_stars_says_so(self):
        file = io.BytesIO()
        fits.PrimaryHDU(np.random.default_rng(1).normal(100, 5, (90, 90)).astype(np.float32)).writeto(file)
        page = opened(show_frames)
        page.file_uploader(key="frame_files").set_value([("dark.fits", file.getvalue(), FITS)]).run()
        assert not page.exception
        assert "usable star" in page.info[0].value
        page.file_uploader(key="frame_files").set_value(
            [(name, file.getvalue(), FITS) for name in ("dark.fits", "cover.fits")]).run()
        assert "Too few stars on two frames" in words(page)
        assert "Nothing to do" not in words(page)


class TestDrift:
    def test_the_demo_is_analysed_and_told(self):
        page = opened(show_drift)
        assert not page.exception
        assert not page.error
        text = words(page)
        # A worm of 501 s and 2 × 6 arcsec went into the log, at declination 12: tests/measure/demo_logs.py.
        assert re.match(r"Drift a minute: RA .*; 11\.\d″ peak to peak at Dec \+12° every 50[0-2] s",
                        page.header[0].value)
        assert table(page, "family")["family"].tolist()[0] == "base"
        assert "at least" in text
        assert page.button(key="save_drift").disabled
        assert "demo equipment cannot be changed" in text
        assert "The advice" in text

    def test_a_wrong_file_is_one_line_and_the_rest_stays(self):
        page = opened(show_drift)
        page.file_uploader(key="drift_file").set_value(("mine.csv", b"time_s,ra\n1,2\n", CSV)).run()
        assert not page.exception
        assert len(page.error) == 1
        assert page.error[0].value.startswith("drift log mine.csv: column ra_arcsec = (missing)")
        assert "polar axis" in words(page)  # the other tab
        page.file_uploader(key="drift_file").set_value(None).run()
        assert not page.error
        assert "This is the demo" in words(page)

    def test_a_log_that_knows_no_place_asks_for_it(self, thin_log):
        bare = b"\n".join(line for line in thin_log.splitlines() if not line.startswith(b"#"))
        page = opened(show_drift)
        page.file_uploader(key="drift_file").set_value(("mine.csv", bare, CSV)).run()
        assert not page.exception
        assert "Give the declination of the star above" in words(page)
        page.text_input(key="widget_drift_dec").set_value("10").run()
        assert "The polar axis and the drive rate stay as they were" in words(page)
        page.text_input(key="widget_drift_hour_angle").set_value("-20,0").run()
        assert not page.exception
        assert "too high +" in words(page)

    def test_a_log_stays_when_the_page_is_left(self, thin_log):
        page = opened(show_drift)
        page.file_uploader(key="drift_file").set_value(("mine.csv", thin_log, CSV)).run()
        kept = page.session_state["kept_drift_file"]
        again = AppTest.from_function(show_drift, default_timeout=120)
        again.query_params["night"] = NIGHT
        again.session_state["kept_drift_file"] = kept
        again.run()
        assert again.header[0].value == page.header[0].value
        again.button(key="drop_drift_file").click().run()
        assert "This is the demo" in words(again)

    def test_log_to_saved_mount_to_another_verdict(self, own, tired_log):
        before = advice_headline()
        page = opened(show_drift)
        page.file_uploader(key="drift_file").set_value(("mine.csv", tired_log, CSV)).run()
        assert not page.error
        assert "Once saved:** The advice changes" in words(page)
        page.button(key="save_drift").click().run()
        assert not page.exception
        assert page.success[0].value.startswith("Saved in equipment.toml")
        assert "The advice changes" in page.success[0].value
        mount = load_equipment(own).rig("nebulae").mount
        worst = max(mount.periodic, key=lambda term: term.amplitude)
        # The worn mount's first term is 17 arcsec every 615 s.
        assert worst.amplitude.to_value(u.arcsec) == pytest.approx(17, rel=0.05)
        assert worst.period.to_value(u.s) == pytest.approx(615, rel=0.01)
        assert tomllib.loads(own.with_name("equipment.toml.bak").read_text()) == tomllib.loads(
            packaged_data("equipment.toml").read_text())
        after = advice_headline()
        assert after != before
        assert after in page.success[0].value.replace("now, ", "")
        # A log that is weighed with what was known is not weighed with itself.
        assert "it would count twice" in page.info[-1].value
        assert "save_drift" not in {button.key for button in page.button}


def advice_headline():
    def show():
        from planner.ui.decide.advice_page import page

        page()

    return opened(show).header[0].value


class TestPolar:
    def test_the_demo_positions_give_the_axis(self):
        page = opened(show_drift)
        # 2.5 too high and 3 west went into the positions: tests/measure/demo_logs.py.
        assert page.header[1].value == "Polar axis: lower it by 2.5′, swing it 3.0′ to the east"
        assert "Once saved:** The advice " in words(page)

    def test_two_drifts_give_the_same(self):
        page = opened(show_drift)
        page.segmented_control(key="polar_method").set_value("two drifts").run()
        assert not page.exception
        assert re.match(r"Polar axis: lower it by 2\.[456]′, swing it [23]\.\d′ to the east", page.header[1].value)

    def test_too_few_rows_are_one_line(self):
        page = opened(show_drift)
        page.session_state["polar_runs"] = {"edited_rows": {}, "added_rows": [], "deleted_rows": [1]}
        page.segmented_control(key="polar_method").set_value("two drifts").run()
        assert not page.exception
        assert "drift runs = 1: must be at least two" in page.error[0].value

    def test_screws(self):
        page = opened(show_drift)
        for place, size in enumerate((1.5, 180.0, 1.5, 120.0)):
            page.text_input(key=f"widget_polar_screw_{place}").set_value(f"{size:g}".replace(".", ","))
        page.run()
        text = words(page)
        # 2.5 arcmin of 180 mm is 0.131 mm, 0.087 turns of 1.5 mm.
        assert re.search(r"0\.09 turns of the screw, in the sense that lowers", text)
        assert "swings it east" in text

    def test_times_and_places_on_the_sky(self):
        # Places of one declination: the axis stands at the catalogue's pole. Precession has carried the true pole away
        # from there since 2000 by 20.04 arcsec a year, 9.0 arcmin; nutation adds up to 0.2, aberration in 60 deg 0.3.
        rows = "time_utc,ra_deg,dec_deg\n" + "".join(
            f"2026-11-10T20:{minute:02d}:00Z,{ra},60.0\n" for minute, ra in ((0, 0.0), (3, 30.0), (6, 60.0)))
        page = opened(show_drift)
        page.file_uploader(key="polar_file").set_value(("turn.csv", rows.encode(), CSV)).run()
        assert not page.exception
        assert not page.error
        apart = float(re.search(r"Axis and true pole are ([\d.]+)′ apart", words(page))[1])
        assert apart == pytest.approx(20.04 * 26.86 / 60, abs=0.5)

    def test_a_wrong_time_is_one_line(self):
        rows = "time_utc,ra_deg,dec_deg\n" + "".join(f"yesterday,{ra},60\n" for ra in (0, 30, 60))
        page = opened(show_drift)
        page.file_uploader(key="polar_file").set_value(("turn.csv", rows.encode(), CSV)).run()
        assert not page.exception
        assert "time_utc = yesterday: must be a time in UTC" in page.error[0].value


class TestPointing:
    def test_the_demo_is_fitted_and_told(self):
        page = opened(show_pointing)
        assert not page.exception
        assert not page.error
        values = table(page, "meaning").set_index("term")["value (″)"]
        terms = {term: float(value.split(" ")[0].replace("−", "-")) for term, value in values.items()}
        # What went into the file: tests/measure/demo_logs.py.
        true = {"hour angle zero": -340, "declination zero": 210, "collimation": 95, "axes not square": -60,
                "polar altitude": 150, "polar azimuth": -122, "tube flexure": 30}
        assert terms == pytest.approx(true, abs=3)
        assert page.metric[3].value == "1 of 48"
        assert "swing it east" in words(page)
        assert table(page, "line").shape[0] == 1

    def test_one_side_of_the_pier_ties_terms(self):
        lines = packaged_data("pointing_demo.csv").read_text().splitlines()
        one = "\n".join(line for line in lines if not line.endswith("west")).encode()
        page = opened(show_pointing)
        page.file_uploader(key="pointing_file").set_value(("one.csv", one, CSV)).run()
        assert not page.exception
        assert "are tied" in words(page)
        assert all(" ± " in value for value in table(page, "meaning")["value (″)"])

    def test_no_terms_and_terms_without_the_axis(self):
        page = opened(show_pointing)
        page.multiselect(key="pointing_terms").set_value([]).run()
        assert page.error[0].value.startswith("terms = none")
        page.multiselect(key="pointing_terms").set_value(["hour_angle_zero", "declination_zero"]).run()
        assert not page.exception
        assert "Fit polar_altitude and polar_azimuth, both" in words(page)

    def test_the_model_is_saved(self, own):
        page = opened(show_pointing)
        assert page.button(key="save_pointing").disabled  # the demo's sightings are not of one's own mount
        page.file_uploader(key="pointing_file").set_value(
            ("mine.csv", packaged_data("pointing_demo.csv").read_bytes(), CSV)).run()
        page.button(key="save_pointing").click().run()
        assert not page.exception
        mount = load_equipment(own).rig("nebulae").mount
        assert mount.tube_flexure.to_value(u.arcsec) == pytest.approx(30, abs=3)
        # Polar axis 150 arcsec too high, 122 east of it on the sky, at 47.4 deg north.
        assert mount.polar_altitude_error.to_value(u.arcmin) == pytest.approx(2.5, abs=0.05)
        across = -122 / 60 / np.cos(np.radians(47.4))
        assert mount.polar_azimuth_error.to_value(u.arcmin) == pytest.approx(across, abs=0.1)

    def test_a_wrong_file_is_one_line(self):
        page = opened(show_pointing)
        page.file_uploader(key="pointing_file").set_value(("mine.csv", b"a,b\n1,2\n", CSV)).run()
        assert not page.exception
        assert len(page.error) == 1
        assert "pointing file mine.csv: column" in page.error[0].value


class TestPictures:
    def test_of_a_drift_log_hold_the_report(self):
        report = analyse_drift(read_drift_log(packaged_data("drift_demo.csv")))
        rows = drift_frame(report.ra)
        np.testing.assert_allclose(rows["place_arcsec"] - rows["fit_arcsec"], report.ra.residual_arcsec, atol=1e-12)
        spectrum = drift_spectrum(report, report.ra)
        assert spectrum_frame(spectrum)["evidence"].max() == spectrum.evidence.max()
        for chart in (drift_chart(report.ra, "RA"), spectrum_chart(spectrum, report.ra)):
            assert chart.to_dict()["$schema"]

    def test_of_a_pointing_fit_hold_the_residuals(self):
        file = read_pointing(packaged_data("pointing_demo.csv"))
        data = file.data(file.latitude)
        fit = fit_pointing(data)
        rows = plan_frame(residual_plan(data, fit))
        np.testing.assert_allclose(np.hypot(rows["across_arcsec"], rows["up_arcsec"]),
                                   np.hypot(*fit.residual.to_value(u.arcsec).T))
        drift = rates_frame(path_drift(fit, 34 * u.deg, step=15))
        assert set(drift["axis"]) == {"RA", "Dec"}
        assert len(drift) == 2 * 2 * 6
        assert plan_chart(residual_plan(data, fit)).to_dict()["$schema"]
        assert rates_chart(path_drift(fit, 34 * u.deg)).to_dict()["$schema"]

    def test_of_a_polar_axis_say_the_side(self):
        found = PolarAlignment(
            altitude_error=-1.5 * u.arcmin, altitude_uncertainty=0.1 * u.arcmin, azimuth_error=2 * u.arcmin,
            azimuth_uncertainty=0.2 * u.arcmin, offset=2 * u.arcmin, latitude=47 * u.deg, refracted_pole=1 * u.arcmin)
        assert axis_frame(found)["label"].tolist() == ["1.5′ too low", "2.0′ east"]
        assert axis_chart(found).to_dict()["$schema"]

    def test_of_frames_hold_the_stars(self):
        field = measure_frame(draw(Sky(fwhm=3.0, stars=150, size=300, seed=2))[0])
        drawn = star_outlines(field)
        assert len(strokes_frame(drawn)) == min(field.used, 400)
        assert outlines_frame(drawn)["part"].nunique() == int(np.isfinite(field.map_elongation).sum())
        assert shape_map_chart(drawn).to_dict()["$schema"]

    def test_of_a_series_hold_the_grades(self, frames, tmp_path):
        from planner.measure.frame.model import Known
        from planner.measure.frame.report import reported

        paths = []
        for name, data, _ in frames:
            (tmp_path / name).write_bytes(data)
            paths.append(tmp_path / name)
        done = [measure_file(Task(path=path, colour="green", mosaic=None, saturation=None, image_scale=None,
                                  telescope=None, wavelength=None)) for path in paths]
        known = Known(rig=None, site=None, band=None, target=None, scale=None, camera_angle=None, mirrored=False,
                      exposure=None, hour_angle=None, guided=False, axis_ratio=0.9, growth=0.3)
        report = reported(done, known)
        rows = series_frame(report)
        assert rows[rows["quantity"] == "elongation"]["value"].tolist() == [
            item.field.elongation for item in report.frames]
        assert series_chart(report, "elongation").to_dict()["$schema"]


WANTED = {  # path: heading, and what hangs below it when all is drawn
    "frame": ("Reject it", "Against the rig"), "drift": ("Drift a minute", "Save to the mount"),
    "pointing": ("The model takes", "Save to the mount"),
}


@pytest.mark.browser
@pytest.mark.parametrize("path", WANTED)
def test_a_page_from_a_fresh_profile(desktop, app_address, path):
    watched, page, (first, last) = desktop, desktop.page, WANTED[path]
    page.goto(f"{app_address}/{path}?night={NIGHT}")
    page.get_by_role("heading", name=first).first.wait_for()
    page.get_by_role("heading", name=last).first.wait_for()
    watched.settle()
    fits_anywhere(page)
    assert watched.errors == []
    assert watched.strangers == []
