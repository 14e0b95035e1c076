"""Stars of a magnitude beside a neighbour, a core that saturates, and two rigs that share a picture."""

from dataclasses import replace

import galsim
import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import CAMERA, GREEN
from numpy.testing import assert_allclose
from scipy.optimize import linprog
from session.owned import LARGE_PIXELS, LONG, OWNED, SHORT, SMALL, only, weigh

from planner.exposure.depth import Goal
from planner.session.match.colour import best_shares, shared_picture
from planner.session.match.goals import TWO_TOPS, beside_neighbour
from planner.session.match.set_ups import set_ups
from planner.session.match.text import causes_text, limits, ranking_text, stars_text

FAINT = Goal(brightness=26 * u.mag / u.arcsec**2)
POINT = replace(SMALL, size_major=None, size_minor=None)


def only_row(**more):
    asked = weigh(only(LONG), **{"target": POINT, "goal": FAINT, "ranking": "stars", "binnings": (1,), **more})
    row, = set_ups(asked)
    return asked, row


@pytest.mark.parametrize("widths", [0.6, 0.8, 1.0, 1.5])
def test_a_neighbour_costs_what_fitting_both_costs(widths):
    # Variance of one of two amplitudes in least squares is 1/(1 - rho^2) of that alone, rho the overlap of the images.
    scale = 0.1
    star = galsim.Convolve(galsim.Kolmogorov(fwhm=2.5), galsim.Pixel(1.0))
    image = star.drawImage(nx=512, ny=512, scale=scale, method="no_pixel", dtype=float).array
    area = image.sum() ** 2 / (image**2).sum() * scale**2
    apart = widths * 2.7
    moved = np.roll(image, round(apart / scale), axis=1)
    overlap = (image * moved).sum() / (image**2).sum()
    found = beside_neighbour(area * u.arcsec**2, apart * u.arcsec).value / area
    # A star in the air has wings that a Gaussian has not: 12 %, where the neighbour doubles the time and less.
    assert_allclose(found, 1 / (1 - overlap**2), rtol=0.12)


def test_a_star_alone_pays_nothing():
    assert beside_neighbour(10 * u.arcsec**2, None) == 10 * u.arcsec**2
    assert_allclose(beside_neighbour(10 * u.arcsec**2, 60 * u.arcsec).value, 10)


@pytest.mark.parametrize(("share", "dip"), [(0.98, False), (1.02, True)])
def test_two_equal_gaussians_have_two_tops_from_here(share, dip):
    sigma = 1 / np.sqrt(8 * np.log(2))
    x = np.linspace(-0.05, 0.05, 3)
    apart = share * TWO_TOPS
    light = sum(np.exp(-((x - side * apart / 2) ** 2) / (2 * sigma**2)) for side in (-1, 1))
    assert (light[1] < light[0]) is np.bool_(dip)


def test_a_star_of_a_magnitude():
    asked, usual = only_row()
    # 26 mag/arcsec2 on 25 arcsec2 is a star of 26 - 2.5 log 25 = 22.505 mag.
    assert "a star of 22.5 mag" in ranking_text(asked, (usual,))
    _, same = only_row(star=(26 - 2.5 * np.log10(25)) * u.mag)
    assert_allclose(same.star_time.value, usual.star_time.value)
    # Against the sky's noise time goes with the square of the light: 10^0.8.
    deep, deeper = (only_row(star=star * u.mag)[1].star_time.value for star in (23, 24))
    assert_allclose(deeper / deep, 10**0.8, rtol=0.03)
    _, beside = only_row(star=23 * u.mag, apart=2 * u.arcsec)
    assert beside.star_time.value > 1.3 * deep
    assert "two equal ones are seen as two from" in stars_text(asked, usual)


def test_a_core_is_full_after():
    # 15 mag/arcsec2 at 545 nm: Vega 3.63e-9 erg/(s cm2 A) (Bessell, Castelli & Plez 1998, A&A 333, 231), 880 A, 0.8 of
    # 0.85, pi/4 (30 cm)^2 (1 - 0.16), pixels of 0.373 arcsec; air takes 10 to 20 %, the sky adds under 1 %.
    photons = 3.63e-9 * 880 / (1.986e-8 / 5450) * 10 ** (-0.4 * 15) * np.pi / 4 * 30**2 * 0.84
    rate = photons * 0.8 * 0.85 * (206.265 * 3.8 / 2100) ** 2
    asked, row = only_row(core=15 * u.mag / u.arcsec**2)
    assert_allclose(row.core.full_after.value, 50000 / (0.85 * rate), rtol=0.1)
    assert row.core.full is bool(row.sub_exposure > row.core.full_after)
    assert not only_row(core=25 * u.mag / u.arcsec**2)[1].core.full
    asked, row = only_row(core=12 * u.mag / u.arcsec**2)
    assert row.core.full
    assert row.core.short <= row.core.full_after / 2
    assert "bright core" in causes_text(asked, row)
    assert f"take 10 of {row.core.short.value:g} s" in " ".join(limit.sentence for limit in limits(asked, row))


def test_a_larger_patch_of_dust_needs_less_time():
    small, large = (set_ups(weigh(only(LONG), target=POINT, goal=replace(FAINT, area=area * u.arcsec**2),
                                  binnings=(1,)))[0].surface_time.value for area in (25, 100))
    assert_allclose(small / large, 4, rtol=0.05)


@pytest.mark.parametrize("seed", range(30))
def test_shared_best_against_a_linear_program(seed):
    one, other = np.exp(np.random.default_rng(seed).normal(size=(2, 2)))
    # x: shares of either part that the first rig takes, and the hours; no rig works longer than those.
    found = linprog([0, 0, 1], A_ub=[[one[0], other[0], -1], [-one[1], -other[1], -1]], b_ub=[0, -one[1] - other[1]],
                    bounds=[(0, 1), (0, 1), (0, None)])
    hours, (first, second) = best_shares(one, other)
    assert_allclose(hours, found.fun)
    assert_allclose(max(one[0] * first + other[0] * second, one[1] * (1 - first) + other[1] * (1 - second)), hours)


def test_shares_where_one_rig_cannot():
    assert_allclose(best_shares((2, np.inf), (3, 4))[0], 20 / 7)  # 2 + 3 y = 4 (1 - y)
    assert best_shares((np.inf, np.inf), (3, 4))[0] == np.inf


def test_two_rigs_share_a_picture():
    owned = replace(OWNED, telescopes=(SHORT, LONG), reducers=(), cameras=(CAMERA, LARGE_PIXELS))
    asked = weigh(owned, target=POINT, goal=FAINT, band=GREEN)
    rows = {row.name: row for row in set_ups(asked)}
    found = shared_picture(asked, rows["long, middle"], rows["short, large pixels"])
    assert found.hours <= min(*found.alone, *found.crossed)
    assert_allclose(found.hours, found.alone[0] * found.alone[1] / sum(found.alone), rtol=0.3)
