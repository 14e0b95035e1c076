"""Drift logs of known content: rates, periodic terms, noise, rows that are not fit for use, and the way back."""

import dataclasses

import numpy as np
import pytest
from astropy import units as u
from measure.simulated import mount_log, plain_log
from measure.star_paths import motion, rows

from planner.errors import InvalidInputError
from planner.measure.drift.causes import implied_polar_error
from planner.measure.drift.fit.harmonics import MeasuredTerm, with_bases
from planner.measure.drift.model import DriftLog
from planner.measure.drift.report import analyse_drift
from planner.measure.drift.text import drift_headline, drift_lines, noise_rows
from planner.measure.posterior.mount import measured_mount
from planner.rig import Mount, PeriodicTerm

RATE = u.arcsec / u.min
SEEDS = 40  # logs of noise; tests/measure/coverage.py draws as many as one asks for
REPORTS = 40
# The law of the share of 40 trials that two standard deviations hold: 95.45 % expected; 33 of 40 or fewer happen by
# chance once in 500.
FEWEST_WITHIN = 34


@pytest.fixture(scope="module")
def reports():
    """Reports of logs with two terms 20 and 0.3 arcsec or 6 and 1.1 arcsec, a gap and spikes."""
    loud = ((480.0, 20.0, 0.3), (61.0, 0.3, 1.0))
    usual = ((480.0, 6.0, 0.3), (120.0, 1.1, 1.0))
    return [analyse_drift(plain_log(seed, rows=1200, terms=usual if seed % 2 else loud, spikes=3, wander=0.005,
                                    jitter=0.25 if seed % 2 else 0.1))
            for seed in range(REPORTS)]


def within(errors):
    return int(np.sum(np.abs(errors) < 2))


def test_terms_are_told_at_the_stars_declination_and_it_is_said(reports):
    """The cosine of 20° is 0.9397: on the equator a term is 1.064 times as large, 1.06 with three digits."""
    report = reports[1]
    there = dataclasses.replace(report, log=dataclasses.replace(report.log, declination=-20 * u.deg))
    assert "″ peak to peak at Dec −20° every 480 s" in drift_headline(there)
    assert any("at Dec −20°; the mount's table has them on the equator, 1.06 times" in line
               for line in drift_lines(there))
    here = dataclasses.replace(report, log=dataclasses.replace(report.log, declination=0 * u.deg))
    assert not any("equator" in line for line in drift_lines(here))


def test_rates_hold_within_two_of_their_errors(reports):
    for axis, rate in (("ra", 1.2), ("dec", -0.7)):
        found = [(getattr(report, axis).rate.to_value(RATE) - rate) / getattr(report, axis).rate_error.to_value(RATE)
                 for report in reports]
        assert within(found) >= FEWEST_WITHIN
        assert np.std(found) > 0.7  # errors that are far too wide would hold too


def test_both_terms_are_found_and_nothing_else(reports):
    counts = [len(report.ra.periodic) for report in reports]
    assert min(counts) == 2
    assert sum(counts) - 2 * REPORTS <= 1  # 0.2 % of 40 expected: two or more once in 300
    assert sum(len(report.dec.periodic) for report in reports) <= 1  # 0.2 % of 40 expected


@pytest.mark.parametrize(("which", "periods", "amplitudes"), [
    (0, (480.0, 61.0), (20.0, 0.3)), (1, (480.0, 120.0), (6.0, 1.1)),
])
def test_amplitudes_and_periods(reports, which, periods, amplitudes):
    # 5 % of each amplitude in each log. The error of an amplitude is jitter sqrt(2/n): with an hour of 1200 rows
    # 0.0041 arcsec, 1.4 %, for 0.3 arcsec under 0.1 arcsec of jitter, and 0.9 % for 1.1 under 0.25; the wander adds
    # half of that to the first. With 400 rows or 0.3 arcsec of jitter 0.3 arcsec cannot be known to 5 %.
    for report in reports[which::2]:
        for term, period, amplitude in zip(report.ra.periodic[:2], periods, amplitudes, strict=True):
            assert abs(term.period.to_value(u.s) - period) < 5 * term.period_error.to_value(u.s)
            assert term.amplitude.to_value(u.arcsec) == pytest.approx(amplitude, rel=0.05)
            assert term.false_alarm < 1e-3
    for place, amplitude in enumerate(amplitudes):
        mean = np.mean([report.ra.periodic[place].amplitude.to_value(u.arcsec) for report in reports[which::2]])
        assert mean == pytest.approx(amplitude, rel=0.007)  # 1.5 % over the root of 20, twice


