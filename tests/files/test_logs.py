"""Logs written at the telescope: what is read, and how each bad row is named."""

import tracemalloc

import numpy as np
import pytest
from measure.demo_logs import DATA, DEMOS
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.files.logs import read_drift_log, read_pointing, read_positions
from planner.files.own_files import packaged_data
from planner.files.reading import InMemory

POINTING = "hour_angle_deg,declination_deg,mount_hour_angle_deg,mount_declination_deg,pier_side\n"


def written(folder, text):
    path = folder / "log.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_drift_log_with_header_and_gaps(tmp_path):
    log = read_drift_log(written(tmp_path, "# a note\n# Dec_deg: -12.5\n#hour_angle_deg: 30\n\n"
                                 "TIME_S, ra_arcsec ,dec_arcsec,mag\n"
                                 "0,1.5,−2.5,9\n1,,3,9\n2,nan,4,9\n3,5e0,6,9  # late\n4,7"))
    assert_allclose(log.time.value, [0, 1, 2, 3])
    assert_allclose(log.ra.value, [1.5, np.nan, np.nan, 5])
    assert_allclose(log.dec.value, [-2.5, 3, 4, 6])
    assert (log.declination.value, log.hour_angle.value, log.latitude) == (-12.5, 30, None)


@pytest.mark.parametrize("mark", [";", "\t"])
def test_other_separators(tmp_path, mark):
    log = read_drift_log(written(tmp_path, "time_s,ra_arcsec,dec_arcsec\n1,2,3\n".replace(",", mark)))
    assert log.dec.value == [3]


@pytest.mark.parametrize(("text", "match"), [
    ("time_s,ra_arcsec,dec_arcsec\n1,2,3\n2,x,4\n3,4,5\n", r"line 3: ra_arcsec = x: must be a number"),
    ("time_s,ra_arcsec,dec_arcsec\n1,2,3\n2,x,4\n3,y,inf\n",
     r"line 3 ra_arcsec = x; line 4 dec_arcsec = inf; line 4 ra"),
    ("time_s,ra_arcsec,dec_arcsec\n1,2\n2,3,4\n", r"line 2: dec_arcsec = \(missing\)"),
    ("time_s,ra,dec_arcsec\n1,2,3\n", r"column ra_arcsec = \(missing\).*Did you mean"),
    ("# dec_deg: 95\ntime_s,ra_arcsec,dec_arcsec\n1,2,3\n", r"line 1: dec_deg = 95: must be a number within ±90"),
    ("# exposure_s: 0\ntime_s,ra_arcsec,dec_arcsec\n1,2,3\n", r"exposure_s = 0: must be more than 0"),
    ("time_s,ra_arcsec,dec_arcsec\n", "must hold a line of column names and rows"),
    ("", "must hold a line of column names and rows"),
    (b"\x00\x01\x02", "binary"),
    ('time_s,ra_arcsec,dec_arcsec\n0,1,"2\n' + "1,0.25,0.5\n" * 14_000, 'line 2 = 0,1,"2: may hold double quotes only'),
    ("time_s,ra_arcsec,dec_arcsec\n0,1,2\n1,1," + "2" * 200_000, "line 3: dec_arcsec = 2222"),
])
def test_bad_drift_logs_are_named_in_one_line(tmp_path, text, match):
    with pytest.raises(InvalidInputError, match=match) as caught:
        read_drift_log(written(tmp_path, text))
    assert "\n" not in str(caught.value)


def test_many_bad_rows_are_counted(tmp_path):
    with pytest.raises(InvalidInputError, match="and 6 more"):
        read_drift_log(written(tmp_path, "time_s,ra_arcsec,dec_arcsec\n" + "1,a,2\n" * 10))


def test_size_is_bounded(tmp_path, monkeypatch):
    import planner.files.logs.table as logs

    path = written(tmp_path, "time_s,ra_arcsec,dec_arcsec\n" + "1,2,3\n" * 50)
    monkeypatch.setattr(logs, "MOST_ROWS", 20)
    with pytest.raises(InvalidInputError, match="at most 20"):
        read_drift_log(path)
    monkeypatch.setattr(logs, "LARGEST_LOG", 100)
    with pytest.raises(InvalidInputError, match="must be at most"):
        read_drift_log(path)


def test_lines_are_counted_before_they_are_cut():
    # Cut, each of these lines takes ten times its room in the file.
    data = b"time_s,ra_arcsec,dec_arcsec\n" + b"1,2,3\n" * 1_200_000
    tracemalloc.start()
    with pytest.raises(InvalidInputError, match="1200002 lines: must have at most 1000000"):
        read_drift_log(InMemory("long.csv", data))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 4 * len(data)


