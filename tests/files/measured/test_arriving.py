"""Frames as they arrive in a folder: each when it is complete, and again when it was written anew."""

import os

import pytest

from planner.errors import InvalidInputError
from planner.files.measured.arriving import Arriving


def test_a_frame_is_complete_when_it_has_not_grown(tmp_path):
    arriving = Arriving(tmp_path)
    first = tmp_path / "b.fits"
    first.write_bytes(b"half")
    assert arriving.complete() == []
    first.write_bytes(b"half and half")
    assert arriving.complete() == []
    for name, text in (("a.FIT", b"whole"), ("notes.txt", b"no frame"), ("empty.fits", b"")):
        (tmp_path / name).write_bytes(text)
    assert arriving.complete() == [first]
    assert arriving.complete() == [tmp_path / "a.FIT"]
    assert arriving.complete() == []  # each once
    (tmp_path / "empty.fits").write_bytes(b"no more")
    assert arriving.complete() == []
    assert arriving.complete() == [tmp_path / "empty.fits"]


def test_a_frame_that_was_taken_for_complete_or_is_written_anew_comes_again(tmp_path):
    arriving = Arriving(tmp_path)
    frame = tmp_path / "a.fits"
    for text, age in ((b"half", 1), (b"half and half", 2), (b"other and half", 3), (b"other and half", 4)):
        frame.write_bytes(text)
        os.utime(frame, (age, age))
        assert arriving.complete() == []
        assert arriving.complete() == [frame]
        assert arriving.complete() == []


def test_a_folder_that_goes_away_brings_nothing_until_it_is_back(tmp_path):
    folder = tmp_path / "night"
    folder.mkdir()
    arriving = Arriving(f"{folder}")
    folder.rmdir()
    assert arriving.complete() == []
    assert arriving.gone
    folder.mkdir()
    (folder / "a.fits").write_bytes(b"whole")
    assert arriving.complete() == []
    assert not arriving.gone
    assert arriving.complete() == [folder / "a.fits"]


@pytest.mark.parametrize("name", ["missing", "x" * 5000, "nul\0"])
def test_what_is_no_folder_is_refused(tmp_path, name):
    with pytest.raises(InvalidInputError, match="must be a folder"):
        Arriving(tmp_path / name)
