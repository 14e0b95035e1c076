"""Files that cannot be written whole leave nothing behind."""

import os
from pathlib import Path

import pytest

from planner.errors import InvalidInputError
from planner.files.writing import replace_text, rewrite, version_kept, write_answer, write_new


def _full(*_):
    raise OSError(28, "No space left on device")


def test_an_answer_that_cannot_be_written_leaves_its_name_free(tmp_path, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(os, "link", _full)
        patch.setattr(os, "replace", _full)
        with pytest.raises(InvalidInputError, match="cannot be written"):
            write_answer(tmp_path / "plan.ics", "text", what="calendar")
    assert list(tmp_path.iterdir()) == []
    assert write_answer(tmp_path / "plan.ics", "text", what="calendar").read_text() == "text"


def test_a_folder_that_is_a_file_is_not_called_a_file_that_is_there(tmp_path):
    (tmp_path / "settings").write_text("")
    with pytest.raises(InvalidInputError, match="cannot be written"):
        write_new(tmp_path / "settings" / "equipment.toml", "text", what="equipment file", remedy="Edit it.")


WRITERS = [
    lambda path: write_new(path, "new text", what="equipment file", remedy="Edit it."),
    lambda path: write_answer(path, "new text", what="calendar"),
]


@pytest.mark.parametrize("write", WRITERS)
def test_a_full_disk_leaves_no_file_at_all(tmp_path, monkeypatch, write):
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", _full)
        with pytest.raises(InvalidInputError, match="No space left"):
            write(tmp_path / "equipment.toml")
    assert list(tmp_path.iterdir()) == []
    write(tmp_path / "equipment.toml")
    assert (tmp_path / "equipment.toml").read_text() == "new text"


@pytest.mark.parametrize("write", WRITERS)
def test_a_file_system_without_hard_links_is_written_too(tmp_path, monkeypatch, write):
    monkeypatch.setattr(os, "link", _full)
    write(tmp_path / "equipment.toml")
    assert [item.name for item in tmp_path.iterdir()] == ["equipment.toml"]
    with pytest.raises(InvalidInputError, match="is there already"):
        write(tmp_path / "equipment.toml")


def test_a_backup_is_whole_or_the_one_before(tmp_path, monkeypatch):
    path, backup = tmp_path / "e.toml", tmp_path / "e.toml.bak"
    path.write_text("second")
    backup.write_text("first")
    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", _full)
        with pytest.raises(InvalidInputError, match="cannot be written"):
            replace_text(path, "third", what="equipment file")
    assert (path.read_text(), backup.read_text()) == ("second", "first")
    replace_text(path, "third", what="equipment file")
    assert (path.read_text(), backup.read_text()) == ("third", "second")
    assert len(list(tmp_path.iterdir())) == 2


def test_a_write_that_was_killed_is_swept_by_a_later_one(tmp_path):
    old, other, young = (tmp_path / name for name in (".e.toml.abc.new", ".f.toml.abc.new", ".e.toml.def.new"))
    for file in (old, other, young):
        file.write_text("half")
    for file in (old, other):
        os.utime(file, (0, 0))
    write_answer(tmp_path / "e.toml", "text", what="calendar")
    assert not old.exists()
    assert young.exists()  # may be another writer's
    assert other.exists()  # of another file


@pytest.mark.parametrize("write", [
    lambda path: write_answer(path, "new", what="calendar", force=True),
    lambda path: replace_text(path, "new", what="equipment file"),
    lambda path: rewrite(path, lambda _: "new", what="equipment file"),
])
def test_a_link_is_written_through(tmp_path, write):
    (tmp_path / "real").mkdir()
    file, link = tmp_path / "real" / "e.toml", tmp_path / "e.toml"
    file.write_text("old")
    link.symlink_to(file)
    write(link)
    assert link.is_symlink()
    assert file.read_text() == "new"


def test_a_pipe_is_written_to_and_stays(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(InvalidInputError, match="cannot be written"):  # nobody reads
        write_answer(pipe, "text", what="calendar")
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    write_answer(pipe, "text", what="calendar")
    assert os.read(reader, 10) == b"text"
    os.close(reader)
    assert pipe.is_fifo()


def test_a_device_is_written_to_and_stays():
    write_answer(Path("/dev/null"), "text", what="calendar", force=True)
    assert Path("/dev/null").is_char_device()


def test_a_lock_that_is_a_link_is_not_followed(tmp_path):
    path, victim = tmp_path / "e.toml", tmp_path / "victim"
    path.write_text("old")
    (tmp_path / ".e.toml.lock").symlink_to(victim)
    with pytest.raises(InvalidInputError, match="its lock file is a link"):
        rewrite(path, lambda _: "new", what="equipment file")
    assert path.read_text() == "old"
    assert not victim.exists()


def test_a_file_that_could_not_be_begun_is_not_there(tmp_path):
    # Locked away, or an edit that raises: a head alone would stand for a file of one's own from then on.
    path = tmp_path / "new" / "projects.toml"
    rewrite(path, lambda text: f"{text}and more", what="project file", start="head ")
    assert path.read_text() == "head and more"
    for name, edit in (("one", str.upper), ("two", lambda text: text + 1)):
        other = tmp_path / name
        if name == "one":
            (tmp_path / ".one.lock").symlink_to(tmp_path / "victim")
        with pytest.raises((InvalidInputError, TypeError)):
            rewrite(other, edit, what="project file", start="head ")
        assert not other.exists()


def test_a_first_version_is_not_said_to_have_one_before(tmp_path):
    path = tmp_path / "projects.toml"
    rewrite(path, str.upper, what="project file", start="first")
    assert version_kept(path) == ""
    rewrite(path, str.lower, what="project file")
    assert version_kept(path) == "; the version before is kept as projects.toml.bak"
    assert (tmp_path / "projects.toml.bak").read_text() == "FIRST"
