"""Places of bodies that move, from osculating elements, and the one-line formats in which these are published."""

import datetime

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import EarthLocation, SkyCoord, get_body, get_body_barycentric_posvel
from astropy.time import Time
from exposure.rigs import SITE
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.files.forms.orbits import is_orbit_line, orbit_line, typed_orbit
from planner.visibility.kernels.orbit import GAUSS, OBLIQUITY, Orbit
from planner.visibility.moving_targets import pace, placed
from planner.visibility.target import Target

MJD = 2400000.5

# J. Meeus, Astronomical Algorithms, 2nd ed. (1998), example 33.b, as quoted in open implementations: periodic comet 2,
# elements J2000.0, 1990 October 6.0 TD.
MEEUS_33B = "2P a=2.2091404 e=0.8502196 i=11.94524 node=334.75006 peri=186.23352 M=0 epoch=1990-10-28.54502"
HELIOCENTRIC_AU = (0.2508066, 0.4849175, 0.3573373)
ASTROMETRIC_DEG = (158.558965, 19.158495)


def test_meeus_example_from_the_sun():
    assert_allclose(typed_orbit(MEEUS_33B).orbit.heliocentric(np.array(48170.0)), HELIOCENTRIC_AU, atol=1e-7)


def test_meeus_example_from_the_earth():
    seen, _ = typed_orbit(MEEUS_33B).orbit.direction(np.array([48170.0]), np.zeros((1, 3)))
    place = SkyCoord(*ASTROMETRIC_DEG, unit="deg")
    found = SkyCoord(np.arctan2(seen[0, 1], seen[0, 0]) * u.rad, np.arcsin(seen[0, 2]) * u.rad)
    assert place.separation(found) < 0.1 * u.arcsec  # the book's Earth is good to 0.03 arcsec here


def test_a_parabola_is_barkers():
    # Barker's equation, tan³(v/2)/3 + tan(v/2) = W/3 · ..., solved in closed form (Meeus, ch. 34): s = tan(v/2).
    distance, days = 1.487469, np.array([-300.0, -10.0, 0.0, 113.6, 900.0])
    w = 3 * GAUSS * days / (distance * np.sqrt(2 * distance))
    root = np.cbrt(w / 2 + np.sqrt(w**2 / 4 + 1))
    away = distance * (1 + (root - 1 / root) ** 2)
    for shape in (1 - 1e-8, 1.0, 1 + 1e-8):
        orbit = _orbit(distance, shape)
        assert_allclose(np.linalg.norm(orbit.heliocentric(60000 + days), axis=-1), away, rtol=1e-6)


@pytest.mark.parametrize("shape", [0.0, 0.3, 0.97, 0.9999, 1.0, 1.2, 3.4])
def test_keplers_laws_hold(shape):
    # The area law and the energy (vis viva), by differences of places.
    orbit, times, step = _orbit(0.9, shape), 60000 + np.array([-700.0, -30, 0.5, 55, 2000]), 1e-3
    here, speed = orbit.heliocentric(times), (
        orbit.heliocentric(times + step) - orbit.heliocentric(times - step)) / (2 * step)
    area = np.linalg.norm(np.cross(here, speed), axis=-1)
    assert_allclose(area, GAUSS * np.sqrt(0.9 * (1 + shape)), rtol=1e-6)
    energy = (speed**2).sum(axis=-1) / 2 - GAUSS**2 / np.linalg.norm(here, axis=-1)
    assert_allclose(energy, -(GAUSS**2) * (1 - shape) / 0.9 / 2, atol=1e-8)


def test_a_planet_from_its_elements_stands_where_astropy_has_it():
    # Near opposition, from a mountain: light time 5 min, parallax 13 arcsec. The planets' pull over 3 days and the
    # ephemeris that astropy ships (arcsec) stay within 3 arcsec.
    epoch, site = Time("2025-01-12T00:00:00", scale="tdb"), EarthLocation.from_geodetic(
        SITE.longitude, SITE.latitude, SITE.height)
    target = Target("planet", 0 * u.deg, 0 * u.deg, orbit=_osculating("mars", epoch))
    found = placed(target, SITE, datetime.date(2025, 1, 13))
    middle = Time("2025-01-14") - SITE.longitude.to_value(u.deg) / 360 * u.day
    here, later = (_astrometric(place) for place in get_body("mars", middle + [0, 1] * u.h, site))
    assert here.separation(SkyCoord(found.ra, found.dec)) < 3 * u.arcsec
    assert_allclose(pace(found).value, here.separation(later).arcsec / 60, atol=0.01)


def _astrometric(apparent):
    """Return the direction that the stars behind have in ICRS: astropy's GCRS holds the aberration still."""
    return SkyCoord(apparent.ra, apparent.dec, frame=apparent.frame.replicate_without_data()).transform_to("icrs")


