"""The skyline file."""

import pytest
from astropy import units as u
from numpy.testing import assert_array_equal

from planner.errors import InvalidInputError
from planner.files.equipment.horizon import read_horizon


def _file(tmp_path, text):
    path = tmp_path / "h.csv"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("text", [
    "azimuth,altitude\n0,5\n90,20\n", "# mine\n0 5\n\n90\t20 # a tree\n", "90;20\n0;5", "0, 5\n90 , 20\r\n",
])
def test_layouts(tmp_path, text):
    profile = read_horizon(_file(tmp_path, text))
    assert_array_equal(profile.azimuth, [0, 90] * u.deg)
    assert_array_equal(profile.altitude, [5, 20] * u.deg)


@pytest.mark.parametrize("text", ["0,5 12\n90 10,5", "0,5;12\n90;10,5", "0,5\t12,0\n90\t10,5", "0,5, 12\n90, 10,5"])
def test_a_comma_that_does_not_part_the_two_is_a_decimal_mark(tmp_path, text):
    # The first line too: it was taken for column names, and its point was lost.
    profile = read_horizon(_file(tmp_path, text))
    assert_array_equal(profile.azimuth, [0.5, 90] * u.deg)
    assert_array_equal(profile.altitude, [12, 10.5] * u.deg)


def test_a_wall_keeps_its_two_points_in_order(tmp_path):
    profile = read_horizon(_file(tmp_path, "180 3\n180 25\n90 1"))
    assert_array_equal(profile.altitude, [1, 3, 25] * u.deg)
    # Many walls, written from the last to the first: long enough that an unstable sort would mix them.
    walls = read_horizon(_file(tmp_path, "\n".join(f"{az} 3\n{az} 25" for az in range(359, -1, -1))))
    assert_array_equal(walls.altitude, [3, 25] * 360 * u.deg)


@pytest.mark.parametrize(("text", "words"), [
    ("", "at least one line"), ("azimuth altitude\n", "at least one line"), ("0 5\nwest 3", "line 2 = west 3"),
    ("0 5 7\n1 2 3", "line 1"), ("0,5,12\n90,10", "line 1 = 0,5,12"), ("0 95", "line 1 = 0 95"), ("361 5", "line 1"),
    ("nan 5", "line 1"), ("-5 5", "line 1"),
    ("a b\nc d\n", "line 2"),
])
def test_bad_lines_are_named(tmp_path, text, words):
    with pytest.raises(InvalidInputError, match=words):
        read_horizon(_file(tmp_path, text))
