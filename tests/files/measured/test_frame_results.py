"""The file of results: any program reads it as ECSV, a kill costs a row at most, nothing in it is trusted."""

import base64
import json
import zlib
from pathlib import Path

import pytest
from astropy.table import Table

from planner.cli.measure.frame_run import measure_files
from planner.errors import InvalidInputError
from planner.files.measured.frame_results import Results, restored, stored
from planner.files.measured.frame_task import Task, measure_file
from planner.files.own_files import packaged_data


@pytest.fixture(scope="module")
def task():
    return Task(path=packaged_data("frame_demo.fits"), colour="green", mosaic=None, saturation=None, image_scale=None,
                telescope=None, wavelength=None)


@pytest.fixture(scope="module")
def result(task):
    return measure_file(task)


@pytest.fixture
def file(tmp_path, task, result):
    path = tmp_path / "results.ecsv"
    Results(path, [task]).add(task, result)
    return path


def test_it_is_bound_to_all_code_that_reads_and_measures_a_frame(monkeypatch, tmp_path, task):
    seen, read = set(), Path.read_bytes
    monkeypatch.setattr(Path, "read_bytes", lambda path: (seen.add(path.parent.name), read(path))[1])
    Results(tmp_path / "results.ecsv", [task])
    assert seen >= {"stars", "psf", "frames"}


def test_what_was_measured_comes_back_to_the_last_bit(result):
    frame, field = restored(stored((result.frame, result.field)))
    assert stored((frame, field)) == stored((result.frame, result.field))
    assert (frame.path, frame.time, frame.ra, type(frame.ra)) == (
        result.frame.path, result.frame.time, result.frame.ra, type(result.frame.ra))
    assert field.stars.flux.dtype == result.field.stars.flux.dtype
    assert field.stars.flux.tobytes() == result.field.stars.flux.tobytes()
    assert str(field) == str(result.field)


def test_astropy_reads_it(file, task, result):
    table = Table.read(file, format="ascii.ecsv")
    assert table["file"][0] == str(task.path)
    assert table["fwhm"].unit == "pix"
    assert table["fwhm"][0] == pytest.approx(result.field.fwhm.value, rel=1e-9)
    assert table.meta["colour"] == "green"


def test_it_is_not_measured_again_unless_it_changed(file, task, monkeypatch, tmp_path):
    monkeypatch.setattr("planner.cli.measure.frame_run.measure_file", None)
    assert measure_files([task], 1, results=file)[0].field.used > 0
    changed = tmp_path / "changed.fits"
    changed.write_bytes(task.path.read_bytes())
    other = Task(**{**task.__dict__, "path": changed})
    assert Results(file, [task]).known(other) is None


@pytest.mark.parametrize("cut", [0, 10, 300, 700, 5000])
def test_a_file_cut_anywhere_goes_on(file, task, result, cut):
    whole = file.read_bytes()
    file.write_bytes(whole[:cut])
    results = Results(file, [task])
    assert results.known(task) is None
    results.add(task, result)
    assert file.read_bytes() == whole


@pytest.mark.parametrize(("data", "rule"), [
    (b"mine", "must be a file of results"), (b"# %ECSV 1.0\n# other\n", "with other options"),
])
def test_a_file_of_something_else_is_left_alone(tmp_path, task, data, rule):
    path = tmp_path / "mine.txt"
    path.write_bytes(data)
    with pytest.raises(InvalidInputError, match=rule):
        Results(path, [task])
    assert path.read_bytes() == data


@pytest.mark.parametrize("row", ['"a,1,2', "a,1,2", "a,1,2,3,4,5,6,7,8,9,10", "a,³,2,3,4,5,6,7,8,9",
                                 "a,--1,2,3,4,5,6,7,8,9", "a," + "1" * 5000 + ",2,3,4,5,6,7,8,9",
                                 'a,1,2,3,4,5,6,7,8,"' + "9" * 2**25])
def test_a_row_of_something_else_is_refused(file, task, row):
    file.write_text(file.read_text(encoding="utf-8") + row + "\n", encoding="utf-8")
    with pytest.raises(InvalidInputError, match="holds a row that is none"):
        Results(file, [task])


def _packed(value):
    return base64.b64encode(zlib.compress(json.dumps(value).encode())).decode()


@pytest.mark.parametrize("text", [
    "", "x", _packed(["class", "Popen", {}]), _packed(["class", "Frame", {}]),
    _packed(["array", "O", [1], "AAAAAAAAAAA="]),
    _packed(["array", "<f8", [99], "AAAA"]), _packed(["Quantity", "parsec", 1]), _packed([]), _packed([[[]]]),
    base64.b64encode(zlib.compress(b"0" * 2**27)).decode(), _packed(1)[:-4],
])
def test_a_row_that_holds_anything_else_is_refused(text):
    with pytest.raises(InvalidInputError, match="is damaged"):
        restored(text)
