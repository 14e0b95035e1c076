"""A target checks itself once, when built."""

import pytest
from astropy import units as u

from planner.errors import InvalidInputError
from planner.visibility import Target


def test_units_are_converted_and_sizes_kept():
    target = Target(name=" Low Lantern ", ra=5 * u.hourangle, dec=-300 * u.arcmin, size_major=0.5 * u.deg,
                    size_minor=10 * u.arcmin, common_name=" lantern ")
    assert target.ra.unit == u.deg
    assert target.ra.value == pytest.approx(75)
    assert target.dec.value == pytest.approx(-5)
    assert target.size_major.to_value(u.arcmin) == pytest.approx(30)
    assert (target.name, target.common_name) == ("Low Lantern", "lantern")


@pytest.mark.parametrize(("change", "message"), [
    ({"ra": 360 * u.deg}, "ra = 360.0 deg: must be less than 360 deg"),
    ({"ra": 10.0}, "ra = 10.0: must carry a unit like deg"),
    ({"dec": -91 * u.deg}, "dec = -91.0 deg: must be at least -90 deg"),
    ({"name": " "}, "name = : must be a text"),
    ({"size_minor": 3 * u.arcmin}, "needs the larger diameter"),
    ({"size_major": 2 * u.arcmin, "size_minor": 3 * u.arcmin}, "must not exceed size_major"),
    ({"ra": [1, 2] * u.deg}, "must be one value"),
    ({"kind": 3}, "kind = 3: must be a text"),
    ({"magnitude": float("nan") * u.mag}, "must be a finite value"),
])
def test_a_bad_value_is_named(change, message):
    with pytest.raises(InvalidInputError, match=message):
        Target(**({"name": "t", "ra": 1 * u.deg, "dec": 2 * u.deg} | change))
