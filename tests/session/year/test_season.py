"""Useful hours against an integral by minutes on another route: astropy's AltAz, Sun and Moon, formulas of the sky."""

import datetime
from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import AltAz, SkyCoord, get_body, get_sun
from astropy.coordinates.erfa_astrom import ErfaAstromInterpolator, erfa_astrom
from exposure.rigs import CAMERA, GREEN, HYDROGEN, SITE, rig
from numpy.testing import assert_allclose
from visibility.seasons import season_hours

from planner.errors import InvalidInputError
from planner.files.equipment.horizon import read_horizon
from planner.files.own_files import packaged_data
from planner.rig import Mount
from planner.session.worth.useful_hours import season_cells, useful_hours
from planner.session.worth.usefulness import moment_tables, usefulness
from planner.session.year.season import best_fortnight, dark_of, nights_to_do, season
from planner.session.year.text import to_do_lines
from planner.visibility import Target, night, up_hours
from planner.visibility.adapters import earth_location

RIG = rig(filters=(GREEN, HYDROGEN), mount=Mount(name="m", tracks_past_meridian=10 * u.deg))
PLACE = replace(SITE, time_zone="Europe/Vienna", longitude=15 * u.deg)
SOUTH = replace(SITE, latitude=-32 * u.deg, longitude=150 * u.deg, time_zone="Australia/Sydney",
                horizon=read_horizon(packaged_data("horizon_paddock.csv")))
NORTHERN = Target("northern", 339.3 * u.deg, 34.4 * u.deg)
SOUTHERN = Target("southern", 161.3 * u.deg, -59.7 * u.deg)
EQUATOR = Target("equator", 85.2 * u.deg, -2.5 * u.deg)


def by_minutes(target, site, band, date, depression_deg):
    """Integrate the usefulness of one night minute by minute: geometry by astropy, a skyline of straight lines."""
    measure = usefulness(RIG, site, band)
    tonight = night(site, date)
    times = tonight.start + np.arange(0, 24 * 60, 1) * u.min
    frame = AltAz(obstime=times, location=earth_location(site))
    air = AltAz(obstime=times, location=earth_location(site), pressure=site.station_pressure,
                temperature=site.temperature, relative_humidity=0.5, obswl=0.55 * u.um)
    at_sun, at_moon = get_sun(times), get_body("moon", times, frame.location)
    at_target = SkyCoord(target.ra, target.dec)
    with erfa_astrom.set(ErfaAstromInterpolator(10 * u.min)):  # astropy's documents: within microarcseconds
        sun, moon, here = at_sun.transform_to(frame).alt, at_moon.transform_to(frame), at_target.transform_to(air)
        separation = moon.separation(at_target.transform_to(frame))
    elongation = at_sun.separation(at_moon, origin_mismatch="ignore")
    phase = 180 * u.deg - elongation  # the Sun is 390 times as far: within 0.15 deg of the angle at the Moon
    lowest = 30.0
    if site.horizon is not None:
        azimuth, altitude = site.horizon.azimuth.value, site.horizon.altitude.value
        lowest = np.maximum(lowest, np.interp(here.az.deg, azimuth, altitude, period=360))
    good = (sun < -depression_deg * u.deg) & (here.alt.deg > lowest)
    worth = measure.of(here.alt[good], moon_altitude=moon.alt[good], moon_separation=separation[good],
                       moon_phase_angle=phase[good], sun_altitude=sun[good])
    return worth.sum().value / 60, np.sum(good) / 60


CASES = [
    (NORTHERN, PLACE, GREEN, "2026-09-12"),  # no Moon
    (NORTHERN, PLACE, GREEN, "2026-09-26"),  # full Moon 40 deg away
    (NORTHERN, PLACE, HYDROGEN, "2026-09-20"),  # Moon sets in the night
    (NORTHERN, PLACE, HYDROGEN, "2026-07-04"),  # hardly dark, Moon rises
    (EQUATOR, PLACE, GREEN, "2026-12-30"),
    (EQUATOR, SOUTH, GREEN, "2027-01-15"),
    (SOUTHERN, SOUTH, GREEN, "2026-05-02"),
    (SOUTHERN, SOUTH, HYDROGEN, "2026-05-24"),
]


@pytest.mark.parametrize(("target", "site", "band", "date"), CASES,
                         ids=[f"{case[0].name}-{case[2].name}-{case[3]}" for case in CASES])
