"""Rise, set, twilight and the Moon against published tables."""

import datetime

import numpy as np
import pytest
from astropy import units as u
from astropy.time import Time
from numpy.testing import assert_allclose
from visibility import almanac_tables
from visibility.rising import rise_set

from planner.rig import Site
from planner.visibility import lit_share, local_time, moon_events, night
from planner.visibility.darkness import SUNSET_DEG, TWILIGHTS
from planner.visibility.kernels.ephemeris import MOON_RADIUS_KM
from planner.visibility.lunar import _illumination

ROUNDING = 0.5  # min: tables give whole minutes


def place(latitude, longitude, zone="UTC"):
    return Site(name="place", latitude=latitude * u.deg, longitude=longitude * u.deg, time_zone=zone)


def minutes_of(time, site, date):
    """Return minutes since local midnight of a date."""
    clock = local_time(time, site)
    midnight = datetime.datetime.combine(date, datetime.time(), clock.tzinfo)
    return (clock - midnight).total_seconds() / 60


def clock_minutes(text):
    return int(text[:2]) * 60 + int(text[3:])


def moon_day(site, date):
    """Return the Moon's events of one local day."""
    start = datetime.datetime.combine(date, datetime.time(), local_time(Time("2000-01-01"), site).tzinfo)
    return moon_events(site, Time(start), Time(start + datetime.timedelta(days=1)))


ATLANTA = place(33 + 46 / 60, -(84 + 25 / 60), "Etc/GMT+5")
BOSTON = place(42 + 19 / 60, -(71 + 5 / 60), "Etc/GMT+5")
FAIRBANKS = place(64 + 48.6 / 60, -147.75, "Etc/GMT+8")
PHILADELPHIA = place(40.0, -75.15, "Etc/GMT+4")


# U.S. Naval Observatory table shipped in ephem/tests/usno/riset_sun.txt, EST.
@pytest.mark.parametrize(("date", "event", "expected"), [
    pytest.param("2007-01-01", "sunrise", "07:43"),
    pytest.param("2007-06-20", "sunset", "19:51"),
    pytest.param("2007-12-10", "sunset", "17:29"),
])
def test_the_sun_at_atlanta(date, event, expected):
    day = datetime.date.fromisoformat(date)
    evening = day if event == "sunset" else day - datetime.timedelta(days=1)
    found = minutes_of(getattr(night(ATLANTA, evening), event), ATLANTA, day)
    assert abs(found - clock_minutes(expected)) <= ROUNDING + 0.05


def test_every_sunrise_and_sunset_of_the_atlanta_table_v04():
    # the largest difference is 0.54 min over a sample with an independent ephemeris; the table is rounded to
    # 1 min and its coordinates to 1 arcmin.
    differences = []
    for date, kind, expected in almanac_tables.rise_and_set_of_a_year("riset_sun.txt", 2007):
        evening = date if kind == "set" else date - datetime.timedelta(days=1)
        found = night(ATLANTA, evening)
        time = found.sunset if kind == "set" else found.sunrise
        differences.append(minutes_of(time, ATLANTA, date) - expected)
    assert len(differences) == 730
    assert np.max(np.abs(differences)) < 0.7
    assert abs(np.mean(differences)) < 0.05  # no bias: the standard altitude is right to 0.01 deg


# U.S. Naval Observatory table shipped in ephem/tests/usno/riset_moon.txt, EST.
@pytest.mark.parametrize(("date", "event", "expected"), [
    pytest.param("1984-01-01", "rises", "05:53"),
    pytest.param("1984-09-10", "sets", "05:22"),
    pytest.param("1984-03-07", "sets", "22:37", id="set"),
    pytest.param("1984-03-07", "rises", "08:30", id="rise"),
    pytest.param("1984-06-08", "sets", "01:17", id="June"),  # as printed: 00:52 on the 7th, 01:17 on the 8th
])
def test_the_moon_at_boston(date, event, expected):
    day = datetime.date.fromisoformat(date)
    (time,) = getattr(moon_day(BOSTON, day), event)
    assert abs(minutes_of(time, BOSTON, day) - clock_minutes(expected)) <= ROUNDING + 0.3