def test_amplitude_errors_hold(reports):
    for place, amplitude in ((0, 6.0), (1, 1.1)):
        terms = [report.ra.periodic[place] for report in reports[1::2]]
        found = [(term.amplitude.value - amplitude) / term.amplitude_error.value for term in terms]
        assert within(found) >= 16  # of 20; 19.1 expected, fewer once in 700


def test_harmonics_of_a_common_base_are_named(reports):
    for report in reports[1::2]:
        base, quarter = report.ra.periodic[:2]
        assert (base.order, quarter.order) == (1, 4)
        assert quarter.base_period == base.period


def test_unrelated_periods_have_no_common_base():
    terms = [MeasuredTerm(period=period * u.s, period_error=0.5 * u.s, amplitude=1 * u.arcsec,
                          amplitude_error=0.1 * u.arcsec, phase=0 * u.deg, false_alarm=0.0)
             for period in (480.0, 197.0)]
    assert [term.order for term in with_bases(terms)] == [None, None]


@pytest.mark.parametrize(("jitter", "wander", "rows"), [(0.3, 0.0, 150), (0.3, 0.1, 150), (0.02, 1.0, 300)])
def test_pure_noise_shows_false_terms_in_under_two_percent_of_logs(jitter, wander, rows):
    false = 0
    for seed in range(SEEDS):
        report = analyse_drift(plain_log(5000 + seed, rows=rows, jitter=jitter, wander=wander))
        false += bool(report.ra.periodic or report.dec.periodic)
    assert false <= 1  # 0.2 % expected, 2 % promised


def test_false_alarm_probability_is_calibrated_from_below():
    # A probability p must not occur in more than a share p of noise logs: 40 logs at 10 % give 4 ± 1.9.
    from planner.measure.drift.fit.periodic_terms import _best_frequency, false_alarm, trial_frequencies
    from planner.measure.drift.fit.wander_noise import Differences

    for wander in (0.0, 0.1):
        chances = []
        for seed in range(SEEDS):
            log = plain_log(9000 + seed, rows=200, jitter=0.3, wander=wander)
            time_s = log.time.value - log.time.value[0]
            gain = _best_frequency(Differences(time_s), np.diff(log.ra.value), np.diff(time_s)[:, None],
                                   trial_frequencies(time_s))[1]
            chances.append(false_alarm(time_s, gain, 1))
        assert 1 <= np.sum(np.array(chances) < 0.1) <= 9


def test_noise_is_what_was_put_in(reports):
    jitter = [report.jitter.to_value(u.arcsec) for report in reports[1::2]]
    assert np.mean(jitter) == pytest.approx(0.25, rel=0.01)  # known to 0.1 %; what the fit spends beside


@pytest.mark.parametrize(("jitter", "wander"), [(0.43, 0.25), (1.6, 1.2), (0.37, 0.04)])
def test_wander_errors_hold(jitter, wander):
    # 40 minutes of the three demo mounts, both axes of 30 logs: 60 values, whose mean scatters by an eighth of one
    # error and whose spread by a tenth. The bias of the weakest, a tenth, is that of a size that cannot be negative.
    found = []
    for seed in range(30):
        report = analyse_drift(plain_log(7000 + seed, rows=1200, step=2, jitter=jitter, wander=wander / 60**0.5))
        found += [(axis.wander.value, axis.wander_error.value) for axis in (report.ra, report.dec)]
    values, errors = np.array(found).T
    assert values.mean() == pytest.approx(wander, rel=0.12 if wander < 0.1 else 0.06)
    assert 0.7 < np.std((values - wander) / errors) < 1.35


def test_spikes_are_set_aside(reports):
    assert sum(report.outlier_times.size for report in reports) == pytest.approx(3 * REPORTS, abs=0.15 * REPORTS)


