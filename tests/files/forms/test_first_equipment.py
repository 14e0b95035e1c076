"""A first equipment file from a few answers."""

import numpy as np
import pytest
from astropy import units as u

from planner.errors import InvalidInputError
from planner.files.equipment import load_equipment
from planner.files.forms.first_equipment import PICKED, read_answers, time_zone_of, write_first
from planner.rig import HorizonProfile

ANSWERS = {
    "latitude": "30 12 S", "longitude": "70,7 W", "height": "1200", "time_zone": "America/Santiago",
    "sky": "countryside", "seeing": "steady", "telescope": "lenses", "aperture": "130", "focal_length": "650",
    "colour": "mono", "sensor": "recent, cooled", "pixel_pitch": "3,8", "columns": "6000", "rows": "4000",
    "filters": "none, or all visible light;H-alpha", "drive": "mid-range worm", "axis": "aligned by eye",
    "guider": "none"}


def test_the_answers_become_a_rig_and_a_site(tmp_path):
    path, rig, site = write_first(tmp_path / "new" / "equipment.toml", ANSWERS)
    found = load_equipment(path)
    assert (found.rig(rig).guider, found.is_demo) == (None, False)
    assert found.site(site).latitude == -30.2 * u.deg
    assert found.site(site).longitude == -70.7 * u.deg
    assert found.rig(rig).mount.polar_altitude_error == 12 * u.arcmin
    assert [band.name for band in found.rig(rig).filters] == ["L", "Ha"]


def test_a_second_set_up_takes_nothing_away(tmp_path):
    path, first, _ = write_first(tmp_path / "equipment.toml", ANSWERS)
    before = path.read_text()
    horizon = HorizonProfile(azimuth=[0, 90, 180] * u.deg, altitude=[10, 25.5, 12] * u.deg)
    pick_off = {**ANSWERS, "guider": "a pick-off in the main telescope", "guide_pixel_pitch": "3"}
    _, second, site = write_first(path, pick_off, horizon)
    assert path.read_text().startswith(before.rstrip())
    found = load_equipment(path)
    assert {rig.name for rig in found.rigs} == {first, second}
    assert found.rig(second).guider.off_axis
    assert found.rig(second).guider.focal_length == 650 * u.mm
    assert len(found.filters) == 2
    np.testing.assert_allclose(found.site(site).horizon.altitude.value, [10, 25.5, 12])


@pytest.mark.parametrize("key", list(ANSWERS))
def test_an_open_question_keeps_all_from_being_written(tmp_path, key):
    with pytest.raises(InvalidInputError, match="must be given") as refused:
        write_first(tmp_path / "equipment.toml", {**ANSWERS, key: " "})
    assert refused.value.name == key
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(("key", "text", "words"), [
    ("latitude", "95", "at most 90"), ("focal_length", "12", "half the aperture"), ("columns", "62.5", "whole number"),
    ("aperture", "big", "must be a number"), ("sky", "black", "must be one of"),
    ("time_zone", "Middle/Earth", "name of"),
    ("pixel_pitch", "1,234.5", "decimal")])
def test_a_wrong_answer_is_one_line_and_nothing_is_written(tmp_path, key, text, words):
    with pytest.raises(InvalidInputError, match=words):
        write_first(tmp_path / "equipment.toml", {**ANSWERS, key: text})
    assert not list(tmp_path.glob("*.toml"))


def test_every_word_that_is_offered_can_be_written(tmp_path):
    number = 0
    for key, options in PICKED.items():
        for option in options:
            number += 1
            guide = {"guide_aperture": "50", "guide_focal_length": "200", "guide_pixel_pitch": "3.75"}
            path, _, _ = write_first(tmp_path / f"{number}.toml", {**ANSWERS, **guide, key: option})
            assert load_equipment(path).rig()


def test_more_is_asked_of_those_who_guide():
    assert "guide_aperture" not in read_answers(ANSWERS).asked
    assert "guide_aperture" in read_answers({**ANSWERS, "guider": "a guide telescope"}).missing


@pytest.mark.parametrize(("latitude", "longitude", "zone"), [
    # The tz database's own principal places: zone1970.tab.
    (-33.87, 151.22, "Australia/Sydney"), (48.2, 16.33, "Europe/Vienna"), (-33.45, -70.67, "America/Santiago"),
    (40.71, -74.01, "America/New_York")])
def test_the_zone_of_a_place(latitude, longitude, zone):
    assert time_zone_of(latitude, longitude) == zone
