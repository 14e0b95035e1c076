"""Changing the equipment file in place: comments stay, damage is never made worse."""

import numpy as np
import pytest
from astropy import units as u
from files.equipment_text import written

from planner.errors import InvalidInputError
from planner.files.equipment import load_equipment
from planner.files.equipment.edit import (
    add_equipment_table,
    equipment_tables,
    remove_equipment_table,
    try_equipment_table,
    write_equipment_table,
)
from planner.files.equipment.start import begin_equipment
from planner.files.own_files import packaged_data
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
        "drive_class": "mid-range worm", "periodic": TERMS})
    after = demo.read_text(encoding="utf-8").splitlines()
    mount = load_equipment(demo).mounts[1]
    assert mount.jitter == 0.125 * u.arcsec
    assert mount.rate_error_ppm == 12.5
    assert mount.polar_azimuth_error is None
    assert [term.amplitude for term in mount.periodic] == [3.25 * u.arcsec, 1 * u.arcsec]
    assert mount.periodic[0].phase == 20 * u.deg
    comments = [line.split("#")[1] for line in before if "#" in line]
    assert [line.split("#")[1] for line in after if "#" in line] == comments
    new = [line for line in after if line not in before]
    assert len(new) == 5
    # The new key stands in its own table, before the blank line that leads to the next.
    assert after[after.index('drive_class = "mid-range worm"') + 1] == ""


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

    monkeypatch.setattr("planner.files.writing.PATIENCE", 0.05)
    with filelock.FileLock(demo.with_name(".equipment.toml.lock")), pytest.raises(InvalidInputError, match="locked"):
        write_equipment_table(demo, "site", "hill", {"seeing": 2 * u.arcsec})


NEW_TELESCOPE = {"name": "wide, f/4", "aperture": 100 * u.mm, "focal_length": "400 mm", "obstruction": 0.2,
                 "mass": None}


def without_blank_lines(path):
    return [line for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]


@pytest.mark.parametrize("name", ["equipment.toml", "starter.toml"])
def test_a_new_table_stands_with_its_kind_and_goes_without_a_trace(demo, name):
    path = demo.with_name("mine.toml")
    path.write_bytes(packaged_data(name).read_bytes())
    before, notes = without_blank_lines(path), path.read_text(encoding="utf-8").count("#")
    add_equipment_table(path, "telescope", NEW_TELESCOPE)
    added = load_equipment(path).telescopes[-1]
    assert (added.name, added.focal_ratio, added.obstruction) == ("wide, f/4", 4, 0.2)
    lines = path.read_text(encoding="utf-8").splitlines()
    place = lines.index('name = "wide, f/4"')
    assert lines[place - 2:place] == ["", "[[telescope]]"]
    assert lines[place + 4] == ""
    headers = [line.split("]]")[0] for line in lines if line.startswith("[[")]
    assert headers.index("[[camera") > max(at for at, header in enumerate(headers) if header == "[[telescope")
    remove_equipment_table(path, "telescope", "WIDE, f/4")
    assert without_blank_lines(path) == before
    assert path.read_text(encoding="utf-8").count("#") == notes


def test_the_first_of_a_kind_and_a_kind_written_alone(tmp_path):
    path = written(tmp_path, "[[site]]", "[site]  # here")
    add_equipment_table(path, "guider", {"name": "g", "aperture": "50 mm", "focal_length": "200 mm",
                                         "pixel_pitch": "3 um", "columns": 100, "rows": 80, "off_axis": False})
    add_equipment_table(path, "site", {"name": "away", "latitude": "-30 deg", "longitude": "20 deg"})
    equipment = load_equipment(path)
    assert [site.name for site in equipment.sites] == ["home", "away"]
    assert equipment.guiders[0].columns == 100
    assert "[[site]]  # here" in path.read_text()
    remove_equipment_table(path, "site", "home")
    assert load_equipment(path).site().name == "away"


def test_line_ends_stay_when_tables_come_and_go(tmp_path):
    path = written(tmp_path)
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    add_equipment_table(path, "filter", {"name": "R", "centre": "630 nm", "width": "100 nm"})
    assert path.read_bytes().count(b"\n") == path.read_bytes().count(b"\r\n")
    remove_equipment_table(path, "filter", "R")
    assert path.read_bytes().count(b"\n") == path.read_bytes().count(b"\r\n")


@pytest.mark.parametrize(("kind", "name", "words"), [
    ("telescope", "short", r'is used by rig "wide", rig "travel", reducer "0\.8 reducer"'),
    ("camera", "aps-c", 'is used by rig "nebulae", rig "galaxies"'),
    ("mount", "Worm", 'is used by rig "nebulae", rig "travel"'),
    ("filter", "Ha", 'is used by rig "nebulae"'),
    ("guider", "guide scope", "is used by rig"),
    ("filter", "OII", "Did you mean OIII"),
])
def test_what_is_in_use_or_unknown_stays(demo, kind, name, words):
    before = demo.read_bytes()
    with pytest.raises(InvalidInputError, match=words):
        remove_equipment_table(demo, kind, name)
    assert demo.read_bytes() == before


