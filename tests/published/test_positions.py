"""Sidereal time, apparent places and alt-az against worked examples and SOFA's own checks.

The mean obliquity is in none of our formulas: the tests alone need it, to compare ecliptic places.
"""

import datetime

import erfa
import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose
from visibility import almanac_tables

from planner.files.targets.stars import _offset
from planner.rig import Site
from planner.tracking.mount_frame import sensor_place, sky_axes
from planner.visibility import Target, moon, parallactic_angle, utc_time
from planner.visibility.clock import MJD_OF_ORDINAL_ZERO
from planner.visibility.earth_rotation import MJD_ZERO, ut1_minus_tt_s
from planner.visibility.kernels.ephemeris import (
    AU_KM,
    LIGHT_KM_PER_DAY,
    _moon_gcrs,
    _track,
    altitude_of,
    apparent_directions,
    sun_gcrs,
    to_intermediate,
    unit_vectors,
)
from planner.visibility.kernels.local_frame import local_frame, rotation_angle
from planner.visibility.kernels.pieces import horizontal
from planner.visibility.kernels.roots import roots
from planner.visibility.lunar import _angle

TURN = 2 * np.pi


def jd_of(text):
    """Return MJD of an ISO text, no time scale meant."""
    moment = datetime.datetime.fromisoformat(text)
    return moment.toordinal() + MJD_OF_ORDINAL_ZERO + (moment - datetime.datetime.combine(
        moment.date(), datetime.time())).total_seconds() / 86400


def equinox_place(gcrs, mjd_tt):
    """Return apparent RA and Dec [deg], true equinox of date: our intermediate place and SOFA's equation of origins."""
    vector = to_intermediate(mjd_tt) @ gcrs
    ra = np.arctan2(vector[1], vector[0]) - erfa.eo06a(MJD_ZERO, mjd_tt)
    return np.degrees(np.mod(ra, TURN)), np.degrees(np.arcsin(vector[2] / np.linalg.norm(vector)))


def ecliptic_longitude(gcrs, mjd_tt):
    """Return apparent longitude [deg], true ecliptic and equinox of date."""
    return ecliptic_place(gcrs, mjd_tt)[0]


def ecliptic_place(gcrs, mjd_tt):
    """Return apparent longitude and latitude [deg], true ecliptic and equinox of date."""
    ra, dec = np.radians(equinox_place(gcrs, mjd_tt))
    obliquity = erfa.obl06(MJD_ZERO, mjd_tt) + erfa.nut06a(MJD_ZERO, mjd_tt)[1]
    longitude = np.arctan2(np.sin(ra) * np.cos(obliquity) + np.tan(dec) * np.sin(obliquity), np.cos(ra))
    latitude = np.arcsin(np.sin(dec) * np.cos(obliquity) - np.cos(dec) * np.sin(obliquity) * np.sin(ra))
    return np.degrees(longitude) % 360, np.degrees(latitude)


def crossings(function, times):
    """Return the roots of a function on a grid of times, and whether it rises there."""
    values = function(times)
    at = np.flatnonzero((values[:-1] < 0) != (values[1:] < 0))
    return roots(function, times[at], times[at + 1]), values[at] < 0


def test_julian_date_c01():
    # Meeus 1998, ex. 7.a: 1957 Oct 4.81 is JD 2436116.31.
    assert_allclose(jd_of("1957-10-04T19:26:24") + MJD_ZERO, 2436116.31, atol=1e-6)


# Meeus 1998, ex. 12.a and 12.b, in hours; mean sidereal time = Earth rotation angle + the accumulated precession.
# 0.02 s: the example uses the expression of 1982, ours that of 2006.
@pytest.mark.parametrize(("moment", "hours"), [
    pytest.param("1987-04-10T00:00:00", 13.17954633333),
    pytest.param("1987-04-10T19:21:00", 8.582524888889),
])
def test_mean_sidereal_time(moment, hours):
    mjd = jd_of(moment)
    precession = erfa.gmst06(MJD_ZERO, mjd, MJD_ZERO, mjd) - erfa.era00(MJD_ZERO, mjd)
    found = np.mod(rotation_angle(mjd) + precession, TURN) / TURN * 24
    assert_allclose(found, hours, atol=0.02 / 3600)


def test_apparent_sidereal_time_c04():
    # Meeus 1998, ex. 12.a: 13h 10m 46.1351s at 1987 Apr 10, 0h UT; through our intermediate frame.
    mjd = jd_of("1987-04-10T00:00:00")
    found = np.mod(rotation_angle(mjd) - erfa.eo06a(MJD_ZERO, mjd), TURN) / TURN * 24
    assert_allclose(found, 13.17948197222, atol=0.02 / 3600)


