"""How long it takes to read what every command reads first."""

import pytest
from astropy import units as u

from planner.files.equipment import load_equipment
from planner.files.targets import find_target
from planner.files.targets.stars import field_stars


def test_load_demo_equipment(benchmark):
    assert benchmark(load_equipment).is_demo


@pytest.mark.parametrize("name", ["ngc7331", "Horsehead", "22 37 04 +34 24 57"])
def test_find_target(benchmark, name):
    assert benchmark(find_target, name).name


def test_stars_of_a_field(benchmark):
    assert len(benchmark(field_stars, 56.87 * u.deg, 24.1 * u.deg, 1 * u.deg)) > 50
