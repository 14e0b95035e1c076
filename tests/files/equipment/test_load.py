"""The equipment file: what is written becomes the model, and what is wrong is named with file, table and key."""

import math

import hypothesis
import pytest
from astropy import units as u
from files.equipment_text import GOOD, written
from hypothesis import strategies as st

from planner.errors import InvalidInputError
from planner.files.equipment import check_equipment, load_equipment
from planner.files.equipment.drive_classes import DRIVE_CLASSES, LABEL
from planner.files.equipment.load import parse_equipment
from planner.files.own_files import packaged_data


def test_what_is_written_becomes_the_model(tmp_path):
    equipment = load_equipment(written(tmp_path))
    rig = equipment.rig("MAIN ")
    assert rig.telescope.focal_length == 2 * u.m
    assert rig.camera.gain == 0.8 * u.electron / u.adu
    assert rig.mount.periodic[0].amplitude == 4 * u.arcsec
    assert rig.mount.wander.unit == u.arcsec / u.min**0.5
    assert rig.filters[0] is equipment.filters[0]
    assert not equipment.is_demo


# One breach each: the text that is replaced, its replacement, and the line that must come.
BREACHES = [
    ('"2000 mm"', '"-2 m"', 'telescope "long".focal_length = "-2 m": must be at least 5 mm. '
     "Give the focal length; a reducer comes on top."),
    ('"3.8 um"', '"3.8 kg"', 'camera "cam".pixel_pitch = "3.8 kg": must have a unit like um. '
     "Give the side of one pixel."),
    ('"2000 mm"', "2000", 'telescope "long".focal_length = 2000: must be a number with a unit like mm. '
     'Write it like "2000 mm".'),
    ('"2000 mm"', '"2000"', 'telescope "long".focal_length = "2000": must be a number with a unit like mm. '
     'Write it like "2000 mm".'),
    ('"2000 mm"', '"nan mm"', 'telescope "long".focal_length = "nan mm": must be a finite value. '
     "Give the focal length; a reducer comes on top."),
    ("columns = 6000", "columns = nan", 'camera "cam".columns = nan: must be a finite number without unit. '
     "Count the pixels along the long side."),
    ("columns = 6000", "columns = 6000.5", 'camera "cam".columns = 6000.5: must be a whole number. '
     "Count the pixels along the long side."),
    ("columns = 6000", "columns = 1" + "0" * 400, 'camera "cam".columns = 1000'),
    ("focal_length", "focal_lenght", 'telescope "long".focal_lenght = "2000 mm": is not a key of this table. '
     "Did you mean focal_length"),
    ('rows = 4000\n', "", 'camera "cam".rows = (missing): must be given. Count the pixels along the short side.'),
    ("[[telescope]]", "[[telescop]]", "telescop = (table): is not a table of the equipment file. "
     "Did you mean telescope?"),
    ('mount = "worm"', 'mount = "wurm"', 'rig "main".mount = "wurm": names no [[mount]] of this file. '
     "Did you mean worm?"),
    ('filters = ["L"]', 'filters = ["R"]', 'rig "main".filters = "R": names no [[filter]] of this file. There are: L.'),
    ('filters = ["L"]', 'filters = "L"', 'rig "main".filters = "L": must be a list of filter names.'),
    ('filters = ["L"]', "filters = []", 'rig "main".filters = []: must name at least one filter.'),
    ('filters = ["L"]', "", 'rig "main".filters = (missing): must name at least one filter.'),
    ('"501 s"', '"501 m"', 'mount "worm".periodic[1].period = "501 m": must have a unit like s.'),
    ('periodic = [{', 'periodic = [{phsae = "3 deg", ', 'mount "worm".periodic[1].phsae = "3 deg": is not a key'),
    ('periodic = [{period = "501 s", amplitude = "4 arcsec"}]', "periodic = 3",
     'mount "worm".periodic = 3: must be a list of periodic terms.'),
    ('name = "worm"', 'name = "worm"\ndrive_class = "brass"', 'mount "worm".drive_class = "brass": is not a generic'),
    ('name = "worm"', 'name = "worm"\nsettle = "6 s"', 'mount "worm".settle = "6 s": is not a key of this table. '
     "Write settling_time instead."),
    ('name = "worm"', 'name = "worm"\nrate = "lunar"', 'mount "worm".rate = "lunar": must be one of sidereal, king'),
    ('latitude = "47 deg"', 'latitude = "97 deg"', 'site "home".latitude = "97 deg": must be at most 90 deg.'),
    ('latitude = "47 deg"', 'latitude = "47 deg"\ntime_zone = "Mars/North"', 'site "home".time_zone = "Mars/North": '),
    ('latitude = "47 deg"', 'latitude = "47 deg"\nhorizon = "gone.csv"', 'site "home".horizon = "gone.csv": horizon'),
    ('width = "300 nm"', 'width = "795 nm"\ntransmission = 1.5', 'filter "L".transmission = 1.5: must be at most 1.'),
    ('name = "long"', 'name = ""', 'telescope number 1.name = "": must be a text of at least one character.'),
    ('"250 mm"', '"5000 mm"', 'telescope "long".focal_length = "2000 mm": must be at least half the aperture.'),
    ('"250 mm"', '"250,5 mm"', 'telescope "long".aperture = "250,5 mm": must be a number with a unit'),
    ('"250 mm"', '"250 parsnip"', 'telescope "long".aperture = "250 parsnip": has no known unit'),
    ('"250 mm"', "[250]", 'telescope "long".aperture = [250]: must be a number with a unit'),
]