def test_a_night_against_minutes(target, site, band, date):
    found = season([target], RIG, site, date, nights=1, band=band)
    useful, up = by_minutes(target, site, band, date, found.depression.value)
    row = found.targets[0]
    # 2 min: whole minutes at two edges of up to two stretches.
    assert_allclose(row.up[0].to_value(u.h), up, atol=2 / 60)
    # 1 %: 16 cells instead of 500 minutes; and the minutes above.
    assert_allclose(row.useful[0].to_value(u.h), useful, rtol=0.01, atol=1.5 / 60)
    assert up > 1


def test_one_night_is_the_same_in_a_year_of_many():
    year = season([NORTHERN, EQUATOR], RIG, PLACE, "2026-09-01", nights=60)
    for shift in (0, 25, 59):
        one = season([EQUATOR, NORTHERN], RIG, PLACE, year.dates[shift], nights=1)
        assert_allclose([row.useful[shift].value for row in year.targets],
                        [row.useful[0].value for row in reversed(one.targets)], atol=0.003)


def test_hours_on_the_clock_are_those_of_the_season():
    ra, dec = np.array([339.3, 85.2, 10.0]) * u.deg, np.array([34.4, -2.5, 80.0]) * u.deg
    plain = season_hours(ra, dec, SOUTH, "2026-03-01", 90, minimum_altitude=30 * u.deg, mount=RIG.mount)
    found = useful_hours(ra, dec, usefulness(RIG, SOUTH, GREEN), "2026-03-01", 90, depression=18 * u.deg,
                         minimum_altitude=30 * u.deg, mount=RIG.mount)
    assert_allclose(found.up.value, plain.hours.value, atol=2 / 3600)
    assert np.all(found.useful <= found.up)


def test_hours_in_any_stretch_add_up():
    times = night(PLACE, "2026-09-12").start + np.linspace(0, 24, 49) * u.h
    found = up_hours([339.3] * u.deg, [34.4] * u.deg, PLACE, times[:-1], times[1:], minimum_altitude=30 * u.deg)
    whole = up_hours([339.3] * u.deg, [34.4] * u.deg, PLACE, times[:1], times[-1:], minimum_altitude=30 * u.deg)
    assert_allclose(found.of(0, 1).sum().value, whole.of(0, 1)[0, 0].value, atol=1 / 3600)


def test_tables_agree_with_the_formula_direction_by_direction():
    measure = usefulness(RIG, PLACE, GREEN)
    rng = np.random.default_rng(3)
    moon_altitude = np.append(rng.uniform(1, 80, 6), -5.0) * u.deg
    phase, sun = rng.uniform(0, 150, 7) * u.deg, rng.uniform(-40, -12, 7) * u.deg
    tables = moment_tables(measure, moon_altitude=moon_altitude, moon_phase_angle=phase, sun_altitude=sun)
    altitude, separation = rng.uniform((20, 5), (90, 150), (7, 200, 2)).transpose(2, 0, 1)
    sine, cosine = np.sin(np.radians(altitude)), np.cos(np.radians(separation))
    found = np.concatenate([tables.at(np.arange(6), sine[:6], cosine[:6]), tables.at(np.array([6]), sine[6:], None)])
    exact = measure.of(altitude * u.deg, moon_altitude=moon_altitude[:, np.newaxis],
                       moon_separation=separation * u.deg, moon_phase_angle=phase[:, np.newaxis],
                       sun_altitude=sun[:, np.newaxis])
    # The sky's nodes of 1 deg in altitude; steps of 1/1024 in the sines.
    assert_allclose(found, exact.value, atol=3e-3)


def test_the_moonless_zenith_is_worth_one_and_moonlight_less():
    measure = usefulness(RIG, PLACE, GREEN)
    assert_allclose(measure.of(90 * u.deg).value, 1)
    moon = {"moon_altitude": 45 * u.deg, "moon_separation": 60 * u.deg}
    worth = [float(measure.of(70 * u.deg, moon_phase_angle=angle * u.deg, **moon)) for angle in (0, 60, 120, 179)]
    assert worth == sorted(worth)
    assert worth[-1] > 0.85 > 0.3 > worth[0]


