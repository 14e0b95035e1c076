"""Changing the equipment file in place: comments stay, damage is never made worse."""

import numpy as np
import pytest
from astropy import units as u
from files.equipment_text import written

from planner.errors import InvalidInputError
from planner.files.equipment import load_equipment
from planner.files.equipment_edit import write_equipment_table
from planner.files.packaged import packaged_data
from planner.rig import PeriodicTerm

TERMS = [PeriodicTerm(period=480 * u.s, amplitude=3.25 * u.arcsec, phase=20 * u.deg),
         PeriodicTerm(period=240 * u.s, amplitude=1 * u.arcsec)]


@pytest.fixture
def demo(tmp_path):
    for name in ("equipment.toml", "horizon_hill.csv", "horizon_paddock.csv"):
        (tmp_path / name).write_bytes(packaged_data(name).read_bytes())
    return tmp_path / "equipment.toml"


def test_only_the_named_keys_change(demo):
    before = demo.read_text(encoding="utf-8").splitlines()
    write_equipment_table(demo, "mount", "Worm", {
        "jitter": 0.125 * u.arcsec, "rate_error_ppm": np.float64(12.5), "polar_azimuth_error": None,
        "drive_class": "solid worm", "periodic": TERMS})
    after = demo.read_text(encoding="utf-8").splitlines()
    mount = load_equipment(demo).mounts[1]
    assert mount.jitter == 0.125 * u.arcsec
    assert mount.rate_error_ppm == 12.5
    assert mount.polar_azimuth_error == 0 * u.arcmin
    assert [term.amplitude for term in mount.periodic] == [3.25 * u.arcsec, 1 * u.arcsec]
    assert mount.periodic[0].phase == 20 * u.deg
    comments = [line.split("#")[1] for line in before if "#" in line]
    assert [line.split("#")[1] for line in after if "#" in line] == comments
    new = [line for line in after if line not in before]
    assert len(new) == 5
    # The new key stands in its own table, before the blank line that leads to the next.
    assert after[after.index('drive_class = "solid worm"') + 1] == ""


def test_the_version_before_is_kept_and_no_other_file_left(demo):
    before = demo.read_bytes()
    write_equipment_table(demo, "site", "hill", {"seeing": 2 * u.arcsec})
    assert demo.with_name("equipment.toml.bak").read_bytes() == before
    assert [path.name for path in demo.parent.iterdir() if path.name.endswith(".new")] == []


def test_line_ends_stay(tmp_path):
    path = written(tmp_path)
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    write_equipment_table(path, "mount", "worm", {"periodic": None})
    assert path.read_bytes().count(b"\n") == path.read_bytes().count(b"\r\n")


def test_a_link_stays_a_link(tmp_path, demo):
    link = tmp_path / "link.toml"
    link.symlink_to(demo)
    write_equipment_table(link, "site", "hill", {"seeing": 2 * u.arcsec})
    assert link.is_symlink()
    assert load_equipment(demo).site().seeing == 2 * u.arcsec


@pytest.mark.parametrize(("changes", "words"), [
    ({"jitter": -1 * u.arcsec}, 'jitter = "-1 arcsec": must be at least 0'), ({"jiter": 1 * u.arcsec}, "Did you mean"),
    ({"jitter": 1 * u.kg}, "must have a unit like arcsec"), ({"jitter": np.nan * u.arcsec}, "finite"),
    ({"name": "friction"}, "is given twice"), ({"name": None}, "name = "),
])
def test_a_change_that_would_break_the_file_is_refused(demo, changes, words):
    before = demo.read_bytes()
    with pytest.raises(InvalidInputError, match=words):
        write_equipment_table(demo, "mount", "worm", changes)
    assert demo.read_bytes() == before
    assert not demo.with_name("equipment.toml.bak").exists()


@pytest.mark.parametrize("content", [b"", b"[[mount]\n", b"\0\1\2", b'[[mount]]\nname = "worm"\nperiodic = 3\n'])
def test_a_damaged_file_is_never_overwritten(tmp_path, content):
    path = tmp_path / "equipment.toml"
    path.write_bytes(content)
    with pytest.raises(InvalidInputError):
        write_equipment_table(path, "mount", "worm", {"jitter": 1 * u.arcsec})
    assert path.read_bytes() == content


def test_the_demo_and_what_is_not_there_are_refused(tmp_path, demo):
    with pytest.raises(InvalidInputError, match="planner init"):
        write_equipment_table(None, "mount", "worm", {"jitter": 1 * u.arcsec})
    with pytest.raises(InvalidInputError, match="is not there"):
        write_equipment_table(tmp_path / "none.toml", "mount", "worm", {})
    with pytest.raises(InvalidInputError, match="Did you mean worm"):
        write_equipment_table(demo, "mount", "wurm", {})


def test_a_writer_waits_for_the_other_and_then_gives_up(demo, monkeypatch):
    import filelock

    monkeypatch.setattr("planner.files.equipment_edit.PATIENCE", 0.05)
    with filelock.FileLock(demo.with_name(".equipment.toml.lock")), pytest.raises(InvalidInputError, match="locked"):
        write_equipment_table(demo, "site", "hill", {"seeing": 2 * u.arcsec})