@pytest.mark.parametrize(("old", "new", "line"), BREACHES, ids=[breach[1][:40] for breach in BREACHES])
def test_each_breach_is_named_with_file_table_and_key(tmp_path, old, new, line):
    problems = check_equipment(written(tmp_path, old, new))
    assert any(problem.startswith(f"equipment.toml: {line}") for problem in problems), problems
    assert all("\n" not in problem for problem in problems)
    with pytest.raises(InvalidInputError):
        load_equipment(tmp_path / "equipment.toml")


def test_a_rig_that_rests_on_a_broken_table_is_not_blamed(tmp_path):
    problems = check_equipment(written(tmp_path, '"2000 mm"', '"-2 m"'))
    assert len(problems) == 1


def test_every_problem_comes_in_one_go_and_loading_counts_the_rest(tmp_path):
    path = written(tmp_path)
    path.write_text(path.read_text().replace('"2000 mm"', '"0 mm"').replace("rows = 4000", "rows = -1")
                    .replace("[[filter]]", "[[filtre]]"))
    assert len(check_equipment(path)) == 4  # the three, and the filter that the rig no longer finds
    with pytest.raises(InvalidInputError, match=r"\(3 more: \"planner gear --check\" lists them.\)"):
        load_equipment(path)


def test_no_fault_of_a_table_hides_another(tmp_path):
    path = written(tmp_path, "aperture =", "depth = 3\naperture =")
    path.write_text(path.read_text().replace('"2000 mm"', '"100 mm"')
                    + '\n[[filter]]\nname = "l"\ncentre = "500 nm"\nwidth = "5 mm"\n')
    found = check_equipment(path)
    assert [line.partition(": ")[2].partition(" = ")[0] for line in found] == [
        'telescope "long".depth', 'telescope "long".focal_length', 'filter "l".name', 'filter "l".width']
    assert found[2].endswith("is given twice. Give each filter a name of its own.")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", r"equipment.toml: \[\[site\]\] = \(missing\): the file must hold at least one \[\[site\]\]"),
        (b"# only notes\n", "at least one"),
        (b"\x00\x01\x02" * 100, "must be a text file, this one is binary"),
        (b"name = \xff\xfe", "must be text in UTF-8, line 1 is not"),
        (b"[[site]\nname = 3", r"is not TOML: .*at line 1, column"),
        (b"[[site]]\nname = \"a\nb\"", r"is not TOML: .*line 2"),
        (b"a = " + b"[" * 100000, "is not TOML"),
        (b"a = -33,5  # mine\n", r"Write a decimal point: -33\.5\."),
        (b"a = 0,25 arcsec\n", r'Write it like "0\.25 arcsec"\.'),
        (b"b = 1\na = 250 mm\n", r'line 2.* Write it like "250 mm"\.'),
        (b"a = 3 4\n", r"Fix that line"),
        (b"site = 3\nrig = 4", "site = 3: must be a table"),
        (b"#" * 10_000_000, "must be at most 1 MB, it is 10 MB"),
    ],
    ids=["empty", "notes", "binary", "latin", "bracket", "line break", "deep", "comma", "comma and unit", "unit", "two",
         "no table", "10 MB"],
)
def test_files_that_are_no_equipment(tmp_path, content, words):
    path = tmp_path / "equipment.toml"
    path.write_bytes(content)
    with pytest.raises(InvalidInputError, match=words):
        load_equipment(path)