def test_a_long_log_is_held_as_numbers():
    # The file, its lines of some 70 bytes each, and three numbers a row; as cells these rows took 380 bytes each more.
    rows = 50_000
    data = b"time_s,ra_arcsec,dec_arcsec\n" + b"1234.56,-0.123,0.456\n" * rows
    tracemalloc.start()
    log = read_drift_log(InMemory("long.csv", data))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert log.time.size == rows
    assert peak < 3 * len(data) + rows * (75 + 6 * 8)


def test_short_rows_are_faults_but_at_the_end(tmp_path):
    head = "time_s,ra_arcsec,dec_arcsec\n"
    assert read_drift_log(written(tmp_path, head + "1,2,3\n2,2,3\n3,2\n4\n")).time.size == 2
    with pytest.raises(InvalidInputError, match=r"line 3: dec_arcsec = \(missing\)"):
        read_drift_log(written(tmp_path, head + "1,2,3\n2,2\n3,2,3\n4\n"))


def test_quoted_cells_and_any_end_of_line_are_read():
    log = read_drift_log(InMemory("log.csv", b'"time_s","ra_arcsec","note","dec_arcsec"\r\n'
                                             b'0,"1.5","cloud, wind",2\r4,3,,5'))
    assert_allclose(log.time.value, [0, 4])
    assert_allclose(log.dec.value, [2, 5])


def test_pointing_file(tmp_path):
    rows = "1,2,3,4,East\n5,,7,8,west\n9,10,11,12, west\n"
    found = read_pointing(written(tmp_path, "# latitude_deg: -32\n" + POINTING + rows))
    assert found.pier_side == ("east", "west")
    assert_allclose(found.mount_hour_angle.value, [3, 11])
    assert found.latitude.value == -32
    assert_allclose(found.lines, [3, 5])


@pytest.mark.parametrize(("row", "match"), [
    ("1,2,3,4,up", r"line 2: pier_side = up: must be east or west"), ("1,95,3,4,east", "line 2: declination_deg = 95"),
    ("1,2,3,4,", r"pier_side = \(empty\)"),
])
def test_bad_pointing_rows(tmp_path, row, match):
    with pytest.raises(InvalidInputError, match=match):
        read_pointing(written(tmp_path, POINTING + row + "\n1,2,3,4,west\n"))


def test_positions_both_ways(tmp_path):
    ground = read_positions(written(tmp_path, "hour_angle_deg,declination_deg\n1,2\n3,4\n5,6\n"))
    assert ground.ra is None
    assert_allclose(ground.hour_angle.value, [1, 3, 5])
    row = "2026-11-25T20:00:00Z,10,60\n"
    sky = read_positions(written(tmp_path, "# longitude_deg: 15\ntime_utc,ra_deg,dec_deg\n" + row))
    assert sky.time_utc == ("2026-11-25T20:00:00Z",)
    assert sky.header == {"longitude_deg": 15.0}
    with pytest.raises(InvalidInputError, match="the columns must be time_utc,ra_deg,dec_deg or hour_angle_deg"):
        read_positions(written(tmp_path, "a,b\n1,2\n"))


@pytest.mark.parametrize("name", DEMOS)
def test_demo_logs_are_what_their_script_makes(name):
    assert packaged_data(name).read_text(encoding="utf-8") == DEMOS[name]()
    assert "Origin: invented for this project" in (DATA / name).read_text(encoding="utf-8")


@pytest.mark.parametrize(("last", "match"), [
    ("1e9,0,0", "must span at most 86400 s"), ("80000,0,0\n80000.01,0,0", "must be a number"),
    ("1e308,0,0", "must be a number in range"), ("60,1e308,0", "must be a number in range"),
    ("60,²,0", "must be a number in range"), ("60,1_0,0", "must be a number in range"),
])
def test_times_and_numbers_that_would_ask_for_the_whole_memory_are_refused(tmp_path, last, match):
    path = tmp_path / "log.csv"
    path.write_text("time_s,ra_arcsec,dec_arcsec\n" + "".join(f"{time},0.1,0.2\n" for time in range(60)) + last + "\n")
    if last.startswith("80000"):
        path.write_text("time_s,ra_arcsec,dec_arcsec\n"
                        + "".join(f"{time * 1e-3},0.1,0.2\n" for time in range(60)) + "80000,0,0\n")
        match = "must span at most 1000000 steps"
    with pytest.raises(InvalidInputError, match=match):
        read_drift_log(path)


@pytest.mark.parametrize("mark", [";", "\t"])
def test_decimal_commas_count_where_no_comma_parts_the_columns(tmp_path, mark):
    path = tmp_path / "log.csv"
    path.write_text("\n".join(mark.join(row) for row in [
        ("time_s", "ra_arcsec", "dec_arcsec"), ("0", "1,5", "-0,25"), ("1", "2.5", "0")]))
    log = read_drift_log(path)
    assert log.ra.value.tolist() == [1.5, 2.5]
    assert log.dec.value.tolist() == [-0.25, 0]