def test_the_sub_that_hours_rest_on_leaves_room_for_more_than_the_sky():
    # A bright site, a shallow well and noisy reads: long subs would be best, and the sky alone fills them.
    camera = replace(CAMERA, full_well=2000 * u.electron, read_noise=10 * u.electron)
    bright = replace(PLACE, sky_brightness=18 * u.mag / u.arcsec**2)
    measure = usefulness(replace(RIG, camera=camera), bright, GREEN)
    a_pixel = measure.zenith_sky / RIG.binning**2
    assert measure.sub_exposure * a_pixel < 2000 * u.electron / u.pix
    assert usefulness(replace(RIG, camera=replace(camera, full_well=CAMERA.full_well)), bright, GREEN
                      ).sub_exposure * a_pixel > 2000 * u.electron / u.pix


@pytest.mark.parametrize(("height", "tolerance"), [(20, 0.01), (35, 0.005), (50, 0.005), (80, 0.005)])
def test_usefulness_is_the_ratio_of_squared_signal_to_noise(height, tolerance):
    # The CCD equation itself, for a source a thousand times fainter than the sky on as many pixels as a star takes:
    # what usefulness claims to be.
    from planner.exposure import LightPath, signal_to_noise, total_read_noise
    from planner.optics import image_scale, star_image
    from planner.sky import airmass, seeing

    measure, faint = usefulness(RIG, PLACE, GREEN), 29 * u.mag / u.arcsec**2

    def squared(altitude, **moon):
        sky = LightPath(RIG, GREEN, PLACE).sky(altitude=altitude, **moon)
        rate = LightPath(RIG, GREEN, PLACE).surface(faint, airmass=airmass(altitude).value)
        seconds = measure.sub_exposure
        signal = (rate * seconds).value * u.electron
        dark = CAMERA.dark_current.value
        return signal_to_noise(signal, background=(sky.value + dark) * seconds.value * u.electron,
                               read_noise=total_read_noise(CAMERA)).value ** 2

    def area(altitude):
        blur = seeing(PLACE.seeing, airmass=airmass(altitude), wavelength=GREEN.centre)
        return star_image(seeing_fwhm=blur, wavelength=GREEN.centre, aperture=RIG.telescope.aperture,
                          obstruction=RIG.telescope.obstruction, focus_blur_fwhm=RIG.telescope.optical_blur,
                          image_scale=image_scale(CAMERA.pixel_pitch, RIG.telescope.focal_length)).noise_equivalent_area

    moon = {"moon_altitude": 30 * u.deg, "moon_separation": 80 * u.deg, "moon_phase_angle": 40 * u.deg}
    altitude = height * u.deg
    ratio = squared(altitude, **moon) / squared(90 * u.deg) * float(area(90 * u.deg) / area(altitude))
    # 0.2 %: the faint source's own photons; 0.3 %: growth between two star images, more beyond the second (airmass 2).
    assert_allclose(measure.of(altitude, **moon).value, ratio, rtol=tolerance)


def test_cells_have_an_edge_at_moonrise_and_moonset():
    from planner.visibility import moon_events

    measure = usefulness(RIG, PLACE, GREEN)
    cells = season_cells(measure, "2026-09-15", 14, depression=18 * u.deg)
    found = 0
    for shift, date in enumerate(cells.dates):
        tonight = night(PLACE, date)
        per_night = len(cells.start) // len(cells.dates)
        here = slice(shift * per_night, (shift + 1) * per_night)
        events = moon_events(PLACE, *tonight.dark)
        for moment in [*events.rises, *events.sets]:
            # 5 min: the upper limb and the horizon of almanacs against the centre without dip; ends of the dark.
            gaps = np.abs((cells.start[here] - moment).to_value(u.min))
            found += 1
            assert gaps.min() < 5 or np.abs((cells.end[here] - moment).to_value(u.min)).min() < 5
    assert found >= 8


def test_the_best_fortnight_is_that_of_every_fortnight():
    rng = np.random.default_rng(5)
    useful = rng.uniform(0, 8, 100)
    dates = [datetime.date(2026, 1, 1) + datetime.timedelta(days=shift) for shift in range(100)]
    found = best_fortnight(useful * u.h, dates)
    sums = [useful[at:at + 14].sum() for at in range(87)]
    assert_allclose(found.hours.value, max(sums))
    assert found.first == dates[int(np.argmax(sums))]
    assert (found.last - found.first).days == 13
    assert best_fortnight(useful[:3] * u.h, dates[:3]).last == dates[2]


