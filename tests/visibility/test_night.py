"""Nights: against DE421, and at their edges."""

import datetime

import numpy as np
import pytest
from astropy import units as u
from astropy.time import Time
from visibility import jpl
from visibility.seasons import season_hours

from planner.errors import InvalidInputError
from planner.rig import Site
from planner.visibility import clock_text, local_time, moon_events, night


def site_of(latitude, longitude, zone="UTC", height=0):
    return Site(name="s", latitude=latitude * u.deg, longitude=longitude * u.deg, time_zone=zone, height=height * u.m)


def random_nights(count, seed):
    rng = np.random.default_rng(seed)
    for _ in range(count):
        yield (site_of(rng.uniform(-65, 65), rng.uniform(-180, 180), height=rng.uniform(0, 3000)),
               datetime.date(1985, 1, 1) + datetime.timedelta(days=int(rng.integers(0, 12700))))


def events_against_jpl(count):
    """Hold the events of the Sun and the Moon of so many random nights against DE421."""
    # Asked for: twilight within 10 s, moonrise within 10 s. Held to 0.3 s (the Sun) and 4 s (the Moon: 14 arcsec).
    body, sun, moon, transit = jpl.ephemeris(), [], [], []
    for site, date in random_nights(count, 11):
        found = night(site, date)
        start, end = found.start, found.end
        levels = [(50 / 60, found.sunset, found.sunrise)]
        levels += [(one.depression.value, one.dusk, one.dawn) for one in found.twilights]
        for depth, evening, morning in levels:
            for search, time in ((jpl.settings, evening), (jpl.risings, morning)):
                expected = search(site, body["sun"], start, end, horizon_degrees=-depth)
                assert len(expected) == (time is not None), (site, date, depth)
                sun += [jpl.seconds(time, jd) for jd in expected]
        events = moon_events(site, start, end)
        for times, expected in ((events.rises, jpl.risings(site, body["moon"], start, end)),
                                (events.sets, jpl.settings(site, body["moon"], start, end))):
            assert len(times) == len(expected), (site, date)
            moon += [jpl.seconds(time, jd) for time, jd in zip(times, expected, strict=True)]
        transit += [jpl.seconds(time, jd) for time, jd in zip(
            events.transits, jpl.transits(site, body["moon"], start, end), strict=True)]
    assert len(sun) > 6 * count
    assert len(moon) > 1.5 * count
    assert np.max(np.abs(sun)) < 0.3
    assert np.max(np.abs(moon)) < 4
    assert np.max(np.abs(transit)) < 2


def test_sun_and_moon_events_against_jpl():
    events_against_jpl(25)


def test_midsummer_says_what_is_left():
    # 50 N, 20 June: the Sun's lower transit is 90 - 50 - 23.44 = 16.6 deg down.
    found = night(site_of(50, 15, "Europe/Prague"), "2026-06-20")
    assert found.dark is None
    assert found.dark_hours == 0 * u.h
    assert found.reason.startswith("No dark time at 18°: the Sun stays within 16.6° of the horizon; nautical")
    dusk, dawn = found.twilights[1].dusk, found.twilights[1].dawn
    assert f"from {clock_text(dusk, found.site)} to {clock_text(dawn, found.site)}." in found.reason
    assert "CEST" in found.reason
    assert found.twilights[2].dusk is None


def test_a_smaller_depression_finds_dark_time():
    site = site_of(50, 15, "Europe/Prague")
    found = night(site, "2026-06-20", depression=12 * u.deg)
    assert found.dark[0] == found.twilights[1].dusk
    assert found.reason == ""


def test_the_darkest_hours_of_a_short_night_against_jpl():
    # At both ends of three hours around its lower transit the Sun is as deep as is said, by DE421.
    site, body = site_of(58.2, 8.1, "Europe/Oslo"), jpl.ephemeris()
    for day in ("2027-04-26", "2027-05-05"):
        found = night(site, day, least=3 * u.h)
        assert found.dark_hours.value == pytest.approx(3, abs=0.02)  # the Sun goes north meanwhile
        assert 12 < found.depression.value < 18 == found.asked.value
        for search, time in ((jpl.settings, found.dark[0]), (jpl.risings, found.dark[1])):
            (expected,) = search(site, body["sun"], found.start, found.end, horizon_degrees=-found.depression.value)
            assert abs(jpl.seconds(time, expected)) < 0.5  # it goes down slowly
        assert found.notes[0].startswith("The Sun is below −18° for less than 3 h: the darkest 3.0 h count as dark")
    assert night(site, "2027-03-01", least=3 * u.h).depression == 18 * u.deg


def test_no_night_ends_the_season_at_once():
    site = site_of(58.2, 8.1, "Europe/Oslo")
    days = [datetime.date(2027, 3, 20) + datetime.timedelta(days=day) for day in range(100)]
    hours = np.array([night(site, day, least=3 * u.h).dark_hours.value for day in days])
    assert hours[0] > 6 > 0 == hours[-1]
    assert np.abs(np.diff(hours[hours > 2])).max() < 0.4  # below 12 deg the Sun's path is flat: minutes a night
    season = season_hours([90] * u.deg, [40] * u.deg, site, days[0], len(days), least=3 * u.h)
    assert np.abs(season.dark_hours.value - hours).max() < 1e-3


@pytest.mark.parametrize(("latitude", "words"), [
    (59, "civil dark from"), (62, "bright twilight all night"), (70, "the Sun does not set")])
def test_brighter_and_brighter_midsummer_nights(latitude, words):
    found = night(site_of(latitude, 25, "Europe/Helsinki"), "2026-06-20")
    assert words in found.reason
    assert (found.sunset is None) == (latitude == 70)


