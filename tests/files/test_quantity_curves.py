"""Transmission and efficiency as curves: read, folded into centre and width, refused in one line."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.files.equipment import load_equipment
from planner.files.equipment.edit import equipment_tables, write_equipment_table
from planner.files.own_files import packaged_data
from planner.files.quantities import with_curve

BUMP = [[495, 0], [497, 0.9], [504, 0.6], [506, 0]]
SLOPE = [[350, 0.3], [550, 0.9], [1000, 0.1]]


@pytest.fixture
def file(tmp_path):
    text = packaged_data("equipment.toml").read_text(encoding="utf-8")
    for horizon in ("horizon_hill.csv", "horizon_paddock.csv"):
        (tmp_path / horizon).write_text(packaged_data(horizon).read_text(encoding="utf-8"), encoding="utf-8")
    path = tmp_path / "equipment.toml"
    path.write_text(text.replace("quantum_efficiency = 0.78", f"quantum_efficiency = {SLOPE}", 1)
                    + f'\n[[filter]]\nname = "bump"\ntransmission = {BUMP}\n', encoding="utf-8")
    return path


def test_centre_and_width_follow_from_the_curve(file):
    band = next(one for one in load_equipment(file).filters if one.name == "bump")
    # Independent route: a fine sum over the straight lines.
    fine = np.linspace(495, 506, 110001)
    passed = np.interp(fine, *zip(*BUMP, strict=True))
    light = np.trapezoid(passed, fine)
    assert_allclose(band.centre.to_value(u.nm), np.trapezoid(passed * fine, fine) / light, atol=0.05)
    assert_allclose(band.width.to_value(u.nm), light / 0.9, rtol=5e-3)
    assert band.transmission == 0.9
    assert band.curve == tuple((float(nm), float(share)) for nm, share in BUMP)


def test_the_efficiency_is_the_highest_of_its_curve(file):
    camera = next(one for one in load_equipment(file).cameras if one.name == "small")
    assert camera.quantum_efficiency == 0.9
    assert camera.response[0] == (350.0, 0.3)


def test_a_curve_stays_when_another_key_is_changed(file):
    write_equipment_table(file, "camera", "small", {"download": "3 s"})
    written = next(one for one in equipment_tables(file)["camera"] if one["name"] == "small")
    assert written["quantum_efficiency"] == SLOPE
    assert written["download"] == "3 s"


def test_a_curve_typed_into_a_form_is_read():
    table, curve = with_curve("camera", {"quantum_efficiency": "[[350, 0.3], [550, 0.9], [1000, 0.1]]"})
    assert table["quantum_efficiency"] == 0.9
    assert len(curve["response"]) == 3


@pytest.mark.parametrize(("pairs", "rule"), [
    ([[500, 0.9]], "at least two pairs"), ([[500, 0.9], [490, 0.9]], "ascend"),
    ([[500, 0.9], [510, 1.2]], "from 0 to 1"),
    ([[5000, 0.9], [5100, 0.9]], "from 300 to 1100 nm"), ([[500, "a"], [510, 0.9]], "plain numbers"),
    ([[500, 0], [510, 0]], "at least 0.01"), ("[[500, 0.9], [510", "at least two pairs"),
    ([[500, True], [510, 0.9]], "plain numbers"), ([[500, float("nan")], [510, 0.9]], "from 0 to 1")])
def test_a_wrong_curve_is_one_line(pairs, rule):
    with pytest.raises(InvalidInputError, match=rule):
        with_curve("filter", {"transmission": pairs})


def test_other_tables_have_no_curve():
    assert with_curve("telescope", {"transmission": [1, 2]}) == ({"transmission": [1, 2]}, {})
