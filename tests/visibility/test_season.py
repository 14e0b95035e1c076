"""A season is its nights: the fast pass against one night at a time."""

import datetime

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose
from visibility.seasons import season_hours

from planner.errors import InvalidInputError
from planner.rig import HorizonProfile, Mount, Site
from planner.visibility import night, night_windows
from planner.visibility.season import _overlap

RNG = np.random.default_rng(9)
RA, DEC = RNG.uniform(0, 360, 400) * u.deg, np.degrees(np.arcsin(RNG.uniform(-1, 1, 400))) * u.deg
RIDGE = HorizonProfile(azimuth=[20, 60, 60, 100, 100, 200, 300] * u.deg, altitude=[10, 15, 55, 55, 5, 20, 0] * u.deg)


@pytest.mark.parametrize(("latitude", "zone"), [
    (45, "Europe/Rome"), (-33, "Africa/Johannesburg"), (69, "Europe/Oslo"), (88, "UTC")])
@pytest.mark.parametrize("limits", [
    {"minimum_altitude": 30 * u.deg},
    {"minimum_altitude": 42 * u.deg,
     "mount": Mount(name="m", zenith_keep_out=5 * u.deg, tracks_past_meridian=-4 * u.deg)},
])
@pytest.mark.parametrize("horizon", [None, RIDGE], ids=["level", "ridge"])
def test_every_night_agrees_with_night_windows(latitude, zone, limits, horizon):
    site = Site(name="s", latitude=latitude * u.deg, longitude=15 * u.deg, time_zone=zone, horizon=horizon)
    season = season_hours(RA, DEC, site, "2026-09-01", 365, **limits)
    # 0.4 s of dark: the Earth's pole is taken once a season there, once a night here.
    assert season.hours.shape == (400, 365)
    differences = []
    for at in range(0, 365, 26):
        tonight = night(site, season.dates[at])
        assert_allclose(season.dark_hours[at].value, tonight.dark_hours.value, atol=1e-4)
        one = night_windows(RA, DEC, site, tonight, **limits)
        differences.append((season.hours[:, at] - one.hours).to_value(u.s))
    differences = np.abs(differences)
    assert np.percentile(differences, 99) < 1
    # A target that barely reaches a limit may differ by minutes: 1 arcsec is long there.
    assert np.mean(differences > 10) < 2e-3


@pytest.mark.parametrize("count", [1, 2, 30, 800])
def test_any_number_of_nights(count):
    site = Site(name="s", latitude=45 * u.deg, longitude=15 * u.deg)
    season = season_hours(RA[:50], DEC[:50], site, datetime.date(2026, 1, 31), count, minimum_altitude=20 * u.deg)
    assert season.dates[-1] == datetime.date(2026, 1, 31) + datetime.timedelta(days=count - 1)
    last = night_windows(RA[:50], DEC[:50], site, night(site, season.dates[-1]), minimum_altitude=20 * u.deg)
    assert_allclose(season.hours[:, -1].value, last.hours.value, atol=5 / 3600)


@pytest.mark.parametrize("longest", [0.7, 1.0027])
def test_overlap_is_counted_over_every_return(longest):
    # By hand: stretches [k, k + length] of every turn k against the dark, one by one; a polar night is 1.0027 turns.
    start, length = RNG.uniform(-3, 3, (500, 1)), RNG.uniform(0, 1, (500, 1))
    first = np.mod(start[:40, 0] - RNG.uniform(0, 0.004, 40), 1)
    duration = np.full(40, longest)
    expected = np.zeros((500, 40))
    for turn in range(-5, 6):
        expected += np.maximum(0, np.minimum(first + duration, start + turn + length)
                               - np.maximum(first, start + turn))
    assert_allclose(_overlap(start + np.zeros(40), length, first, duration), expected, atol=1e-12)


def test_one_target_goes_round_the_year():
    # 6 h RA stands highest at midnight in late December, and is lost in the Sun in June.
    site = Site(name="s", latitude=45 * u.deg, longitude=15 * u.deg)
    season = season_hours([90] * u.deg, [10] * u.deg, site, "2026-07-01", 365, minimum_altitude=30 * u.deg)
    hours = season.hours[0].value
    # The window is 7.0 h long: it fits whole into the long nights, so look at the middle of that stretch.
    whole = np.flatnonzero(hours > hours.max() - 1e-3)
    assert season.dates[int(np.mean(whole))].month == 12
    assert hours[np.array([date.month == 6 for date in season.dates])].max() == 0


def test_midsummer_without_dark_has_no_hours():
    site = Site(name="s", latitude=60 * u.deg, longitude=15 * u.deg)
    season = season_hours([200] * u.deg, [60] * u.deg, site, "2026-06-01", 30)
    assert_allclose(season.dark_hours.value, 0, atol=1e-9)
    assert_allclose(season.hours.value, 0, atol=1e-9)
    assert (season.start == season.end).all()


@pytest.mark.parametrize(("nights", "first", "message"), [
    (0, "2026-06-01", "nights = 0: must be at least 1"), (801, "2026-06-01", "must be at most 800"),
    (2.5, "2026-06-01", "must be a whole number"), (30, "2098-12-20", "must be at most 12 from 2098-12-20 on"),
    (30, "June", "must be a date")])
def test_bad_seasons_are_refused(nights, first, message):
    site = Site(name="s", latitude=60 * u.deg, longitude=15 * u.deg)
    with pytest.raises(InvalidInputError, match=message):
        season_hours([200] * u.deg, [60] * u.deg, site, first, nights)