def drift_file(folder, *lines):
    path = folder / "log.csv"
    path.write_text("\n".join([*lines, ""]), encoding="utf-8")
    return path


@pytest.mark.parametrize(("lines", "match"), [
    (("time_s,ra_arcsec,dec_arcsec", "# dec_deg: 12", "0,0,0", "1,1,1"), "stands below the column names"),
    (("# exposure_s: 30", "time_s,ra_arcsec,dec_arcsec", *(f"{i / 2},{i},{i}" for i in range(9))), "row to row"),
    (("time_s,ra_arcsec,dec_arcsec", *(f"{i / 3600:.6f},{i},{i}" for i in range(9))), "time_h or time_min"),
    (("time_utc,ra_arcsec,dec_arcsec", "21:04,0,0", "21:05,1,1"), "must be a time in UTC"),
])
def test_a_log_that_contradicts_itself_is_refused(tmp_path, lines, match):
    with pytest.raises(InvalidInputError, match=match):
        read_drift_log(drift_file(tmp_path, *lines))


@pytest.mark.parametrize(("column", "cells"), [
    ("time_min", ("0", "0.5", "1.5")), ("time_h", ("0", "0.0083333333", "0.025")),
    ("time_utc", ("2026-11-25T23:59:50Z", "2026-11-26T00:00:20Z", "2026-11-26T00:01:20Z")),
    ("time_utc", ("2026-11-26 00:59:50+01:00", "2026-11-26 01:00:20.000+01:00", "2026-11-26 01:01:20+01:00")),
])
def test_times_in_other_units_and_as_dates(tmp_path, column, cells):
    log = read_drift_log(drift_file(tmp_path, f"{column};ra_arcsec;dec_arcsec", *(f"{cell};0,5;1" for cell in cells)))
    assert (log.time - log.time[0]).value == pytest.approx([0, 30, 90], abs=1e-4)
    assert log.ra.value == pytest.approx(0.5)


def test_solved_frames_are_a_log(tmp_path):
    # The middle of the frames goes 1.8 arcsec east and 3.6 south: the star goes west and north. Through 360 deg, at 60
    # deg of declination, where an arcsec on the sky is two of right ascension.
    path = drift_file(tmp_path, "# exposure_s: 20", "time_utc,ra_deg,dec_deg", "2026-11-25T21:00:00Z,359.9995,60",
                      "2026-11-25T21:00:30Z,0.0005,59.999")
    log = read_drift_log(path)
    assert log.ra.value == pytest.approx([0, -1.8], abs=1e-6)
    assert log.dec.value == pytest.approx([0, 3.6], abs=1e-6)
    assert log.declination.value == pytest.approx(60, abs=0.001)
    assert log.exposure.value == 20


@pytest.mark.parametrize("mark", [":", " : ", "=", " = "])
def test_a_value_above_the_columns_follows_a_colon_or_a_sign(tmp_path, mark):
    log = read_drift_log(drift_file(tmp_path, f"# dec_deg{mark}-5", f"# site{mark}hill", "time_s,ra_arcsec,dec_arcsec",
                                    "0,0,0", "1,1,1"))
    assert (log.declination.value, log.site) == (-5, "hill")


@pytest.mark.parametrize("typed", ["12", "12 deg", "12°", "720 arcmin"])
def test_a_value_above_the_columns_may_carry_its_unit(tmp_path, typed):
    text = f"# dec_deg: {typed}\ntime_s,ra_arcsec,dec_arcsec\n0,0,0\n1,0.5,0\n2,1,0\n"
    assert read_drift_log(written(tmp_path, text)).declination.value == 12


def test_pixels_with_scale_and_angle_are_a_log(tmp_path):
    lines = ("time_s,x_pixels,y_pixels", "0,100,50", "30,100,52")
    # With +y at position angle 90 deg, two pixels up are two scales to the east.
    log = read_drift_log(drift_file(tmp_path, "# image_scale_arcsec: 1.5", "# camera_angle_deg: 90", *lines))
    assert np.diff(log.ra.value) == pytest.approx([3.0])
    assert np.diff(log.dec.value) == pytest.approx([0.0], abs=1e-9)
    where = "# dec_deg: 12,5", "# hour_angle_deg: -10", "# latitude_deg: 47"  # a decimal comma, as in the rows
    for angle, told in (("# camera_angle_deg: 90", True), ("# camera: turned", False)):
        log = read_drift_log(drift_file(tmp_path, "# image_scale_arcsec: 1.5", angle, *where, *lines))
        assert log.declination.value == 12.5
        assert log.placed == told  # without the angle east and west, north and south are a guess
    with pytest.raises(InvalidInputError, match="image_scale_arcsec"):
        read_drift_log(drift_file(tmp_path, *lines))