def test_polar_night_with_noon_twilight():
    found = night(site_of(70, 25, "Europe/Oslo"), "2026-12-20")
    assert found.sunset is None
    assert found.sunrise is None
    assert found.dark is not None
    assert any(note.startswith("Polar night") for note in found.notes)
    assert 12 * u.h < found.dark_hours < 20 * u.h


def test_polar_night_dark_at_noon():
    # 88 N in December: the Sun is 21 deg down at noon.
    found = night(site_of(88, 0), "2026-12-21")
    assert found.dark_hours.to_value(u.h) == pytest.approx(24)
    assert found.dark[0] == found.start
    assert "21.4° below the horizon" in " ".join(found.notes)


@pytest.mark.parametrize(("date", "text"), [
    ("2026-03-28", "The clocks go forward by 1 h during this night, at 01:00 UTC (from CET to CEST)."),
    ("2026-10-24", "The clocks go back by 1 h during this night, at 01:00 UTC (from CEST to CET).")])
def test_the_night_in_which_the_clocks_change(date, text):
    # Directive 2000/84/EC: summer time begins and ends at 1 a.m. Greenwich Mean Time.
    found = night(site_of(45, 7, "Europe/Rome"), date)
    assert found.notes == (text,)
    before = night(site_of(45, 7, "Europe/Rome"), datetime.date.fromisoformat(date) - datetime.timedelta(days=1))
    assert before.notes == ()
    # The dark itself does not notice: it changes by 3 min a day.
    assert abs(found.dark_hours - before.dark_hours) < 5 * u.min


@pytest.mark.parametrize(("longitude", "zone"), [
    (7, "Europe/Rome"), (179.9, "Pacific/Auckland"), (-179.9, "Pacific/Tongatapu"), (180, "Pacific/Fiji"),
    (-157.4, "Pacific/Kiritimati"), (-171.8, "Pacific/Pago_Pago"), (116, "Asia/Shanghai"), (76, "Asia/Shanghai"),
    (360 - 70.7, "America/Santiago")])
def test_a_night_is_named_by_its_evening_on_the_site_s_clock(longitude, zone):
    site = site_of(-20, longitude, zone)
    for month in range(1, 13):
        date = datetime.date(2026, month, 15)
        found = night(site, date)
        assert local_time(found.sunset, site).date() == date
        assert local_time(found.sunrise, site).date() == date + datetime.timedelta(days=1)
        assert found.sunset < found.dark[0] < found.middle < found.dark[1] < found.sunrise


def test_on_a_universal_clock_the_evening_s_date_counts_too():
    # 150 E: the evening of 25 November begins about 8 h UTC of that date.
    found = night(site_of(0, 150), "2026-11-25")
    assert found.sunset.isot.startswith("2026-11-25T07")


def test_nights_follow_each_other_without_gap_or_overlap():
    site = site_of(45, 7, "Europe/Rome")
    nights = [night(site, datetime.date(2026, 1, 1) + datetime.timedelta(days=day)) for day in range(0, 365, 7)]
    for one in nights:
        following = night(site, one.date + datetime.timedelta(days=1))
        assert abs((following.start - one.end).sec) < 60


@pytest.mark.parametrize(("date", "message"), [
    ("yesterday", "night = yesterday: must be a date. Write it like 2026-11-25."),
    ("2026-02-30", "must be a date"), (20261125, "must be a date"),
    ("1960-01-01", "must lie between 1973-01-03 and 2098-12-31"),
    ("2099-01-01", "must lie between 1973-01-03 and 2098-12-31")])
def test_a_bad_date_is_refused(date, message):
    with pytest.raises(InvalidInputError, match=message):
        night(site_of(45, 7), date)


@pytest.mark.parametrize("depression", [0 * u.deg, 31 * u.deg, 18, 18 * u.m])
def test_a_bad_depression_is_refused(depression):
    with pytest.raises(InvalidInputError, match="depression = "):
        night(site_of(45, 7), "2026-11-25", depression=depression)


def test_a_day_that_a_clock_left_out_is_refused():
    # Samoa went from 2011-12-29 to 2011-12-31 (IANA time zone database, australasia).
    apia = Site(name="s", latitude=-13.8 * u.deg, longitude=-171.8 * u.deg, time_zone="Pacific/Apia")
    with pytest.raises(InvalidInputError, match="never was on the clocks of Pacific/Apia"):
        night(apia, "2011-12-30")
    assert night(apia, "2011-12-29").sunset < night(apia, "2011-12-31").sunset


def test_zones_of_one_name_are_told_apart_by_their_offsets():
    # North Korea's clock went from +08:30 to +09:00 on 2018-05-04 at 23:30, both KST (IANA database, asia).
    place = Site(name="s", latitude=39 * u.deg, longitude=125.7 * u.deg, time_zone="Asia/Pyongyang")
    [note] = [note for note in night(place, "2018-05-04").notes if "clocks" in note]
    assert "(from UTC+0830 to UTC+0900)" in note


@pytest.mark.parametrize("date", ["1973-01-03", "2098-12-31"])
def test_the_first_and_the_last_years_work(date):
    assert night(site_of(45, 7), date).sunset.isot.startswith(date)


def test_clock_text_names_the_zone():
    time = Time("2026-07-01T21:11:40")
    assert clock_text(time, site_of(45, 7, "Europe/Rome")) == "23:12 CEST"
    assert clock_text(time, site_of(-20, -175, "Pacific/Tongatapu")) == "10:12 UTC+13"


def test_a_night_at_the_pole_itself():
    found = night(site_of(90, 0), "2026-11-25")
    assert found.dark_hours > 23.9 * u.h
    assert night(site_of(-90, 0), "2026-11-25").reason == "No dark time: the Sun does not set."