def mangled(log):
    """Return the log shuffled, with a row written twice and two lost, at clock times of today."""
    order = np.random.default_rng(3).permutation(log.time.size)
    order = np.append(order, order[7])
    ra = log.ra[order].copy()
    ra[[5, 9]] = np.nan
    return DriftLog(time=log.time[order] + 1.79e9 * u.s, ra=ra, dec=log.dec[order])


def test_order_and_zero_point_of_the_rows_do_not_matter():
    log = plain_log(1, terms=((480.0, 6.0, 0.3),))
    clean, other = analyse_drift(log), analyse_drift(mangled(log))
    assert other.used >= 297
    assert any("repeated" in note for note in other.notes)
    assert any("2 rows without a position" in note for note in other.notes)
    assert any("not in order" in note for note in other.notes)
    assert other.ra.rate.value == pytest.approx(clean.ra.rate.value, abs=float(clean.ra.rate_error.value) / 2)
    assert other.ra.periodic[0].period.value == pytest.approx(clean.ra.periodic[0].period.value, rel=2e-3)


def test_a_long_log_is_averaged_and_keeps_its_jitter():
    report = analyse_drift(plain_log(2, rows=50_000, step=0.5, terms=((480.0, 6.0, 0.3),), jitter=0.3, wander=0.01))
    assert report.jitter.to_value(u.arcsec) == pytest.approx(0.3, rel=0.05)
    assert report.ra.periodic[0].amplitude.value == pytest.approx(6.0, rel=0.02)
    assert any("averaged" in note for note in report.notes)


def test_a_log_without_noise_gives_its_line_back():
    time = np.arange(60.0)
    report = analyse_drift(DriftLog(time=time * u.s, ra=time * u.arcsec, dec=-2 * time * u.arcsec))
    assert report.ra.rate.to_value(RATE) == pytest.approx(60, abs=1e-3)
    assert report.dec.rate.to_value(RATE) == pytest.approx(-120, abs=1e-3)
    assert report.ra.periodic == report.dec.periodic == ()
    assert report.outlier_times.size == 0


@pytest.mark.parametrize(("time", "ra", "match"), [
    (np.arange(5.0), np.arange(5.0), "at least 12 different times"),
    (np.full(40, 3.0), np.arange(40.0), "at least 12 different times"),
    (np.arange(40.0), np.zeros(40), "must change from row to row"),
    (np.arange(40.0), np.full(40, np.nan), "at least 12 different times"),
])
def test_logs_that_tell_nothing_are_refused(time, ra, match):
    with pytest.raises(InvalidInputError, match=match):
        analyse_drift(DriftLog(time=time * u.s, ra=ra * u.arcsec, dec=np.arange(time.size) * u.arcsec))


def test_columns_must_agree():
    with pytest.raises(InvalidInputError, match="one row each"):
        DriftLog(time=[1, 2] * u.s, ra=[1] * u.arcsec, dec=[1, 2] * u.arcsec)


TRUE = Mount(name="true", polar_altitude_error=2.5 * u.arcmin, polar_azimuth_error=-3 * u.arcmin, rate_error_ppm=40.0,
             periodic=(PeriodicTerm(period=501 * u.s, amplitude=6 * u.arcsec),), flexure_ra=2 * u.arcsec / u.h,
             flexure_dec=2 * u.arcsec / u.h, wander=0.05 * u.arcsec / u.min**0.5)
KNOWN = Mount(name="true", flexure_ra=2 * u.arcsec / u.h, flexure_dec=2 * u.arcsec / u.h)


@pytest.mark.parametrize(("latitude", "hour_angle", "declination"), [
    (47.0, -60.0, 20.0), (-32.0, 20.0, -10.0), (65.0, -100.0, 40.0),
])
def test_two_hours_of_log_give_the_polar_axis_and_the_rate_back(latitude, hour_angle, declination):
    log = mount_log(1, TRUE, minutes=120, hour_angle=hour_angle, declination=declination, latitude=latitude)
    report = analyse_drift(log)
    polar = implied_polar_error(report, KNOWN)
    assert polar.separable
    for value, error, truth in ((polar.altitude_error, polar.altitude_uncertainty, 2.5),
                                (polar.azimuth_error, polar.azimuth_uncertainty, -3.0)):
        assert abs(value.to_value(u.arcmin) - truth) < max(3 * error.to_value(u.arcmin), 0.02)
    mount = measured_mount(KNOWN, report, {}).mount
    # The error of the mean rate, and that of the polar axis: 1 arcmin of it is 291e-6, times tan(dec), of the rate.
    slope = np.tan(np.radians(abs(declination)))
    axis = np.hypot(polar.altitude_uncertainty.to_value(u.arcmin),
                    polar.azimuth_uncertainty.to_value(u.arcmin) * np.cos(np.radians(latitude)))
    rate = report.ra.rate_error.to_value(u.arcsec / u.min) / (902.46e-6 * np.cos(np.radians(declination)))
    assert abs(mount.rate_error_ppm - 40) < 3 * np.hypot(rate, 290.9 * slope * axis)
    assert mount.periodic[0].amplitude.to_value(u.arcsec) == pytest.approx(6, rel=0.02)
    assert mount.periodic[0].period.to_value(u.s) == pytest.approx(501, rel=2e-3)


