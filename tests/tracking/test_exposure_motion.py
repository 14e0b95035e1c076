"""Motion within an exposure: closed forms against dense sampling of the same track, an independent route."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.tracking import (
    exposure_motion,
    guided_track,
    motion_budget,
    refracted_pole,
    smooth_track,
    track_hour_angles,
)
from planner.tracking.drive import drive_phases

SIDEREAL_DEG_PER_S = 360 / 86164.0905
MOUNT = {"latitude": 45 * u.deg, "declination": 30 * u.deg, "polar_altitude_error": 5 * u.arcmin,
         "polar_azimuth_error": -3 * u.arcmin, "rate_error_ppm": 30.0}
STARTS = np.array([-55.0, 0.0, 48.0])
PLACES = np.array([[0.0, 0.0], [0.8, -0.5]])
COSINE = np.cos(np.radians(30))
DRIVES = [
    pytest.param([], [], id="no periodic term"),
    pytest.param([480.0], [4.0], id="one slow"),
    pytest.param([480.0, 157.0, 13.3], [4.0, 1.5, 0.6], id="three"),
    pytest.param([60.0, 60.0], [1.0, 1.0], id="two of one period"),
    pytest.param([2.0, 0.7], [1.0, 0.5], id="fast"),
]


@pytest.fixture(scope="module")
def track():
    return smooth_track(**MOUNT, hour_angle=track_hour_angles(STARTS * u.deg, 1800 * u.s))


def sampled(start_deg, seconds, place_deg, periods, amplitudes, phase, count=20001):
    """Return (count, 2) places of the star, by the engine at every moment and the sinusoids written out."""
    time = (np.arange(count) + 0.5) / count * seconds
    smooth = smooth_track(**MOUNT, hour_angle=(start_deg + SIDEREAL_DEG_PER_S * time) * u.deg)
    place = np.column_stack([smooth.ra.value, smooth.dec.value]) + smooth.field_map @ (place_deg * 3600)
    for period, amplitude, start in zip(periods, amplitudes, phase, strict=True):
        place[:, 0] += COSINE * amplitude * np.sin(2 * np.pi * (time - seconds / 2) / period + start)
    return place - place.mean(axis=0)


@pytest.mark.parametrize(("periods", "amplitudes"), DRIVES)
@pytest.mark.parametrize("seconds", [1.0, 30.0, 120.0, 420.0, 1800.0])
def test_agrees_with_dense_sampling(track, periods, amplitudes, seconds):
    moved = exposure_motion(track, duration=[seconds] * u.s, hour_angle=STARTS * u.deg, phases=4,
                            periods=periods * u.s, amplitudes=amplitudes * u.arcsec, declination=30 * u.deg,
                            offsets=PLACES * u.deg)
    phases = drive_phases(4, len(periods)) if periods else np.zeros((4, 0))
    for k, h, p in [(0, 0, 0), (1, 0, 3), (0, 1, 1), (1, 2, 2), (0, 2, 3)]:
        place = sampled(STARTS[h], seconds, PLACES[k], periods, amplitudes, phases[p])
        values, vectors = np.linalg.eigh(place.T @ place / len(place))
        along = place @ vectors[:, 1]
        got = {name: getattr(moved, name)[k, 0, h, p] for name in (
            "variance_major", "variance_minor", "excess_kurtosis", "position_angle")}
        # 1e-3: the track is interpolated over steps of 1 deg.
        assert_allclose(got["variance_major"].value, values[1], rtol=1e-3)
        assert_allclose(got["variance_minor"].value, values[0], atol=1e-3 * values[1])
        # 0.05: terms of more than 19 turns count as independent of the rest.
        assert_allclose(got["excess_kurtosis"], np.mean(along**4) / values[1] ** 2 - 3, atol=0.05)
        angle = np.degrees(np.arctan2(*vectors[:, 1]))
        if values[0] < 0.5 * values[1]:
            assert_allclose((got["position_angle"].value - angle + 90) % 180, 90, atol=0.3)


def test_shape_and_order_of_the_axes(track):
    moved = exposure_motion(track, duration=[10, 20] * u.s, hour_angle=STARTS * u.deg, phases=5, periods=[60] * u.s,
                            amplitudes=[1] * u.arcsec, offsets=np.zeros((4, 2)) * u.deg)
    for name in ("variance_major", "variance_minor", "excess_kurtosis", "position_angle", "variance_ra",
                 "variance_dec"):
        assert getattr(moved, name).shape == (4, 2, 3, 5)


def test_a_still_star_stays():
    still = smooth_track(latitude=45 * u.deg, declination=30 * u.deg, hour_angle=[0, 5, 10] * u.deg, rate="model")
    moved = exposure_motion(still, duration=[60] * u.s, hour_angle=[2] * u.deg)
    assert_allclose(moved.variance_major.value, 0, atol=1e-12)
    assert np.all(np.isfinite(moved.excess_kurtosis))


def test_random_parts_add_their_variances(track):
    # s^2 T/6 per axis about the mean of a random walk's window; step^2/12, cos dec, in right ascension; rms^2.
    at = {"duration": [90] * u.s, "hour_angle": [0] * u.deg, "declination": 30 * u.deg, "phases": 1}
    base = exposure_motion(track, **at)
    moved = exposure_motion(track, **at, wander=0.6 * u.arcsec / u.min**0.5, encoder_step=2 * u.arcsec,
                            jitter=[0.3, 0.1] * u.arcsec)
    added_ra = (moved.variance_ra - base.variance_ra).value.item()
    added_dec = (moved.variance_dec - base.variance_dec).value.item()
    walk = 0.36 / 60 * 90 / 6
    assert_allclose(added_ra, walk + 4 / 12 * COSINE**2 + 0.09)
    assert_allclose(added_dec, walk + 0.01)


def test_wander_is_that_of_a_random_walk():
    # Independent route: seeded random walks of 0.6 arcsec per root minute over 90 s, their mean removed.
    rng = np.random.default_rng(5)
    steps = rng.normal(size=(4000, 900)) * 0.6 / np.sqrt(60) * np.sqrt(0.1)
    walks = np.cumsum(steps, axis=1)
    # 4000 walks: 2 % of a chi-square that is mostly one mode.
    assert_allclose(np.mean(np.var(walks, axis=1)), 0.36 / 60 * 90 / 6, rtol=0.05)


def test_phases_fill_every_combination():
    # Means over 32 phases of what must vanish over all phases: first two harmonics of each term and of their pairs.
    phases = drive_phases(32, 3)
    assert phases.shape == (32, 3)
    harmonics = [[1, 0, 0], [0, 1, 0], [0, 0, 1], [2, 0, 0], [0, 2, 0], [0, 0, 2], [1, -1, 0], [0, 1, -1]]
    for harmonic in np.array(harmonics):
        assert abs(np.mean(np.exp(1j * phases @ harmonic))) < 0.1
    assert_allclose(phases, drive_phases(32, 3))


def test_an_exposure_outside_the_track_is_refused(track):
    with pytest.raises(InvalidInputError, match=r"hour_angle = .* must keep exposures of 3600 s inside the track"):
        exposure_motion(track, duration=[3600] * u.s, hour_angle=[48] * u.deg)


@pytest.mark.parametrize(("changed", "message"), [
    ({"periods": [1, 2] * u.s, "amplitudes": [1] * u.arcsec}, "periods = 2 periods, 1 amplitudes: must be pairs"),
    ({"periods": [0] * u.s, "amplitudes": [1] * u.arcsec}, "periods = .*must be more than 0 s. Give the time of one"),
    ({"duration": [0, 60] * u.s}, "duration = .*must be more than 0 s"),
    ({"phases": 0}, "phases = 0: must be at least 1"),
])
def test_refusals(track, changed, message):
    with pytest.raises(InvalidInputError, match=message):
        exposure_motion(track, **{"duration": [60] * u.s, "hour_angle": [0] * u.deg, **changed})


def test_refuses_a_bare_number(track):
    with pytest.raises(TypeError, match="duration"):
        exposure_motion(track, duration=60, hour_angle=[0] * u.deg)


BUDGET = {"latitude": 45 * u.deg, "declination": 10 * u.deg, "hour_angle": np.linspace(-30, 30, 7) * u.deg,
          "duration": 120 * u.s}


def rms(budget):
    return {(term.term, term.axis): term.rms.to_value(u.arcsec) for term in budget}


def test_budget_shows_a_polar_error_that_cancels_refraction():
    pole = refracted_pole(latitude=45 * u.deg)
    terms = rms(motion_budget(**BUDGET, polar_altitude_error=pole))
    # Around the meridian the axis at the refracted pole takes out declination drift that either cause makes alone.
    alone = terms["polar altitude error", "dec"], terms["refraction", "dec"]
    assert terms["total drift", "dec"] < 0.5 * min(alone)


def test_budget_names_every_cause_and_adds_up():
    budget = motion_budget(**BUDGET, polar_azimuth_error=3 * u.arcmin, periods=[480] * u.s,
                           amplitudes=[4] * u.arcsec, jitter=0.2 * u.arcsec, corner=[0.7, 0.5] * u.deg,
                           wander=0.1 * u.arcsec / u.min**0.5, encoder_step=0.3 * u.arcsec, rate_error_ppm=50)
    terms = rms(budget)
    names = [term.term for term in budget if term.axis == "ra"]
    assert names == ["polar altitude error", "polar azimuth error", "refraction", "drive rate", "pointing model",
                     "flexure", "periodic error", "wander", "jitter", "encoder", "dispersion",
                     "field rotation at the corner", "total drift", "total"]
    drives = [terms[name, "dec"] for name in ("periodic error", "wander", "jitter", "encoder")]
    at_centre = np.hypot(terms["total drift", "dec"], np.linalg.norm(drives))
    # The corner adds or takes away no more than its own motion.
    assert abs(terms["total", "dec"] - at_centre) <= terms["field rotation at the corner", "dec"] + 1e-9
    assert terms["polar altitude error", "ra"] < 1e-6


def test_budget_of_a_periodic_error_is_the_mean_of_its_phases(track):
    terms = rms(motion_budget(**BUDGET, periods=[480, 95] * u.s, amplitudes=[4, 1] * u.arcsec, rate="model"))
    still = smooth_track(latitude=45 * u.deg, declination=10 * u.deg, hour_angle=[0, 5] * u.deg, rate="model")
    moved = exposure_motion(still, duration=[120] * u.s, hour_angle=[0] * u.deg, phases=512, periods=[480, 95] * u.s,
                            amplitudes=[4, 1] * u.arcsec, declination=10 * u.deg)
    assert_allclose(terms["periodic error", "ra"], np.sqrt(np.mean(moved.variance_ra.value)), rtol=2e-3)


def test_guided_motion_takes_the_guided_field():
    hours = track_hour_angles([0] * u.deg, 1800 * u.s)
    held = guided_track(latitude=45 * u.deg, declination=60 * u.deg, hour_angle=hours, pressure=0 * u.hPa,
                        guide_star_offset=[1, 0] * u.deg, polar_altitude_error=10 * u.arcmin)
    moved = exposure_motion(held, duration=[1800] * u.s, hour_angle=[0] * u.deg, offsets=[[0, 0], [1, 0]] * u.deg)
    # Field rotation omega beta/cos dec on the meridian: a line at 1 deg from the guide star, nothing at it.
    length = 2 * np.pi / 86164.0905 * 1800 * np.radians(10 / 60) / 0.5 * 3600
    assert_allclose(moved.variance_major.value[0, 0, 0, 0], length**2 / 12, rtol=5e-3)
    assert_allclose(moved.variance_major.value[1, 0, 0, 0], 0, atol=1e-9)
