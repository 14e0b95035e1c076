"""Properties of the measuring room: what must not change the answer, and what must change it in proportion."""

import dataclasses

import numpy as np
import pytest
from astropy import units as u
from hypothesis import given, settings
from hypothesis import strategies as st
from measure.simulated import plain_log, sightings

from planner.measure.drift.model import DriftLog
from planner.measure.drift.report import analyse_drift
from planner.measure.pointing.fit import fit_pointing
from planner.measure.polar.alignment import alignment_from_positions
from planner.measure.polar.small_circle import fit_circle
from planner.tracking.mount_frame import angles_of, sky_axes, turn_about

RATE = u.arcsec / u.min


@settings(max_examples=25)
@given(start=st.floats(-1e6, 1e6), places=st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
       rate=st.floats(-20, 20), seed=st.integers(0, 30))
def test_zero_points_and_an_added_rate(start, places, rate, seed):
    log = plain_log(seed, rows=120, terms=((90.0, 3.0, 0.5),))
    moved = DriftLog(time=log.time + start * u.s, dec=log.dec + places[1] * u.arcsec,
                     ra=log.ra + places[0] * u.arcsec + rate * RATE * log.time)
    first, second = analyse_drift(log), analyse_drift(moved)
    assert (second.ra.rate - first.ra.rate).to_value(RATE) == pytest.approx(rate, abs=1e-3)
    assert second.ra.rate_error.value == pytest.approx(first.ra.rate_error.value, rel=1e-2)
    assert len(second.ra.periodic) == len(first.ra.periodic)


@settings(max_examples=25)
@given(scale=st.floats(0.05, 50), seed=st.integers(0, 30))
def test_a_larger_log_is_larger_in_everything(scale, seed):
    log = plain_log(seed, rows=120, terms=((90.0, 3.0, 0.5),))
    first = analyse_drift(log)
    second = analyse_drift(dataclasses.replace(log, ra=scale * log.ra, dec=scale * log.dec))
    for name in ("rate", "rate_error", "jitter", "wander"):
        before, after = (getattr(report.ra, name).value for report in (first, second))
        assert after == pytest.approx(scale * before, rel=5e-3, abs=1e-4)


@settings(max_examples=60)
@given(latitude=st.floats(-80, 80), declination=st.floats(-70, 70), seed=st.integers(0, 1000),
       error=st.tuples(st.floats(-60, 60), st.floats(-60, 60)))
def test_turning_the_sky_about_any_axis_gives_the_axis_back(latitude, declination, seed, error):
    # Rodrigues' rotation of one direction about an axis within a degree of the pole.
    axis = np.array([np.radians(error[0] / 60), np.radians(error[1] / 60), np.sign(latitude) or 1.0])
    axis /= np.linalg.norm(axis)
    hour_angle = np.random.default_rng(seed).uniform(-180, 180)
    start = sky_axes(np.radians(hour_angle), np.radians(declination))[:, 0]
    look = np.array([turn_about(axis, angle) @ start for angle in np.radians([0, 30, 55, 90])])
    assert np.allclose(fit_circle(look, axis).axis, axis, atol=1e-9)
    h, d = angles_of(look)
    found = alignment_from_positions(np.degrees(h) * u.deg, np.degrees(d) * u.deg, latitude=latitude * u.deg,
                                     pressure=0 * u.hPa)
    separation = np.degrees(np.arctan2(np.hypot(axis[0], axis[1]), abs(axis[2]))) * 60
    assert found.offset.to_value(u.arcmin) == pytest.approx(separation, abs=1e-3)


@settings(max_examples=25)
@given(seed=st.integers(0, 100), order=st.randoms(use_true_random=False))
def test_the_order_of_sightings_does_not_matter(seed, order):
    data = sightings(seed, count=25)
    rows = list(range(25))
    order.shuffle(rows)
    shuffled = dataclasses.replace(
        data, pier_side=tuple(data.pier_side[row] for row in rows),
        **{name: getattr(data, name)[rows] for name in ("hour_angle", "declination", "mount_hour_angle",
                                                        "mount_declination")})
    first, second = fit_pointing(data), fit_pointing(shuffled)
    for before, after in zip(first.terms, second.terms, strict=True):
        assert after.value.value == pytest.approx(before.value.value, abs=1e-2)
    assert sorted(rows[row] for row in second.outliers) == sorted(first.outliers)


@settings(max_examples=25)
@given(seed=st.integers(0, 100), shift=st.floats(-3600, 3600))
def test_an_index_moves_only_its_term(seed, shift):
    data = sightings(seed, count=40, error=0.5)
    moved = dataclasses.replace(data, mount_hour_angle=data.mount_hour_angle - shift * u.arcsec)
    for before, after in zip(fit_pointing(data, harmonics=False).terms, fit_pointing(moved, harmonics=False).terms,
                             strict=True):
        expected = before.value.value + (shift if before.name == "hour_angle_zero" else 0)
        assert after.value.value == pytest.approx(expected, abs=0.05)