@pytest.mark.parametrize(("hour_angle", "key", "truth"), [
    (-5.0, "polar_azimuth_error", -3.0), (-88.0, "polar_altitude_error", 2.5),
])
def test_a_short_log_gives_one_angle_and_says_so(hour_angle, key, truth):
    log = mount_log(2, TRUE, minutes=12, hour_angle=hour_angle, declination=10, latitude=47)
    other = "polar_altitude_error" if key == "polar_azimuth_error" else "polar_azimuth_error"
    known = dataclasses.replace(KNOWN, **{other: getattr(TRUE, other)},
                                errors={other: 0.05 * u.arcmin, key: 4 * u.arcmin})
    measured = measured_mount(known, analyse_drift(log), {})
    states = {figure.key: figure.state for figure in measured.figures}
    assert (states[key], states[other]) == ("measured", "left")
    assert getattr(measured.mount, key).to_value(u.arcmin) == pytest.approx(truth, abs=0.5)
    assert getattr(measured.mount, other) == getattr(known, other)


def test_without_a_place_the_polar_axis_stays():
    log = plain_log(3)
    assert implied_polar_error(analyse_drift(log)) is None
    measured = measured_mount(KNOWN, analyse_drift(dataclasses.replace(log, declination=30 * u.deg)), {})
    assert measured.mount.polar_altitude_error == KNOWN.polar_altitude_error
    assert "polar_altitude_error" not in measured.values
    # A drift in RA may be the axis or the air: 0.5 arcsec/min of those are 640 ppm of the drive at declination 30.
    assert "rate_error_ppm" not in measured.values
    assert any("no hour angle or latitude" in note for note in measured.notes)
    assert "say more of rate error, polar altitude error, " in measured.notes[-1]


def test_centroid_noise_comes_off_the_jitter():
    report = analyse_drift(dataclasses.replace(plain_log(4, jitter=0.5, wander=0.0), declination=0 * u.deg,
                                               exposure=1 * u.s))
    known = dataclasses.replace(KNOWN, jitter=0.4 * u.arcsec)

    def jitter(noise):
        found = measured_mount(known, report, {}, centroid_noise=noise * u.arcsec)
        return found.mount.jitter.to_value(u.arcsec), {one.key: one.state for one in found.figures}["jitter"]

    assert jitter(0.0) == (pytest.approx(0.5, abs=0.03), "measured")
    # Of 0.5 arcsec 0.4 are the star's own, known to a quarter: 0.3 +- 0.14 and the table's 0.4.
    assert jitter(0.4) == (pytest.approx(0.32, abs=0.06), "updated")
    assert jitter(2.0) == (0.4, "left")  # the rows scatter less than they are said to err


@pytest.mark.parametrize(("declination", "match"), [(None, "is needed"), (88 * u.deg, "too near to the pole")])
def test_a_mount_needs_a_usable_declination(declination, match):
    report = analyse_drift(dataclasses.replace(plain_log(5), declination=declination))
    with pytest.raises(InvalidInputError, match=match):
        measured_mount(KNOWN, report, {})


