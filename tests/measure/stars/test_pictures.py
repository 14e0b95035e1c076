"""What the pictures of measurements are drawn from: outlines of stars, arrows on the sky, the evidence for periods."""

import erfa
import numpy as np
import pytest
from astropy import units as u
from measure.frame_sim import Sky, draw
from measure.simulated import TERMS, plain_log, sightings

from planner.files.logs import read_drift_log
from planner.files.own_files import packaged_data
from planner.measure.drift.fit.periodic_terms import false_alarm
from planner.measure.drift.report import analyse_drift
from planner.measure.drift.spectrum import drift_spectrum
from planner.measure.pointing.fit import fit_pointing
from planner.measure.pointing.residual_plan import residual_plan
from planner.measure.stars.outlines import star_outlines
from planner.measure.stars.star_field import measure_frame

LATITUDES = (47.5, -31.8)


@pytest.fixture(scope="module")
def trailed():
    return measure_frame(draw(Sky(fwhm=3.0, trail=3.0, angle=30.0, stars=400, size=500, seed=3))[0])


def test_outlines_show_the_elongation_so_many_times(trailed):
    drawn = star_outlines(trailed)
    assert drawn.outline_x.shape == drawn.outline_y.shape == (9, 40)
    for x, y, elongation in zip(drawn.outline_x, drawn.outline_y, drawn.outline_elongation, strict=True):
        # Widths of an ellipse along and across the trail, straight from its points.
        turned = (x - x[:-1].mean() + 1j * (y - y[:-1].mean())) * np.exp(-1j * np.radians(30))
        along, across = np.ptp(turned.real), np.ptp(turned.imag)
        # 0.03: the direction of a ninth of the frame is known to 2 deg, the outline has 39 corners.
        assert 1 - across / along == pytest.approx(drawn.factor * elongation, abs=0.03)
    assert drawn.factor * drawn.outline_elongation.max() <= 0.7


def test_strokes_lie_along_the_trail_at_the_stars(trailed):
    drawn = star_outlines(trailed)
    angle = np.degrees(np.arctan2(drawn.y1 - drawn.y0, drawn.x1 - drawn.x0)) % 180
    assert np.median(angle) == pytest.approx(30, abs=2)
    middle = np.column_stack([drawn.x0 + drawn.x1, drawn.y0 + drawn.y1]) / 2
    there = {(round(x, 3), round(y, 3)) for x, y in zip(trailed.stars.x, trailed.stars.y, strict=True)}
    assert {(round(x, 3), round(y, 3)) for x, y in middle} <= there


def test_a_frame_without_stars_draws_nothing():
    empty = star_outlines(measure_frame(np.random.default_rng(1).normal(size=(60, 80))))
    assert empty.x0.size == 0
    assert empty.outline_x.size == 0
    assert (empty.columns, empty.rows) == (80, 60)


@pytest.mark.parametrize("latitude", LATITUDES)
def test_arrows_point_where_the_residual_goes(latitude):
    # The independent route: the star moved by its residual, both places turned to azimuth and altitude by ERFA.
    data = sightings(5, count=40, latitude=latitude)
    fit = fit_pointing(data, harmonics=False)
    plan = residual_plan(data, fit)
    hour, dec = data.hour_angle.to_value(u.rad), data.declination.to_value(u.rad)
    east, north = fit.residual.to_value(u.rad).T
    before = erfa.hd2ae(hour, dec, np.radians(latitude))
    after = erfa.hd2ae(hour - east / np.cos(dec), dec + north, np.radians(latitude))
    np.testing.assert_allclose(plan.azimuth_deg, np.degrees(before[0]), atol=1e-9)
    np.testing.assert_allclose(plan.altitude_deg, np.degrees(before[1]), atol=1e-9)
    arcsec = 180 / np.pi * 3600
    across = np.angle(np.exp(1j * (after[0] - before[0]))) * np.cos(before[1]) * arcsec
    # 0.01 arcsec: second order of residuals of some arcsec, near the zenith too.
    np.testing.assert_allclose(plan.across_arcsec, across, atol=0.01)
    np.testing.assert_allclose(plan.up_arcsec, (after[1] - before[1]) * arcsec, atol=0.01)


def test_arrows_are_stretched_by_a_round_factor():
    data = sightings(6, count=30, terms=TERMS)
    plan = residual_plan(data, fit_pointing(data))
    length = np.hypot(plan.tip_azimuth_deg - plan.azimuth_deg, plan.tip_altitude_deg - plan.altitude_deg)
    good = ~plan.outlier
    np.testing.assert_allclose(length[good], plan.stretch * np.hypot(plan.across_arcsec, plan.up_arcsec)[good])
    assert 5.6 <= length[good].max() <= 14.0
    assert plan.stretch / 10 ** np.floor(np.log10(plan.stretch)) in (1, 2, 5)


def test_the_spectrum_passes_its_level_at_the_true_period():
    # A worm of 501 s was put into the demo log (tests/measure/demo_logs.py).
    report = analyse_drift(read_drift_log(packaged_data("drift_demo.csv")))
    spectrum = drift_spectrum(report, report.ra)
    assert spectrum.period_s[np.argmax(spectrum.evidence)] == pytest.approx(501, rel=0.03)
    assert spectrum.evidence.max() > 5 * spectrum.level
    assert spectrum.left.max() < spectrum.level
    assert np.all(np.diff(spectrum.period_s) > 0)
    assert false_alarm(report.ra.time_s, spectrum.level, 4) == pytest.approx(spectrum.false_alarm, rel=1e-6)


def test_noise_stays_below_the_level():
    # 0.1 % per log and axis: none of 20 is expected above, one is bad luck of 2 %.
    above = 0
    for seed in range(20):
        report = analyse_drift(plain_log(seed))
        above += int(drift_spectrum(report, report.ra).evidence.max() > drift_spectrum(report, report.ra).level)
    assert above <= 1
