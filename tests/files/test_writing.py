"""Files that cannot be written whole leave nothing behind."""

import os

import pytest

from planner.errors import InvalidInputError
from planner.files.writing import write_answer, write_new


def test_an_answer_that_cannot_be_written_leaves_its_name_free(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", full)
        with pytest.raises(InvalidInputError, match="cannot be written"):
            write_answer(tmp_path / "plan.ics", "text", what="calendar")
    assert list(tmp_path.iterdir()) == []
    assert write_answer(tmp_path / "plan.ics", "text", what="calendar").read_text() == "text"


def test_a_folder_that_is_a_file_is_not_called_a_file_that_is_there(tmp_path):
    (tmp_path / "settings").write_text("")
    with pytest.raises(InvalidInputError, match="cannot be written"):
        write_new(tmp_path / "settings" / "equipment.toml", "text", what="equipment file", remedy="Edit it.")