@pytest.mark.parametrize("step", [1, 30])
def test_a_part_of_a_slow_turn_is_no_rate_no_term_and_no_wander(step):
    # Ten minutes of a worm of 480 s and its harmonics: 1.25 turns. Mean slope of each turn from the path without it.
    off, false = [], 0
    for seed in range(12):
        rng = np.random.default_rng([seed, 31])
        worm = ((480.0, 6.0), (240.0, 1.5), (160.0, 0.6))
        time, *paths = motion(rng, 10, periodic=worm, wander=0.25)
        report = analyse_drift(rows(rng, time, paths, step=step, exposure=step))
        still = motion(np.random.default_rng(0), 10, periodic=((1e9, 0.0),), wander=0, jitter=0)[1]
        rate = 60 * np.polynomial.Polynomial.fit(time, still, 1).convert().coef[1]
        off.append((report.ra.rate.to_value(RATE) - rate) / report.ra.rate_error.to_value(RATE))
        false += len(report.ra.periodic)
        assert report.ra.slow_turn
        shown = report.ra.wander_bound is None
        assert not shown or abs(report.ra.wander.value - 0.25) < 4 * report.ra.wander_error.value
    assert false == 0
    assert within(off) >= 10  # of 12, 95 % expected: fewer once in 40; without the turn in the error 5


def test_a_gear_beside_a_part_of_a_slow_turn_does_not_make_it_wander():
    # The gear is told, and the worm that no log of ten minutes tells is followed as without it: it read 1.0 for 0.15.
    for seed in range(4):
        rng = np.random.default_rng([seed, 32])
        time, *paths = motion(rng, 10, periodic=((560.0, 6.0), (280.0, 1.5), (26.0, 1.2)), wander=0.15)
        ra = analyse_drift(rows(rng, time, paths, step=2, exposure=2)).ra
        assert any(abs(term.period.value - 26) < 0.3 for term in ra.periodic)
        assert ra.wander.value - 3 * ra.wander_error.value < 0.15


def test_the_table_says_whose_scatter_it_gives():
    # Mount, air and centroid of a row together: 0.25 and 0.3 arcsec here.
    rng = np.random.default_rng(9)
    time, *paths = motion(rng, 20, wander=0.1)
    row = noise_rows(analyse_drift(rows(rng, time, paths)))[1]
    assert not any("jitter" in key for key in row)
    assert float(row["scatter of a row (″ rms)"].split()[0]) == pytest.approx(np.hypot(0.25, 0.3), rel=0.1)


def test_what_a_log_cannot_tell_from_nothing_is_told_as_a_bound():
    # Twenty frames of half a minute: a worm of 150 s is left in the scatter of the rows, and is no jitter.
    for seed in range(4):
        rng = np.random.default_rng([seed, 41])
        time, *paths = motion(rng, 10, periodic=((150.0, 4.0),))
        row = noise_rows(analyse_drift(rows(rng, time, paths, step=30, exposure=30)))[0]
        assert row["scatter of a row (″ rms)"].startswith("< ")
    shown = 0
    for seed in range(12):
        rng = np.random.default_rng([seed, 42])
        time, *paths = motion(rng, 30, periodic=((300.0, 3.0),), wander=0.0)
        for row in noise_rows(analyse_drift(rows(rng, time, paths, step=4))):
            shown += not row["wander (″/√min)"].startswith("< ")
            assert " ± " in row["scatter of a row (″ rms)"]
    assert shown <= 3  # of 24: from 2 errors on one in eight would be


@pytest.mark.parametrize("jump", [0.0, 25.0])
def test_a_star_centred_anew_in_a_gap_is_a_step_and_no_wander(jump):
    # Ten minutes of an hour are missing; over so long a wait a walk was free to go far, if the worm passed for one.
    for seed in range(2):
        rng = np.random.default_rng([seed, 51])
        time, east, north = motion(rng, 60, periodic=((431.0, 6.3), (215.5, 1.1)), wander=0.15)
        log = rows(rng, time, (east + jump * (time > 1200), north), step=2)
        kept = (log.time < 900 * u.s) | (log.time > 1500 * u.s)
        report = analyse_drift(dataclasses.replace(log, time=log.time[kept], ra=log.ra[kept], dec=log.dec[kept]))
        assert report.breaks.size == (jump > 0)
        assert np.ptp(report.ra.steps_arcsec) == pytest.approx(jump, abs=2)
        assert abs(report.ra.wander.value - 0.15) < 3 * report.ra.wander_error.value
        whole = analyse_drift(rows(rng, time, (east, north), step=2)).ra.rate
        assert abs((report.ra.rate - whole) / report.ra.rate_error) < 3
