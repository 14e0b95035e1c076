"""A mosaic whose order is not the one that was said, from stars of many colours drawn by an independent simulator."""

import pytest
from measure.frame_sim import Sky, draw, true_fwhm

from planner.measure.stars.star_field import measure_frame

GREEN, NO_GREEN = (0, 1, 1, 0), (0, 0, 1, 1)  # row and column of the first, of the second


def mosaic(fwhm, places):
    """Return the width and what is measured of RGGB by two places; red records 0.9 of the green light, blue 0.7."""
    sky = Sky(fwhm=fwhm, profile="gauss", stars=150, size=500, flux=(1e4, 3e5), seed=3)
    red, green, blue = (draw(Sky(**{**vars(sky), "flux": (1e4 * share, 3e5 * share)}))[0] for share in (0.9, 1, 0.7))
    cells = {(0, 0): red, (0, 1): green, (1, 0): green, (1, 1): blue}
    row, column, second_row, second_column = places
    return true_fwhm(sky), measure_frame(
        cells[row, column][row::2, column::2], pixel_step=2,
        second=(cells[second_row, second_column][second_row::2, second_column::2], second_column - column,
                second_row - row))


@pytest.mark.parametrize("fwhm", [2.6, 3.2, 5.0])
def test_two_greens_that_are_none_are_named_and_one_is_measured(fwhm):
    width, found = mosaic(fwhm, NO_GREEN)
    assert "two kinds of green pixels record stars 0.7" in found.notes[0]  # 0.7/0.9 = 0.78
    assert found.fwhm.value == pytest.approx(width, rel=0.02)
    width, found = mosaic(fwhm, GREEN)
    assert found.notes == ()
    assert found.fwhm.value == pytest.approx(width, rel=0.015)
