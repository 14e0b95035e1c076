"""UT1, leap seconds and the pole against astropy's own reading of the same tables."""

import subprocess
import sys

from astropy import units as u
from astropy.time import Time
from astropy.utils import iers
from numpy.testing import assert_allclose

from planner.rig import Site
from planner.visibility import earth_rotation_note, night, utc_time
from planner.visibility.earth_rotation import (
    _held_seconds,
    _table,
    elapsed,
    later,
    mjd_tt,
    pole_xy,
    tt_from_utc,
    ut1_minus_tt_s,
)

DATES = Time(["1975-06-01T12:00", "1984-03-07T03:00", "2005-12-31T23:59:30", "2006-01-01T00:00:20",
              "2016-12-31T12:00:00", "2019-07-01T00:00", "2026-11-25T21:00"])


def test_settings_are_offline():
    assert iers.conf.auto_download is False
    assert iers.conf.auto_max_age is None


def test_terrestrial_time_is_astropy_s():
    assert_allclose(mjd_tt(DATES), DATES.tt.mjd, rtol=0, atol=2e-11)


def test_a_time_in_another_scale_is_the_same_moment():
    assert_allclose(mjd_tt(DATES.tai), mjd_tt(DATES), rtol=0, atol=2e-11)


def test_the_way_back_within_a_leap_second_too():
    # 2016-12-31T23:59:60.5 is half way through a leap second.
    leap = Time("2016-12-31T23:59:60.5")
    assert utc_time(mjd_tt(leap)).isot[:21] == "2016-12-31T23:59:60.5"
    assert_allclose((utc_time(mjd_tt(DATES)) - DATES).sec, 0, atol=2e-6)


def test_ut1_is_astropy_s():
    # 0.2 ms, 3 mas of hour angle: astropy prefers the final values of Bulletin B where the table has both.
    assert_allclose(ut1_minus_tt_s(mjd_tt(DATES)), (DATES.ut1.jd1 - DATES.tt.jd1 + (DATES.ut1.jd2 - DATES.tt.jd2))
                    * 86400, rtol=0, atol=2e-4)


def test_the_pole_is_astropy_s():
    expected = iers.earth_orientation_table.get().pm_xy(DATES)
    for found, wanted in zip(pole_xy(mjd_tt(DATES)), expected, strict=True):
        assert_allclose(found, wanted.to_value(u.rad), rtol=0, atol=1e-7)  # 20 mas: Bulletin B, as above


def test_past_the_end_the_last_value_is_held_and_said():
    mjd, ut1_minus_tai = _table()[:2]
    last = tt_from_utc(mjd[-1])
    assert_allclose(ut1_minus_tt_s(last + 1000), ut1_minus_tai[-1] - 32.184, atol=1e-9)
    assert _held_seconds(last - 1) == 0
    # 0.4 s after one year and 0.6 s after two, measured on the table's own past (see the module).
    # TAI-UTC was 12 s in 1973 and 37 s from 2017 on (IERS Bulletin C), UT1 within 0.9 s of UTC: 25 s in 54 years, as
    # many in proportion in 50, and half a second a year. 1.5 s: how far UT1 may stand from UTC at both ends.
    assert_allclose(_held_seconds(last + 50 * 365.25), 25 * 50 / 54, atol=1.5)
    assert 0.25 < _held_seconds(last + 365.25) < 1
    assert _held_seconds(last + 70 * 365.25) > _held_seconds(last + 50 * 365.25)
    assert earth_rotation_note(utc_time(last - 1)) == ""
    note = earth_rotation_note(utc_time(last + 60 * 365.25))
    assert note.startswith("The Earth's rotation is predicted to ")
    assert "may be off by about 2" in note


def test_a_far_night_has_a_note_and_no_warning():
    site = Site(name="s", latitude=45 * u.deg, longitude=7 * u.deg)
    notes = night(site, "2045-11-25").notes
    assert any("Earth's rotation" in note for note in notes)
    assert night(site, "2045-11-25").sunset.isot.startswith("2045-11-25T")


def test_a_night_with_target_and_moon_loads_nothing_slow():
    slow = ("astropy.coordinates", "astroplan", "scipy.optimize", "scipy.interpolate", "pandas")
    code = (
        "import sys\nfrom astropy import units as u\nfrom planner.rig import Site\nfrom planner.visibility import *\n"
        "site = Site(name='s', latitude=45 * u.deg, longitude=7 * u.deg)\ntonight = night(site, '2026-11-25')\n"
        "target_window(Target('t', 10 * u.deg, 41 * u.deg), site, tonight, minimum_altitude=30 * u.deg)\n"
        f"moon_events(site, tonight.start, tonight.end)\nprint([name for name in {slow!r} if name in sys.modules])")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_time_between_moments_is_astropys_over_a_leap_second_too():
    before, after = Time("2016-12-31T23:59:00"), Time("2017-01-01T00:01:00")
    assert_allclose(elapsed(before, after).to_value(u.s), 121, atol=1e-5)  # with 23:59:60
    assert_allclose(elapsed(before, after).to_value(u.s), (after - before).sec, atol=1e-5)
    assert abs((later(before, 2 * u.min) - (before + 2 * u.min)).sec) < 1e-5
