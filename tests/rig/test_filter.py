"""A filter: what makes it one for emission lines."""

from dataclasses import replace

import pytest
from astropy import units as u
from astropy.tests.helper import assert_quantity_allclose

from planner.rig import Filter


def windows(width_nm, *centres):
    """Return a filter of boxes with edges 1 nm wide."""
    curve = [point for centre in centres for point in (
        (centre - width_nm / 2 - 0.5, 0.0), (centre - width_nm / 2 + 0.5, 0.9), (centre + width_nm / 2 - 0.5, 0.9),
        (centre + width_nm / 2 + 0.5, 0.0))]
    return Filter(name="boxes", centre=sum(centres) / len(centres) * u.nm, width=width_nm * len(centres) * u.nm,
                  curve=tuple(curve))


@pytest.mark.parametrize(("width", "centres", "narrow"), [
    (18, (656.3,), True), (22, (656.3,), False), (12, (500.7, 656.3), True), (18, (500.7, 656.3), True),
    (22, (500.7, 656.3), False), (95, (480, 620), False)])
def test_a_window_decides_and_not_how_many_there_are(width, centres, narrow):
    assert windows(width, *centres).narrow is narrow


def test_where_it_passes():
    assert_quantity_allclose(windows(12, 500.7, 656.3).windows, [[494.7, 506.7], [650.3, 662.3]] * u.nm)
    assert_quantity_allclose(windows(12, 656.3).windows, [[650.3, 662.3]] * u.nm)
    box = Filter(name="box", centre=550 * u.nm, width=100 * u.nm)
    assert_quantity_allclose(box.windows, [[500, 600]] * u.nm)
    # Open to one side: what is given ends there. A straight line falls to half of its best in its middle.
    low = replace(box, curve=((500.0, 0.8), (600.0, 0.0)))
    assert_quantity_allclose(low.windows, [[500, 550]] * u.nm)


def test_a_line_that_no_window_passes_is_looked_for_in_the_widest():
    both = windows(12, 500.7, 656.3)
    assert both.line_near(501 * u.nm) == 501 * u.nm
    assert_quantity_allclose(both.line_near(578.5 * u.nm), 656.3 * u.nm)
    wide = replace(both, curve=((490.0, 0.9), (510.0, 0.9), (511.0, 0.0), (650.0, 0.0), (651.0, 0.9), (660.0, 0.9)))
    assert_quantity_allclose(wide.line_near(578.5 * u.nm), (490 + 510.5) / 2 * u.nm)