def test_every_moonrise_and_moonset_of_the_boston_table_v08_v09():
    # 0.53 min over a sample; blank cells are days without the event.
    differences, blanks = [], 0
    for date, kind, expected in almanac_tables.rise_and_set_of_a_year("riset_moon.txt", 1984):
        times = getattr(moon_day(BOSTON, date), f"{kind}s")
        if expected is None:
            # An event within half a minute of midnight may be printed on the other day.
            assert all(min(minutes_of(time, BOSTON, date) % 1440, -minutes_of(time, BOSTON, date) % 1440) < 1
                       for time in times)
            blanks += 1
            continue
        found = [minutes_of(time, BOSTON, date) for time in times] or [1440.0]
        differences.append(min((value - expected for value in found), key=abs))
    assert blanks > 20
    assert len(differences) > 700
    assert np.max(np.abs(differences)) < 0.8
    assert abs(np.mean(differences)) < 0.05


@pytest.mark.parametrize(("date", "none"), [("1984-01-11", "sets"), ("1984-01-24", "rises")])
def test_days_without_an_event_v09(date, none):
    assert len(getattr(moon_day(BOSTON, datetime.date.fromisoformat(date)), none)) == 0


@pytest.mark.parametrize("date", ["2006-06-24", "2006-06-25", "2006-06-26"])
def test_the_moon_up_all_day_v11(date):
    events = moon_day(FAIRBANKS, datetime.date.fromisoformat(date))
    assert (len(events.rises), len(events.sets)) == (0, 0)
    assert events.reason == "The Moon is up all the time."


def test_moonrise_transit_and_set_at_fairbanks():
    # U.S. Naval Observatory table in ephem/tests/usno/risettran_moon.txt: 64.8 N, where the Moon skims the horizon
    # (1 arcmin of altitude is up to 1 min there).
    count = 0
    for date, *expected in almanac_tables.rise_transit_set("risettran_moon.txt"):
        events = moon_day(FAIRBANKS, date)
        for times, wanted in zip((events.rises, events.transits, events.sets), expected, strict=True):
            if wanted is not None:
                assert min(abs(minutes_of(time, FAIRBANKS, date) - wanted) for time in times) < 1.0, (date, wanted)
                count += 1
    assert count > 50


def test_rigel_at_philadelphia():
    # U.S. Naval Observatory table in ephem/tests/usno/risettran_rigel.txt; refraction 34 arcmin on the horizon, ours
    # is 34.5 at the standard air: 0.05 min. Rigel: Hipparcos 24436, J2000 place at the epoch of the table.
    rigel = (u.Quantity([78.634468]), u.Quantity([-8.201639]))
    count = 0
    for date, *expected in almanac_tables.rise_transit_set("risettran_rigel.txt"):
        evening = date if expected[1] > 12 * 60 else date - datetime.timedelta(days=1)
        for shift in (-1, 0):
            around = rise_set(rigel[0] * u.deg, rigel[1] * u.deg, PHILADELPHIA,
                              night(PHILADELPHIA, evening + datetime.timedelta(days=shift)))
            for time, wanted in zip((around.rise[0], around.transit[0], around.set[0]), expected, strict=True):
                found = minutes_of(time, PHILADELPHIA, date)
                if wanted is not None and 0 <= found < 1440:
                    assert abs(found - wanted) < ROUNDING + 0.15, (date, wanted, found)
                    count += 1
    assert count > 30


# One-day table of the U.S. Naval Observatory quoted in Skyfield's test_almanac.py.
def test_sunrise_and_sunset_v13():
    bluffton = place(40.8939, -83.8917)
    sunrise = night(bluffton, "2018-09-11").sunrise
    sunset = night(bluffton, "2018-09-12").sunset
    day = datetime.date(2018, 9, 12)
    assert abs(minutes_of(sunrise, bluffton, day) - clock_minutes("11:13")) <= ROUNDING + 0.1
    assert abs(minutes_of(sunset, bluffton, day) - clock_minutes("23:50")) <= ROUNDING + 0.1


# Skyfield test_almanac.py, test_dark_twilight_day: 41.281944 N 84.362778 W, 2019 Nov 8.
@pytest.mark.parametrize(("evening", "side", "expected"), [
    pytest.param("2019-11-07", "dawn", ("11:48", "11:15", "10:42")),
    pytest.param("2019-11-08", "dusk", ("22:54", "23:27", "23:59")),
])
def test_twilights(evening, side, expected):
    site = place(41.281944, -84.362778)
    day = datetime.date(2019, 11, 8)
    for twilight, wanted in zip(night(site, evening).twilights, expected, strict=True):
        assert abs(minutes_of(getattr(twilight, side), site, day) - clock_minutes(wanted)) <= ROUNDING + 0.1


