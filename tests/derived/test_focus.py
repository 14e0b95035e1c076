"""Focus against values derived for this project, the route beside each.

Labels like E01 tell rows apart and refer to no list outside this file.
"""

import pytest
from astropy import units as u

from planner.optics import (
    depth_of_focus,
    focus_shift,
    seeing_limited_tolerance,
)
from planner.rig import Telescope


def test_quarter_wave_f01():
    # Rayleigh quarter wave, W = delta/(8 N^2): f/5, 0.55 um.
    assert depth_of_focus(0.55 * u.um, 5.0).to_value(u.um) == pytest.approx(27.5, abs=1e-9)


def test_expansion_of_aluminium_f06():
    # CRC Handbook, 25 deg C: 23.1e-6 1/K; alloys 6061 23.6, 2024 22.9 (Callister, table B.6).
    tube = Telescope(name="tube", aperture=100 * u.mm, focal_length=500 * u.mm)
    assert tube.expansion.to_value(1 / u.K) == pytest.approx(23.1e-6, abs=0.2e-6)


def test_tube_shrinks_f07():
    # alpha L dT: 500 mm of aluminium, -10 K; 4.2 times the quarter-wave tolerance of f/5.
    shift = focus_shift(23.1e-6 / u.K, 500 * u.mm, -10 * u.K)
    assert shift.to_value(u.mm) == pytest.approx(-0.1155, abs=1e-9)
    assert (-shift / depth_of_focus(550 * u.nm, 5.0)).to_value(u.one) == pytest.approx(4.2, abs=0.01)


def test_seeing_limited_tolerance_f09():
    # delta = N f theta: f/5, f 500 mm, 1 arcsec.
    assert seeing_limited_tolerance(1 * u.arcsec, 5.0, 500 * u.mm).to_value(u.um) == pytest.approx(12.12, abs=0.01)