def _orbit(distance, shape):
    return Orbit(perihelion_distance=distance * u.au, eccentricity=shape, inclination=30 * u.deg, node=80 * u.deg,
                 argument=100 * u.deg, perihelion=60000.0)


def _osculating(body, epoch):
    """Return elements from place and speed, by the vectors of angular momentum, node and eccentricity."""
    (place, speed), (sun, drift) = (get_body_barycentric_posvel(name, epoch, ephemeris="builtin")
                                    for name in (body, "sun"))
    tilt = np.array([[1, 0, 0], [0, np.cos(OBLIQUITY), np.sin(OBLIQUITY)], [0, -np.sin(OBLIQUITY), np.cos(OBLIQUITY)]])
    r = tilt @ (place - sun).xyz.to_value(u.au)
    v = tilt @ (speed - drift).xyz.to_value(u.au / u.day)
    pull = GAUSS**2 * (1 + 1 / 3098708)  # with the planet's own mass, IAU 1976
    h = np.cross(r, v)
    shape = np.cross(v, h) / pull - r / np.linalg.norm(r)
    e, node = np.linalg.norm(shape), np.arctan2(h[0], -h[1])
    axis = 1 / (2 / np.linalg.norm(r) - v @ v / pull)
    up = np.cross(h / np.linalg.norm(h), shape / e)
    eccentric = np.arctan2(r @ up / (axis * np.sqrt(1 - e**2)), r @ shape / e / axis + e)
    argument = np.arctan2(shape[2] / np.sin(np.arccos(h[2] / np.linalg.norm(h))),
                          shape[0] * np.cos(node) + shape[1] * np.sin(node))
    passed = (eccentric - e * np.sin(eccentric)) * np.sqrt(axis**3 / pull)
    return Orbit(perihelion_distance=axis * (1 - e) * u.au, eccentricity=e, argument=np.degrees(argument) * u.deg,
                 inclination=np.degrees(np.arccos(h[2] / np.linalg.norm(h))) * u.deg, node=np.degrees(node) * u.deg,
                 perihelion=epoch.tt.mjd - passed)


def _line(fields):
    """Return a line with texts that end, or begin where the column is given first, at columns counted from one."""
    line = [" "] * 202
    for first, text in fields:
        line[first - 1:first - 1 + len(text)] = text
    return "".join(line)


def test_a_line_of_a_comet():
    # Columns: "Export Format for Comet Orbits", ephemerides and orbital elements, minorplanetcenter.org/iau/info.
    line = _line([(1, "0002"), (5, "P"), (15, "1990"), (20, "10"), (23, "28.5450"), (31, " 0.330886"), (42, "0.850220"),
                  (52, "186.2335"), (62, "334.7501"), (72, " 11.9452"), (82, "19901028"), (92, " 9.8"),
                  (103, "2P/Name")])
    found = orbit_line(line)
    assert is_orbit_line(line)
    assert (found.name, found.kind, found.orbit.epoch) == ("2P/Name", "comet", 48192)
    assert_allclose(found.orbit.heliocentric(np.array(48170.0)), HELIOCENTRIC_AU, atol=1e-5)  # six digits


def test_a_line_of_a_minor_planet():
    # Columns and the packed date: "Export Format for Minor-Planet Orbits" and "Packed Dates" (2001 Oct. 22 = K01AM).
    line = _line([(1, "00002"), (9, " 4.10"), (21, "K01AM"), (27, "353.23263"), (38, "186.23352"), (49, "334.75006"),
                  (60, " 11.94524"), (71, "0.8502196"), (81, " 0.30017124"), (93, "  2.2091404"), (167, "(2) Name")])
    found = orbit_line(line)
    assert (found.name, found.kind) == ("(2) Name", "minor planet")
    assert found.orbit.epoch == Time("2001-10-22").mjd
    # The mean anomaly of Meeus's comet at his date, -6.767367 deg: the same place, at another epoch.
    assert_allclose(found.orbit.heliocentric(np.array(found.orbit.epoch)), HELIOCENTRIC_AU, atol=1e-6)


@pytest.mark.parametrize(("text", "said"), [
    ("X q=1 e=0.5 i=3", "must hold e, i, node, peri"), ("X q=1 e=0.5 i=3 node=0 peri=0 T=soon", "must be a date"),
    ("X q=1 e=0.5 i=3 node=0 peri=0 T=2026-13-01", "must be a date"), ("X q=-1 e=1 i=3 node=0 peri=0 T=2026-12-01",
     "must be more than 0"), ("X a=2 e=1.5 i=3 node=0 peri=0 M=0 epoch=2026-12-01", "must have e below 1"),
    ("X q=1 e=0.5 e=0.6 i=3 node=0 peri=0 T=2026-12-01", "each once"), ("X q=a e=1 i=3 node=0 peri=0 T=2026-12-01",
     "must be a plain number")])
def test_wrong_elements_are_one_line(text, said):
    with pytest.raises(InvalidInputError, match=said):
        typed_orbit(text)