def test_astronomical_twilight_v16():
    # Duffett-Smith & Zwart (2011), section 50: lat 52, lon 0, 1979 Sep 7; low accuracy, 1 min.
    site, day = place(52, 0), datetime.date(1979, 9, 7)
    dawn = night(site, "1979-09-06").twilights[2].dawn
    dusk = night(site, "1979-09-07").twilights[2].dusk
    assert abs(minutes_of(dawn, site, day) - clock_minutes("03:17")) <= 1
    assert abs(minutes_of(dusk, site, day) - clock_minutes("20:37")) <= 1


def test_sunrise_and_sunset_boston_v17():
    # Duffett-Smith & Zwart (2011), section 49: 1986 Mar 10, EST, 1 min.
    site, day = place(42.37, -71.05, "Etc/GMT+5"), datetime.date(1986, 3, 10)
    assert abs(minutes_of(night(site, "1986-03-09").sunrise, site, day) - clock_minutes("06:05")) <= 1
    assert abs(minutes_of(night(site, "1986-03-10").sunset, site, day) - clock_minutes("17:45")) <= 1


def test_moonrise_and_moonset_boston_v18():
    # Duffett-Smith & Zwart (2011), section 70: 1986 Mar 6, EST, 2 min.
    site, day = place(42.37, -71.05, "Etc/GMT+5"), datetime.date(1986, 3, 6)
    events = moon_day(site, day)
    assert abs(minutes_of(events.rises[0], site, day) - clock_minutes("04:21")) <= 2
    assert abs(minutes_of(events.sets[0], site, day) - clock_minutes("13:08")) <= 2


def test_illuminated_fraction_on_ten_nights_v24():
    # U.S. Naval Observatory table quoted in Skyfield's test_almanac.py: 2018 Sep 9 to 18, 05h UT, two decimals.
    times = Time("2018-09-09T05:00:00") + np.arange(10) * u.day
    expected = [0.00, 0.00, 0.03, 0.08, 0.15, 0.24, 0.33, 0.43, 0.52, 0.62]
    # 0.0055: half of the table's last digit, and the series of the Moon.
    assert_allclose(lit_share(times), expected, atol=0.0055)


def test_phases_of_1980_v25():
    # U.S. Naval Observatory table in ephem/tests/usno/moon_phases.txt: new and full Moon are extremes of the phase
    # angle, quarters are its right angles but for 9 arcmin (the Moon's distance against the Sun's).
    expected = {"new": 0.0, "first": 0.5, "full": 1.0, "last": 0.5}
    phases = list(almanac_tables.moon_phases(1980))
    assert len(phases) > 45
    # 0.003: the 9 arcmin at quarters, 5 deg of latitude at new and full.
    assert_allclose(lit_share(Time([time for _, time in phases])), [expected[name] for name, _ in phases], atol=0.003)


def test_the_definitions_v26_v28():
    # USNO, Rise, Set and Twilight Definitions: refraction 34 arcmin and semidiameter 16 arcmin; 6, 12 and 18 deg.
    assert_allclose(SUNSET_DEG, -0.8333, atol=1e-4)
    assert TWILIGHTS == (("civil", 6.0), ("nautical", 12.0), ("astronomical", 18.0))


def test_standard_altitude_of_the_moon_v27():
    # Meeus 1998, ch. 15: 0.7275 parallax - 0.5667 = 0.125 deg at the mean parallax of 0.9507 deg (from memory: 0.7275
    # and 0.9507): the geocentric altitude at which the upper limb rises. Ours works topocentrically: refraction and
    # semidiameter below, parallax above.
    parallax = 0.9507
    distance = 6378.14 / np.sin(np.radians(parallax))
    semidiameter = np.degrees(np.arcsin(MOON_RADIUS_KM / distance))
    assert_allclose(parallax - semidiameter - 34 / 60, 0.125, atol=6e-4)


def test_illuminated_fraction_v30():
    # Meeus 1998, ex. 48.a: 1992 Apr 12, 0h TD.
    assert_allclose(lit_share(Time("1992-04-12T00:00:00", scale="tt").utc), 0.6786, atol=1e-4)


def test_illumination_from_the_phase_angle_c21():
    # Meeus 1998, eq. 48.1 (from memory: phase angle i = 69.0756).
    assert_allclose(_illumination(69.0756), 0.6786, atol=1e-4)


def test_moonrise_munich_v32():
    # Montenbruck & Pfleger, Astronomy on the Personal Computer, ch. 3: 1989 Mar 23, 18.95 h UT.
    site, day = place(48.1, 11.6), datetime.date(1989, 3, 23)
    assert abs(minutes_of(moon_day(site, day).rises[0], site, day) - clock_minutes("18:57")) <= 1
