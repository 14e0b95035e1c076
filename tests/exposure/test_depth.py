"""Depth in equivalent hours, held against the CCD equation written forwards, and against its limit."""

import numpy as np
import pytest
from astropy import units as u

from planner.exposure.depth import depth_in_equivalent
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data

DEMO = load_equipment(packaged_data("equipment.toml"))


def filter_of(rig, name):
    return next(band for band in rig.filters if band.name == name)


def test_the_brightness_reached_has_the_ratio_by_photon_counts_of_our_own():
    rig, site = DEMO.rig("nebulae"), DEMO.site("hill")
    depth = depth_in_equivalent(4 * u.h, rig, site, filter_of(rig, "L"))
    # Source over sky by their brightnesses alone, seen through one airmass of 0.1 to 0.3 mag; so S/N = 5 asks of n sky
    # photons on 25 square arcseconds 5 = source / sqrt(sky + source), sky = some 1e5 to 1e7 of them in 4 h.
    fainter = float(depth.brightness.value - site.sky_brightness.value)
    share = 10 ** (-0.4 * fainter)
    counted = 25 * (1 + share) / share**2
    assert 1e5 < counted < 3e7
    assert depth.band == "V"


@pytest.mark.parametrize("name", ["L", "Ha"])
def test_four_times_the_hours_show_half_as_bright_a_surface(name):
    rig, site = DEMO.rig("nebulae"), DEMO.site("hill")
    one, four = (depth_in_equivalent(hours * u.h, rig, site, filter_of(rig, name)) for hours in (10, 40))
    # The square-root law of counting against a sky far brighter than the source; 0.03 mag: the source's own photons.
    fainter = four.brightness - one.brightness if one.line is None else 2.5 * np.log10(one.line / four.line)
    assert fainter.value == pytest.approx(2.5 * np.log10(2), abs=0.03)