def test_altitude_and_azimuth_of_venus_c06_c07():
    # Meeus 1998, ex. 13.b: azimuth counted from the south there.
    altitude, azimuth = np.degrees(horizontal(np.radians(64.352133), np.sin(np.radians(-6.719892)),
                                               np.cos(np.radians(-6.719892)), np.radians(38.921389)))
    assert_allclose(azimuth - 180, 68.0337, atol=5e-4)
    assert_allclose(altitude, 15.1249, atol=5e-4)


def test_rise_transit_and_set_of_venus_c08_c09_c10():
    # Meeus 1998, ex. 15.a: Boston, 1988 Mar 20, altitude -0.5667 deg; hours UT, within 0.002 h. Venus is from SOFA's
    # plan94 (a few arcsec), light time by one step; the rest is ours.
    def venus(mjd_tt):
        def from_earth(light_days):
            earth = erfa.epv00(MJD_ZERO, mjd_tt)[0]["p"]
            return erfa.plan94(MJD_ZERO, mjd_tt - light_days, 2)["p"] - earth

        distance = np.linalg.norm(from_earth(0.0), axis=-1) * AU_KM
        vector = from_earth(distance / LIGHT_KM_PER_DAY)
        velocity = erfa.epv00(MJD_ZERO, mjd_tt)[1]["v"] * AU_KM / LIGHT_KM_PER_DAY
        return (vector + np.linalg.norm(vector, axis=-1, keepdims=True) * velocity) * AU_KM

    site = Site(name="Boston", latitude=42.3333 * u.deg, longitude=-71.0833 * u.deg)
    start = jd_of("1988-03-20T00:00:00") + 56 / 86400  # TT, 0h UT
    frame, track = local_frame(site, start, start + 1), _track(venus, 0.25, start, start + 1)

    def above(tt):
        return altitude_of(frame.local(track.at(tt), tt)) - np.radians(-0.5667)  # the example is geocentric

    def east(tt):
        return -frame.local(track.at(tt), tt)[:, 1]

    times = np.linspace(start, start + 1, 289)
    at, rising = crossings(above, times)
    assert_allclose((at[rising] - start) * 24, [12.4238], atol=0.002)
    assert_allclose((at[~rising] - start) * 24, [2.9112], atol=0.002)
    at, to_west = crossings(east, times)
    upper = at[to_west & (above(at) > 0)]
    assert_allclose((upper - start) * 24, [19.6752], atol=0.002)


def test_angular_separation_c11():
    # Meeus 1998, ex. 17.a, Arcturus and Spica (J2000 places from memory).
    arcturus, spica = unit_vectors(*np.radians([213.9154, 19.1825])), unit_vectors(*np.radians([201.2983, -11.1614]))
    assert_allclose(_angle(arcturus, spica), 32.7930, atol=5e-4)


def test_angular_separation_c28():
    # SOFA, t_sofa_c.c, seps.
    assert_allclose(np.radians(_angle(unit_vectors(1.0, 0.1), unit_vectors(0.2, -3.0))), 2.346722016997, atol=1e-12)


def test_nutation_c12():
    # Meeus 1998, ex. 22.a: 1987 Apr 10, 0h TD, -3.788 and +9.443 arcsec. Where the pole of our frame stands about the
    # mean pole of date: dpsi sin(eps) and deps. 0.01 arcsec: the theory of 1980 against that of 2000.
    mjd = jd_of("1987-04-10T00:00:00")
    x, y, _ = np.degrees(erfa.bp06(MJD_ZERO, mjd)[2] @ to_intermediate(mjd)[2]) * 3600
    assert_allclose((x / np.sin(erfa.obl06(MJD_ZERO, mjd)), y), (-3.788, 9.443), atol=0.01)


def test_precession_c40():
    # Meeus 1998, ex. 21.b: theta Persei at 2028 Nov 13.19 TD, mean equator and equinox of date, 2h 46m 11.331s and
    # +49 deg 20' 54.54". The start (2h 44m 11.986s, +49 deg 13' 42.48", 0.03425 s and -0.0895" a year) is from memory.
    # Our frame, turned from the intermediate origin to the equinox and back over the nutation.
    mjd = jd_of("2028-11-13T00:00:00") + 0.19
    years = (mjd - 51544.5) / 365.25
    start = unit_vectors(np.radians(15 * (2 + 44 / 60 + (11.986 + 0.03425 * years) / 3600)),
                  np.radians(49 + 13 / 60 + (42.48 - 0.0895 * years) / 3600))
    equinox = erfa.rz(erfa.eo06a(MJD_ZERO, mjd), to_intermediate(mjd))
    mean = erfa.num06a(MJD_ZERO, mjd).T @ equinox @ start
    ra, dec = np.degrees(np.arctan2(mean[1], mean[0])), np.degrees(np.arcsin(mean[2]))
    assert_allclose((ra, dec), (41.5472125, 49 + 20 / 60 + 54.54 / 3600), atol=2e-4)


