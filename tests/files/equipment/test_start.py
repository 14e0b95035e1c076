"""The starting file: what stands behind a # is the usual value, and what was left as it is gets named."""

import dataclasses
import datetime
import re
import tomllib

import pytest
from astropy import units as u

from planner.checks import check
from planner.errors import InvalidInputError
from planner.files.equipment.drive_classes import DRIVE_CLASSES
from planner.files.equipment.start import all_examples, begin_file, equipment_remarks
from planner.files.equipment.tables import KINDS, rules_of
from planner.files.own_files import packaged_data
from planner.files.pier.load import pier_examples
from planner.files.quantities import parse_quantity
from planner.rig import Camera, Filter, Guider, PeriodicTerm, Site, Telescope, clock_problem

TEXT = packaged_data("starter.toml").read_text(encoding="utf-8")


def _shown(mark):
    """Return table, key and value of each line behind a mark."""
    kind, found = "", []
    for line in TEXT.splitlines():
        head = re.match(r"(?:## )?\[\[(\w+)\]\]", line)
        kind = head[1] if head else kind
        keyed = re.match(rf"{mark} (\w+) = .*", line)
        if keyed:
            found.append((kind, keyed[1], tomllib.loads(line.removeprefix(mark))[keyed[1]]))
    return found


def _usual(kind, key):
    """Return the value that counts where a key is not written; of a mount, that of the class the file starts from."""
    classed = DRIVE_CLASSES[tomllib.loads(TEXT)["mount"][0]["drive_class"]] if kind == "mount" else {}
    field = next(item for item in dataclasses.fields(KINDS[kind]) if item.name == key)
    if key in classed:
        return classed[key]
    return field.default if field.default is not dataclasses.MISSING else field.default_factory()


def _value(kind, key, written):
    rule = rules_of(KINDS[kind])[key]
    return check(key, parse_quantity(key, written, rule) if rule.kind == "quantity" else written, rule)


@pytest.mark.parametrize(("kind", "key", "written"), _shown("#"))
def test_a_key_behind_a_mark_shows_its_usual_value(kind, key, written):
    usual = _usual(kind, key)
    assert _value(kind, key, written) == (_value(kind, key, usual) if isinstance(usual, str) else usual)


def test_there_are_keys_of_both_kinds():
    assert len(_shown("#")) > 12
    assert len(_shown("##")) > 6


@pytest.mark.parametrize(("kind", "key", "written"),
                         [row for row in _shown("##") if row[0] not in ("reducer", "guider")])
def test_a_key_behind_two_marks_has_no_usual_value(kind, key, written):
    usual = _usual(kind, key) if key != "periodic" else None
    assert usual is None


