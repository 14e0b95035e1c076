"""A guider on another telescope: a pick-off sees what that telescope shows at the same place of its focal plane."""

from dataclasses import replace

from astropy import units as u
from exposure.rigs import GUIDER
from numpy.testing import assert_allclose
from session.owned import LONG


def test_a_pick_off_looks_through_the_telescope_that_it_is_on():
    pick_off = replace(GUIDER, off_axis=True, focal_length=1000 * u.mm, aperture=200 * u.mm,
                       off_axis_offset=0.5 * u.deg)
    moved = pick_off.on(LONG)
    assert (moved.focal_length, moved.aperture) == (LONG.focal_length, LONG.aperture)
    assert_allclose(moved.off_axis_offset.value, 0.5 / 2.1)
    assert GUIDER.on(LONG) is GUIDER
