"""Frames as they arrive in a folder: each once, when it is complete."""

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


def test_a_folder_that_goes_away_brings_nothing(tmp_path):
    folder = tmp_path / "night"
    folder.mkdir()
    arriving = Arriving(f"{folder}")
    folder.rmdir()
    assert arriving.complete() == []


@pytest.mark.parametrize("name", ["missing", "x" * 5000, "nul\0"])
def test_what_is_no_folder_is_refused(tmp_path, name):
    with pytest.raises(InvalidInputError, match="must be a folder"):
        Arriving(tmp_path / name)