def test_position_angle_c29():
    # SOFA, t_sofa_c.c, pas: the angle at which a star stands from the centre of a field.
    _, angle = _offset(np.degrees(0.2), np.degrees(-1.0), np.degrees(1.0), np.degrees(0.1))
    assert_allclose(np.radians(angle) - TURN, -2.724544922932, atol=1e-12)


def test_tangent_plane_c33():
    # SOFA, t_sofa_c.c, tpxes. A place on the sensor is kept as arcs; on a plane it is farther out by tan(arc)/arc.
    east, north = sensor_place(sky_axes(-2.3, 1.5), sky_axes(-1.3, 1.55)[..., 0])
    arc = np.hypot(east, north)
    on_plane = np.array([east, north]) * np.tan(arc) / arc
    assert_allclose(on_plane, (-0.01753200983237, 0.05962940005778712891), atol=1e-13)


def test_apparent_place_of_the_sun_c13_c14_c15_c16():
    # Meeus 1998, ex. 25.a (a low-accuracy series, good to 0.01 deg: here 10 arcsec from 25.b) and 25.b: 1992 Oct 13,
    # 0h TD; longitude 199d 54m 21.56s (from memory: book value 21.56 s), distance 0.99760853 au.
    mjd = jd_of("1992-10-13T00:00:00")
    sun = sun_gcrs(mjd)
    ra, dec = equinox_place(sun, mjd)
    assert_allclose(ra, 198.38083, atol=4e-3)
    assert_allclose(dec, -7.78507, atol=4e-3)
    assert_allclose(ecliptic_longitude(sun, mjd), 199.9059888889, atol=1e-5)
    heliocentric, _ = erfa.epv00(MJD_ZERO, mjd)
    assert_allclose(np.linalg.norm(heliocentric["p"]), 0.99760853, atol=2e-8)


def test_apparent_place_of_the_moon_c17_c18_c19_c20_v31():
    # Meeus 1998, ex. 47.a: 1992 Apr 12, 0h TD; the theory is the one of erfa.moon98, reached through our frame.
    mjd = jd_of("1992-04-12T00:00:00")
    moon_gcrs = _moon_gcrs(mjd)
    ra, dec = equinox_place(moon_gcrs, mjd)
    # 0.0003 deg: 1 arcsec, for the frame bias and the newer precession.
    assert_allclose((ra, dec), (134.688470, 13.768368), atol=3e-4)
    longitude, latitude = ecliptic_place(moon_gcrs, mjd)
    assert_allclose(longitude, 133.167265, atol=3e-4)  # 133.162655 + nutation 0.00461 deg
    assert_allclose(latitude, -3.229126, atol=3e-4)
    assert_allclose(np.linalg.norm(moon_gcrs), 368409.7, atol=1.0)  # light time: 1.3 s of 30 m/s


def test_bright_limb_of_the_moon_c22():
    # Meeus 1998, ex. 48.a: 1992 Apr 12, 0h TD: the Sun stands at position angle 285.0 deg from the Moon.
    mjd = jd_of("1992-04-12T00:00:00")
    _, angle = _offset(*equinox_place(sun_gcrs(mjd), mjd), *equinox_place(_moon_gcrs(mjd), mjd))
    assert_allclose(angle, 285.0, atol=0.1)


def test_new_moon_c23():
    # Meeus 1998, ex. 49.a: 1977 Feb 18, 03h 37m 42s TD, when the apparent longitudes agree. Our Moon is within
    # 14 arcsec: half a minute of its way.
    day = jd_of("1977-02-18T00:00:00")

    def ahead(minutes):
        mjd = day + minutes / 1440
        return ecliptic_longitude(_moon_gcrs(mjd), mjd) - ecliptic_longitude(sun_gcrs(mjd), mjd)

    low, high = 100.0, 300.0
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (middle, high) if ahead(middle) < 0 else (low, middle)
    assert_allclose(low, 217.7, atol=0.5)


def test_parallactic_angle_c24():
    # SOFA, t_sofa_c.c, hd2pa.
    found = parallactic_angle(1.1 * u.rad, 1.2 * u.rad, 0.3 * u.rad)
    assert_allclose(found.to_value(u.rad), 1.906227428002, atol=1e-12)


def test_azimuth_and_altitude_c25_c26():
    # SOFA, t_sofa_c.c, hd2ae.
    altitude, azimuth = horizontal(1.1, np.sin(1.2), np.cos(1.2), 0.3)
    assert_allclose(azimuth, 5.91688924373, atol=1e-11)
    assert_allclose(altitude, 0.447218630499, atol=1e-12)


