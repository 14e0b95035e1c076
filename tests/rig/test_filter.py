"""A filter: what makes it one for emission lines."""

import pytest
from astropy import units as u

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
