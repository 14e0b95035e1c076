"""What another figure of a part changes in the advice, in words, for the rig that has the part."""

import datetime
import re
from dataclasses import replace

import pytest
from astropy import units as u

from planner.files.equipment import load_equipment
from planner.files.equipment.changed_advice import part_changed
from planner.files.targets import find_target

NIGHT = datetime.date(2026, 11, 10)
TARGET = find_target("NGC 7331")


@pytest.fixture(scope="module")
def demo():
    """The demo's equipment."""
    return load_equipment(None)


def _with_rig(equipment, rig):
    return replace(equipment, rigs=tuple(rig if one.name == rig.name else one for one in equipment.rigs))


def test_a_polar_axis_far_off_changes_the_advice_of_the_rigs_mount(demo):
    rig = demo.rigs[0]
    worse = replace(rig, mount=replace(rig.mount, polar_altitude_error=120 * u.arcmin))
    words = part_changed(demo, _with_rig(demo, worse), "mount", rig.mount.name, rig.mount.name, NIGHT, TARGET)
    assert words.startswith(f'The advice changes (rig "{rig.name}"')
    assert "subs for NGC 7331 in" in words


def test_the_same_again_changes_nothing(demo):
    rig = demo.rigs[0]
    for kind, part in (("filter", rig.filters[-1]), ("site", demo.sites[0])):
        words = part_changed(demo, demo, kind, part.name, part.name, NIGHT, TARGET)
        assert words.startswith(f'The advice stays (rig "{rig.name}"'), kind


def test_a_renamed_site_is_followed(demo):
    town = replace(demo.sites[0], name="town", sky_brightness=17 * u.mag / u.arcsec**2)
    after = replace(demo, sites=(town, *demo.sites[1:]))
    words = part_changed(demo, after, "site", demo.sites[0].name, "town", NIGHT, TARGET)
    depths = [float(depth) for depth in re.findall(r"([\d.]+) V mag/arcsec² tonight", words)]
    # 4.4 mag more sky and the same light: half of it in depth, 2.2 mag (S/N as the square root of the time over sky).
    assert depths[0] - depths[1] == pytest.approx(0.5 * (demo.sites[0].sky_brightness.value - 17), abs=0.15)


def test_a_part_of_no_rig_changes_nothing(demo):
    assert part_changed(demo, demo, "guider", "none has it", "none has it", NIGHT, TARGET) is None