def test_what_is_left_of_the_example_is_named(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(TEXT)
    lines = equipment_remarks(path)
    assert len(lines) == 3
    assert all_examples(path) == ['site "home"', 'telescope "telescope"', 'camera "camera"']
    path.write_text(TEXT.replace('"camera"', '"colour"'))  # named: the observer's own, though remarked on by a check
    assert all_examples(path) == ['site "home"', 'telescope "telescope"']
    assert equipment_remarks(path)[2].startswith('camera "colour": pixel_pitch, ')
    every = "pixel_pitch, columns, rows, quantum_efficiency, read_noise, full_well, gain"
    assert lines[2].startswith(f'camera "camera": {every} are as in the starting file')
    mine = TEXT
    for old, new in (("3.8 um", "2.4 um"), ("6000", "5000"), ("4000", "3000"), ("1.5 electron", "2.1 electron"),
                     ("50000 electron", "12000 electron"), ("47.0 deg", "51.3 deg"), ("11.0 deg", "7.1 deg"),
                     ("210 mm", "180 mm"), ("1060 mm", "500 mm")):
        mine = mine.replace(f'"{old}"', f'"{new}"').replace(f"= {old} ", f"= {new} ")
        mine = mine.replace(f"= {old}\n", f"= {new}\n")
    path.write_text(mine)
    assert [line.split(" as in")[0] for line in equipment_remarks(path)] == [
        'camera "camera": quantum_efficiency, gain are']
    assert all_examples(path) == []
    path.write_text(mine.replace("## [[guider]]", "[[guider]]").replace("\n## ", "\n"))  # taken in, and left as it is
    assert all_examples(path) == ['guider "guider"']
    assert equipment_remarks(packaged_data("equipment.toml")) == []


def test_what_is_left_of_the_example_of_a_pier_is_named(tmp_path):
    path = begin_file("pier", tmp_path / "pier.toml")
    assert pier_examples(path)[:2] == ["[pier]", "[night]"]
    assert pier_examples(path)[-5:] == ["7 [[tube]]", "3 [[counterweight]]", "1 [[hub]]", "5 [[load]]", "6 [[cable]]"]
    path.write_text(path.read_text().replace("9.5 kg", "8 kg").replace("47.4 deg", "51 deg"))
    assert (pier_examples(path)[0], "6 [[tube]]" in pier_examples(path)) == ("[night]", True)
    assert pier_examples(packaged_data("pier.toml")) == []


SUMMER = datetime.datetime(2026, 7, 1, tzinfo=datetime.UTC)


# Zones of the time-zone database and places in them; the far ones are the widest in use (from memory).
@pytest.mark.parametrize(("zone", "longitude", "good"), [
    ("UTC", 149.0, False), ("Australia/Sydney", 149.0, True), ("Australia/Sydney", -149.0, False),
    ("America/Denver", 105.0, False), ("America/Denver", -105.0, True), ("America/Denver", 255.0, True),
    ("UTC", 11.0, True), ("UTC", -17.9, True),  # La Palma, by UTC
    ("Asia/Shanghai", 75.2, True),  # the west of China, by the east's clock
    ("Pacific/Kiritimati", -157.4, True), ("Pacific/Auckland", -176.5, True), ("Europe/Madrid", -8.9, True),
])
def test_a_clock_that_cannot_be_that_of_the_place_is_named(zone, longitude, good):
    site = Site(name="x", latitude=40 * u.deg, longitude=longitude * u.deg, time_zone=zone)
    assert (clock_problem(site, SUMMER) == "") == good


ABSURD = [
    (Telescope, {"name": "t", "aperture": 1e-6 * u.mm, "focal_length": 500 * u.mm}, "aperture"),
    (Telescope, {"name": "t", "aperture": 80 * u.mm, "focal_length": 500 * u.mm, "transmission": 1e-9}, "transmission"),
    (Site, {"name": "s", "latitude": 0 * u.deg, "longitude": 0 * u.deg, "seeing": 1e-300 * u.arcsec}, "seeing"),
    (Filter, {"name": "f", "centre": 500 * u.nm, "width": 1e-9 * u.nm}, "width"),
    (PeriodicTerm, {"period": 1e-9 * u.s, "amplitude": 1 * u.arcsec}, "period"),
    (PeriodicTerm, {"period": 480 * u.s, "amplitude": 1e9 * u.arcsec}, "amplitude"),
]
CAMERA = {"name": "c", "pixel_pitch": 3 * u.um, "columns": 2000, "rows": 1200, "quantum_efficiency": 0.8,
          "read_noise": 1.5 * u.electron, "full_well": 5e4 * u.electron, "gain": 1 * u.electron / u.adu}
GUIDER = {"name": "g", "aperture": 50 * u.mm, "focal_length": 200 * u.mm, "pixel_pitch": 3 * u.um, "columns": 1000,
          "rows": 1000}
ABSURD += [(Camera, CAMERA | {key: value}, key) for key, value in [
    ("pixel_pitch", 1e-9 * u.um), ("quantum_efficiency", 1e-12), ("full_well", 1e-5 * u.electron), ("columns", 1),
    ("full_well", 1e300 * u.electron), ("gain", 1e300 * u.electron / u.adu),
    ("dark_current", 1e99 * u.electron / u.s)]]
ABSURD += [(Guider, GUIDER | {key: value}, key) for key, value in [
    ("pixel_pitch", 1e-9 * u.um), ("aperture", 1e-6 * u.mm), ("quantum_efficiency", 1e-12)]]


@pytest.mark.parametrize(("model", "values", "key"), ABSURD)
def test_figures_that_no_part_can_have_are_refused(model, values, key):
    with pytest.raises(InvalidInputError, match=rf"^{key} = .*: must be at (least|most)"):
        model(**values)