def test_a_missing_file_a_folder_and_a_name_no_file_can_have(tmp_path):
    with pytest.raises(InvalidInputError, match="is not there"):
        load_equipment(tmp_path / "none.toml")
    with pytest.raises(InvalidInputError, match="must be a file"):
        load_equipment(tmp_path)
    for name in ("a\0b", "x" * 5000):
        with pytest.raises(InvalidInputError, match="equipment file"):
            load_equipment(name)


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path):
    path = tmp_path / "equipment.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert load_equipment(path).sites[0].name == "home"


def test_a_drive_class_lies_under_the_mounts_own_keys(tmp_path):
    path = written(tmp_path, 'wander = "0.1 arcsec/min(1/2)"', 'drive_class = "Mid-range Worm"\njitter = "0.7 arcsec"')
    mount = load_equipment(path).mounts[0]
    assert mount.jitter == 0.7 * u.arcsec  # own
    assert len(mount.periodic) == 1  # own
    assert mount.rate_error_ppm == DRIVE_CLASSES["mid-range worm"]["rate_error_ppm"]
    assert mount.drive_class == "Mid-range Worm"


@pytest.mark.parametrize("name", DRIVE_CLASSES)
def test_every_drive_class_makes_a_mount(tmp_path, name):
    path = written(tmp_path, 'name = "worm"', f'name = "worm"\ndrive_class = "{name}"')
    assert check_equipment(path) == []
    assert "common practice, no source" in LABEL


def test_a_24_bit_encoder_step_is_0_077_arcsec():
    # design of the demo: 360 deg / 2^24 = 0.0772 arcsec; plain arithmetic.
    counts = DRIVE_CLASSES["friction with encoder"]["encoder_counts"]
    assert math.isclose(360 * 3600 / counts, 0.0772, rel_tol=1e-3)


def test_the_demo_is_sound_and_named_as_demo():
    assert check_equipment(packaged_data("equipment.toml")) == []
    equipment = load_equipment()
    assert equipment.is_demo
    assert equipment.site().name == "hill"
    assert equipment.site().latitude > 0 * u.deg > equipment.site("paddock").latitude
    assert all(site.horizon is not None for site in equipment.sites)


def test_demo_and_starter_have_no_unit_in_other_words():
    # Broadband, narrow-band; friction with a 24-bit encoder, a worm of 10 to 15 arcsec peak to peak.
    equipment = load_equipment()
    assert {f.name for f in equipment.filters} == {"L", "R", "G", "B", "Ha", "OIII", "SII"}
    by_name = {mount.name: mount for mount in equipment.mounts}
    assert by_name["friction"].encoder_counts == 2**24
    assert 10 <= 2 * sum(t.amplitude.value for t in by_name["worm"].periodic) <= 15


def test_the_starter_file_is_sound():
    assert check_equipment(packaged_data("starter.toml")) == []


def test_the_users_own_file_comes_before_the_demo(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setattr("platformdirs.user_config_path", lambda *names, **more: tmp_path / "planner")
    (tmp_path / "planner").mkdir()
    written(tmp_path / "planner")
    assert load_equipment().site().name == "home"
    assert not load_equipment().is_demo


def test_a_broken_link_or_a_locked_folder_is_not_taken_for_no_file(tmp_path, monkeypatch):
    monkeypatch.setattr("platformdirs.user_config_path", lambda *names, **more: tmp_path)
    (tmp_path / "equipment.toml").symlink_to(tmp_path / "gone.toml")
    with pytest.raises(InvalidInputError, match="is not there"):
        load_equipment()

    def locked(path):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.exists", locked)
    with pytest.raises(InvalidInputError, match=r"cannot be read .Permission denied."):
        load_equipment()


@hypothesis.given(st.text(max_size=300))
def test_no_text_at_all_raises_anything_else(text):
    equipment, problems = parse_equipment(text, file="e", folder=packaged_data("equipment.toml").parent)
    assert equipment is None
    assert problems


LINES = [line for line in GOOD.splitlines() if "=" in line]
SILLY = ["0", "-1", "nan", "inf", "true", '""', '"x"', "[]", "{}", "[{}]", '"1 mm"', '"1e999 mm"', "1979-05-27", '" "',
         '"nan deg"', '"-inf arcsec"', '"1 mm/mm"', '"5 deg_C"', "9" * 400, '"\\u0000"', '"a\\nb"', '["L", 3]', "-0.0"]


@pytest.mark.parametrize("silly", SILLY)
def test_a_silly_value_anywhere_is_a_problem_in_one_line_or_a_sound_value(tmp_path, silly):
    for line in LINES:
        changed = GOOD.replace(line, f"{line.split('=')[0]}= {silly}", 1)
        equipment, problems = parse_equipment(changed, file="e", folder=tmp_path)
        assert (equipment is None) == bool(problems), line
        assert all("\n" not in str(problem) for problem in problems)