def test_hour_angle_and_declination_c27():
    # SOFA, t_sofa_c.c, ae2hd: the way back is the same turn, azimuth and altitude in the places of the other two.
    declination, hour_angle = horizontal(5.5, np.sin(1.1), np.cos(1.1), 0.7)
    assert_allclose((hour_angle, declination), (0.5933291115507, 0.9613934761647817620), atol=1e-12)


def test_earth_rotation_angle_c30():
    # SOFA, t_sofa_c.c, era00.
    assert_allclose(np.mod(rotation_angle(54388.0), TURN), 0.4022837240028, atol=1e-11)


def test_mean_sidereal_time_c31():
    # SOFA, t_sofa_c.c, gmst06: its UT1 and TT are both MJD 53736.0.
    precession = erfa.gmst06(MJD_ZERO, 53736.0, MJD_ZERO, 53736.0) - erfa.era00(MJD_ZERO, 53736.0)
    assert_allclose(np.mod(rotation_angle(53736.0) + precession, TURN), 1.75417497187, atol=1e-11)


def test_place_of_the_observer_c39():
    # Meeus 1998, ex. 11.a: Palomar, rho sin phi' and rho cos phi' in equatorial radii (of 6378.14 km).
    site = Site(name="Palomar", latitude=(33 + 21 / 60 + 22 / 3600) * u.deg, longitude=-116.8625 * u.deg,
                height=1706 * u.m)
    frame = local_frame(site, 50000.0, 50001.0)
    place = frame.observer @ frame.rows / 6378.14
    # 4e-6: the Earth's pole is up to 0.5 arcsec from the pole of date.
    assert_allclose((place[2], np.hypot(place[0], place[1])), (0.546861, 0.836339), atol=4e-6)


def ut1_table(name):
    """Yield MJD in TT and RA, Dec [deg] from the almanac's tables of apparent places at 0h UT1."""
    for line in almanac_tables.text(name).splitlines():
        cells = line.replace("+", " +").replace("-", " -").split()
        if len(cells) > 9 and cells[0].isdigit() and ":" in cells[3]:
            mjd = jd_of(datetime.datetime.strptime(" ".join(cells[:3]), "%Y %b %d").isoformat())
            ra = 15 * (int(cells[4]) + int(cells[5]) / 60 + float(cells[6]) / 3600)
            sign = cells[7]
            rest = cells[8:11] if sign in "+-" else [sign[1:], *cells[8:10]]
            dec = int(rest[0]) + int(rest[1]) / 60 + float(rest[2]) / 3600
            yield mjd - ut1_minus_tt_s(mjd) / 86400, ra, -dec if sign.startswith("-") else dec


def test_apparent_places_of_deneb():
    # U.S. Naval Observatory table in ephem/tests/usno/apptopo_deneb.txt: apparent place, true equinox of date. Proper
    # motion to the year of the table is below 0.02 arcsec; the table holds the observer's aberration (0.3 arcsec).
    rows = list(ut1_table("apptopo_deneb.txt"))
    assert len(rows) > 10
    deneb = Target("Deneb", 310.357980 * u.deg, 45.280339 * u.deg)
    for mjd_tt, ra, dec in rows:
        place = unit_vectors(deneb.ra.to_value(u.rad), deneb.dec.to_value(u.rad))
        (direction,) = apparent_directions(place[np.newaxis], mjd_tt)
        found = np.degrees(np.arctan2(direction[1], direction[0]) - erfa.eo06a(MJD_ZERO, mjd_tt)) % 360
        assert_allclose((found - ra) * np.cos(np.radians(dec)) * 3600, 0, atol=0.4)
        assert_allclose((np.degrees(np.arcsin(direction[2])) - dec) * 3600, 0, atol=0.4)


def test_topocentric_places_of_the_moon():
    # U.S. Naval Observatory table in ephem/tests/usno/apptopo_moon.txt, Atlanta; 14 arcsec: our Moon's error.
    site = Site(name="Atlanta", latitude=(33 + 45 / 60 + 36 / 3600) * u.deg,
                longitude=-(84 + 24 / 60 + 36 / 3600) * u.deg, height=322 * u.m)
    rows = list(ut1_table("apptopo_moon.txt"))
    assert len(rows) > 5
    for mjd_tt, ra, dec in rows:
        found = moon(site, utc_time(np.array([mjd_tt])))
        vector = found._directions[0]
        at = np.degrees(np.arctan2(vector[1], vector[0]) - erfa.eo06a(MJD_ZERO, mjd_tt)) % 360
        assert_allclose((at - ra) * np.cos(np.radians(dec)) * 3600, 0, atol=14)
        assert_allclose((np.degrees(np.arcsin(vector[2])) - dec) * 3600, 0, atol=14)