@pytest.mark.parametrize(("left", "useful", "order", "nights"), [
    ([4.0], [[2.0, 2.0, 2.0]], [0, 1, 2], 2),
    ([4.1], [[2.0, 2.0, 2.0]], [0, 1, 2], 3),
    ([7.0], [[2.0, 2.0, 2.0]], [0, 1, 2], None),
    ([4.0], [[1.0, 4.0, 2.0]], [1, 2, 0], 1),
    ([2.0, 2.0], [[4.0, 4.0], [4.0, 4.0]], [0, 1], 1),  # half a night each
    ([3.0, 4.0], [[4.0, 1.0], [4.0, 4.0]], [1, 0], 2),  # the Moon-proof filter takes the moonlit night
    ([1.0], [[0.0, 0.0]], [0, 1], None),
])
def test_nights_to_do(left, useful, order, nights):
    assert nights_to_do(np.array(left), np.array(useful), np.array(order)) == nights


def test_what_is_left_counts_in_its_own_filter():
    # Full Moon 2026-09-26: a night of it is worth far less in the green than through hydrogen.
    green, red = (season([NORTHERN], RIG, PLACE, "2026-09-24", nights=30, left=[{name: 6 * u.h}]).targets[0].to_do
                  for name in ("green", "HYDROGEN"))
    assert red.finished < green.finished
    nothing = season([NORTHERN], RIG, PLACE, "2026-09-24", nights=2, left=[{"L": 6 * u.h}]).targets[0].to_do
    part = season([NORTHERN], RIG, PLACE, "2026-09-24", nights=30, left=[{RIG.filters[0].name: 6 * u.h, "XX": 3 * u.h}])
    assert "h, XX 3.0 h (not with this rig): " in to_do_lines(part.targets[0])[0]
    assert nothing.nights == 0  # the rig has no such filter


REASONS = [
    (SOUTHERN, PLACE, "2026-09-01", "Never rises at this site."),
    (Target("low", 250 * u.deg, -25 * u.deg), PLACE, "2026-09-01", "Never gets above 30.0°"),
    (EQUATOR, PLACE, "2026-06-05", "Within the limits only when it is not dark"),
    (NORTHERN, replace(PLACE, latitude=65 * u.deg), "2026-06-01", "No dark time in any of these 20 nights."),
]


@pytest.mark.parametrize(("target", "site", "first", "reason"), REASONS)
def test_no_hours_is_an_answer_with_a_reason(target, site, first, reason):
    row = season([target], RIG, site, first, nights=20).targets[0]
    assert row.reason.startswith(reason)
    assert row.best_night is None
    assert row.fortnight is None
    assert row.total == 0


@pytest.mark.parametrize(("changes", "message"), [
    ({"nights": 0}, "nights = 0: must be at least 1"), ({"nights": 367}, "must be at most 366"),
    ({"lowest_altitude": 95 * u.deg}, "must be less than 90"), ({"first": "2026-13-01"}, "must be a date")])
def test_silly_seasons_are_refused(changes, message):
    with pytest.raises(InvalidInputError, match=message):
        season([NORTHERN], RIG, PLACE, **({"first": "2026-09-01"} | changes))


def test_across_the_date_line_a_night_keeps_its_evening():
    east = replace(PLACE, longitude=179.5 * u.deg, time_zone="Pacific/Auckland")
    found = season([EQUATOR], RIG, east, "2026-12-01", nights=2)
    assert found.dates == (datetime.date(2026, 12, 1), datetime.date(2026, 12, 2))
    useful, _ = by_minutes(EQUATOR, east, GREEN, "2026-12-02", 18)
    assert_allclose(found.targets[0].useful[1].value, useful, rtol=0.01, atol=1.5 / 60)


def test_the_dark_cut_before_gives_the_same_hours():
    cut = dark_of(RIG, PLACE, "2026-09-01", RIG.filters[0], nights=4)
    whole, sooner = (season([NORTHERN], RIG, PLACE, "2026-09-01", nights=4, cut=one) for one in (None, cut))
    assert whole.targets[0].useful.max() > 0 * u.h
    assert (sooner.targets[0].useful == whole.targets[0].useful).all()
    assert sooner.dates == whole.dates