def test_the_last_site_and_rig_stay(tmp_path):
    path = written(tmp_path)
    for kind, name in (("site", "home"), ("rig", "main")):
        with pytest.raises(InvalidInputError, match=rf"at least one \[\[{kind}\]\]"):
            remove_equipment_table(path, kind, name)


def test_a_list_on_one_line_is_left_to_the_editor(tmp_path):
    path = written(tmp_path, '[[filter]]\nname = "L"\ncentre = "550 nm"\nwidth = "300 nm"\n')
    lists = ('filter = [{name = "L", centre = "550 nm", width = "300 nm"}, '
             '{name = "R", centre = "630 nm", width = "90 nm"}]\n')
    path.write_text(lists + path.read_text())
    with pytest.raises(InvalidInputError, match="Take it out with a text editor"):
        remove_equipment_table(path, "filter", "R")


def test_a_header_inside_a_text_is_not_taken_for_a_table(tmp_path):
    path = written(tmp_path, 'name = "home"', 'name = """home\n[[filter]]\nx = 1\n"""')
    path.write_text(path.read_text() + '\n[[filter]]\nname = "R"\ncentre = "630 nm"\nwidth = "100 nm"\n')
    before = path.read_bytes()
    with pytest.raises(InvalidInputError, match="must be one line"):
        remove_equipment_table(path, "filter", "R")
    assert path.read_bytes() == before


@pytest.mark.parametrize(("values", "words"), [
    ({**NEW_TELESCOPE, "name": "Long"}, "is given twice"), ({**NEW_TELESCOPE, "aperture": "0 mm"}, "at least 5 mm"),
    ({"name": "x", "aperture": "1 mm"}, "focal_length = .*must be given"),
    ({**NEW_TELESCOPE, "apertur": 1}, "not a key"),
])
def test_a_new_table_with_a_problem_is_refused(demo, values, words):
    before = demo.read_bytes()
    with pytest.raises(InvalidInputError, match=words):
        add_equipment_table(demo, "telescope", values)
    assert demo.read_bytes() == before


def test_a_new_name_is_followed_by_what_refers_to_it(demo):
    write_equipment_table(demo, "telescope", "short", {"name": "stubby"})
    write_equipment_table(demo, "filter", "Ha", {"name": "H-alpha"})
    equipment = load_equipment(demo)
    assert equipment.rig("wide").telescope.name == "stubby"
    assert equipment.reducers[0].telescopes[0].name == "stubby"
    assert [band.name for band in equipment.rig("travel").filters] == ["L", "H-alpha"]


def test_trying_a_change_writes_nothing_and_names_the_key(demo):
    before = demo.read_bytes()
    equipment, problems = try_equipment_table(demo, "mount", "worm", {
        "jitter": "2", "settling_time": "5 kg", "periodic": [{"period": "0 s", "amplitude": "3 arcsec"}]})
    assert equipment is None
    assert set(problems) == {"jitter", "settling_time", "periodic[1].period"}
    assert "unit like arcsec" in str(problems["jitter"])
    equipment, problems = try_equipment_table(demo, "rig", "wide", {"binning": 2, "filters": ["L", "R"]})
    assert problems == {}
    assert equipment.rig("wide").binning == 2
    assert try_equipment_table(demo, "filter", "L", {"width": "2000 nm"})[1].keys() == {"width"}
    assert try_equipment_table(demo, "telescope", None, {"name": ""})[1].keys() == {"name", "aperture", "focal_length"}
    assert try_equipment_table(None, "site", "hill", {"seeing": "3 arcsec"})[0].site().seeing == 3 * u.arcsec
    assert demo.read_bytes() == before


def test_tables_are_given_as_written(demo):
    tables = equipment_tables(demo)
    assert tables["site"][0]["horizon"] == "horizon_hill.csv"
    assert tables["telescope"][0]["aperture"] == "80 mm"
    assert list(tables) == ["site", "telescope", "reducer", "camera", "filter", "mount", "guider", "rig"]


def test_equipment_is_begun_once(tmp_path):
    own = begin_equipment(tmp_path / "new" / "equipment.toml", copy_of_demo=True)
    assert load_equipment(own).site().horizon is not None
    assert not load_equipment(own).is_demo
    with pytest.raises(InvalidInputError, match="never overwritten"):
        begin_equipment(own)
    assert load_equipment(begin_equipment(tmp_path / "second.toml")).rig().name == "main"
