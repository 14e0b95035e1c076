"""Files that are in memory already, as a page gets them: read as the same file on the disk would be."""

import gzip
import io

import numpy as np
import pytest
from astropy.io import fits

from planner.errors import InvalidInputError
from planner.files.frames.load import read_frame
from planner.files.logs import read_drift_log, read_pointing, read_positions
from planner.files.own_files import packaged_data
from planner.files.reading import InMemory

READERS = {"drift_demo.csv": read_drift_log, "pointing_demo.csv": read_pointing, "polar_demo.csv": read_positions}


def fits_bytes(image, **header):
    unit = fits.PrimaryHDU(image)
    unit.header.update(header)
    file = io.BytesIO()
    unit.writeto(file)
    return file.getvalue()


@pytest.mark.parametrize("name", READERS)
def test_logs_read_alike(name):
    path = packaged_data(name)
    there, here = READERS[name](path), READERS[name](InMemory(name, path.read_bytes()))
    for key, value in vars(there).items():
        np.testing.assert_array_equal(getattr(here, key), value, err_msg=key)


def test_a_bad_row_is_named_with_its_file():
    with pytest.raises(InvalidInputError, match=r"drift log mine\.csv, line 2: ra_arcsec = x"):
        read_drift_log(InMemory("mine.csv", b"time_s,ra_arcsec,dec_arcsec\n1,x,2\n"))


def test_a_binary_file_is_no_log():
    with pytest.raises(InvalidInputError, match=r"drift log = mine.csv: must be a text file"):
        read_drift_log(InMemory("mine.csv", b"\0\1\2"))


def test_frames_read_alike(tmp_path):
    image = np.random.default_rng(4).integers(0, 60000, (40, 50)).astype(np.uint16)
    data = fits_bytes(image, EXPTIME=30.0)
    (tmp_path / "one.fits").write_bytes(data)
    frames = [read_frame(tmp_path / "one.fits"), read_frame(InMemory("one.fits", data)),
              read_frame(InMemory("one.fits.gz", gzip.compress(data)))]
    for frame in frames:
        np.testing.assert_array_equal(frame.image, image)
        assert frame.exposure.value == 30
        assert frame.path.name.startswith("one.fits")


@pytest.mark.parametrize(("data", "rule"), [
    (b"", "is empty"), (b"no frame", "is not a FITS file"),
    (fits_bytes(np.zeros((200, 200), np.float32))[:-100000], "is cut short"),
    (b"\x1f\x8b\x08" + b"x" * 50, "is not a readable FITS file"),
])
def test_a_broken_frame_is_one_line(data, rule):
    with pytest.raises(InvalidInputError, match=f"^frame = mine.fits: {rule}"):
        read_frame(InMemory("mine.fits", data))
