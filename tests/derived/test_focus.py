"""Focus against values derived for this project, the route beside each.

Labels like E01 tell rows apart and refer to no list outside this file.
"""

import numpy as np
import pytest
from astropy import units as u

from planner.optics import (
    defocus_blur,
    defocus_strehl,
    defocus_wavefront,
    depth_of_focus,
    focus_shift,
    seeing_limited_tolerance,
)
from planner.rig import Telescope


def test_quarter_wave_f01():
    # Rayleigh quarter wave, W = delta/(8 N^2): f/5, 0.55 um.
    assert depth_of_focus(0.55 * u.um, 5.0).to_value(u.um) == pytest.approx(27.5, abs=1e-9)


def test_exact_sagitta_f02():
    # Difference of two spheres at f/5, f 500 mm, 27.5 um: 0.2519 waves; the formula is its paraxial limit.
    radius, edge, shift = 500e3, 50e3, 27.5
    sagitta = [r - np.sqrt(r**2 - edge**2) for r in (radius, radius + shift)]
    waves = (defocus_wavefront(shift * u.um, 5.0) / (0.55 * u.um)).to_value(u.one)
    assert waves == pytest.approx(0.25, abs=1e-9)
    assert (sagitta[0] - sagitta[1]) / 0.55 == pytest.approx(waves, abs=0.004)


def test_strehl_f03():
    # Born & Wolf 0.81; closed form 0.8106.
    strehl = defocus_strehl(0.25 * 550 * u.nm, 550 * u.nm)
    assert strehl == pytest.approx(0.8106, abs=1e-4)
    # Independent: the pupil integral of the phase of a defocused disc.
    area = (np.arange(20000) + 0.5) / 20000  # r^2, equal areas
    assert abs(np.mean(np.exp(2j * np.pi * 0.25 * area))) ** 2 == pytest.approx(float(strehl), abs=1e-6)


def test_geometric_blur_f04_f05():
    # delta/N = 20 um; 206265 b/f = 8.2506 arcsec.
    blur = defocus_blur(0.1 * u.mm, 5.0, 500 * u.mm)
    assert (blur.to_value(u.rad) * 500e3) == pytest.approx(20, abs=1e-9)
    assert blur.to_value(u.arcsec) == pytest.approx(8.2506, abs=5e-4)


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
