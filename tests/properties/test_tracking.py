"""What must hold for any mount, target and site."""

import numpy as np
import pytest
from astropy import units as u
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from tracking.pointings import mount_from_sky, sky_from_mount

from planner.tracking import PointingTerms, encoder_step, exposure_motion, guide_loops, smooth_track

LATITUDES = st.floats(-89, 89)
DECLINATIONS = st.floats(-90, 90)
HOURS = np.linspace(-40, 40, 41) * u.deg
FEW = settings(max_examples=40)


def drift(latitude, declination, altitude, azimuth, **more):
    return smooth_track(latitude=latitude * u.deg, declination=declination * u.deg, hour_angle=HOURS,
                        polar_altitude_error=altitude * u.arcmin, polar_azimuth_error=azimuth * u.arcmin,
                        pressure=0 * u.hPa, **more)


@FEW
@given(LATITUDES, st.floats(-75, 75), st.floats(-10, 10), st.floats(-10, 10))
def test_halving_a_lone_polar_error_halves_the_drift(latitude, declination, altitude, azimuth):
    whole, half = drift(latitude, declination, altitude, azimuth), drift(latitude, declination, altitude / 2,
                                                                         azimuth / 2)
    # Second order of 14 arcmin: 14 x 14 arcmin in radians is 3.4 arcsec, times tan dec up to 3.7.
    size = np.hypot(altitude, azimuth) * 60
    tolerance = 4 * np.radians(size / 3600) * size * (1 + abs(np.tan(np.radians(declination)))) + 1e-6
    assert_allclose(half.dec.value, whole.dec.value / 2, atol=tolerance)
    assert_allclose(half.ra.value, whole.ra.value / 2, atol=tolerance)


@FEW
@given(LATITUDES, st.floats(-80, 80), st.floats(-1, 1), st.floats(0, 2 * np.pi))
def test_a_degree_of_polar_error_drifts_at_most_15_75_arcsec_a_minute(latitude, declination, scale, angle):
    # 2 pi/1436.068 min x 1 deg = 15.751 arcsec/min in declination; the axis off by at most a degree in all.
    altitude = scale * 60 * np.cos(angle)
    azimuth = scale * 60 * np.sin(angle)
    start = np.array([-90, -30, 0, 45.0])
    for h in start:
        track = smooth_track(latitude=latitude * u.deg, declination=declination * u.deg, pressure=0 * u.hPa,
                             hour_angle=[h, h + 360 / 1436.068] * u.deg, polar_altitude_error=altitude * u.arcmin,
                             polar_azimuth_error=azimuth * u.arcmin)
        # The second order of one degree for one minute at 80 deg: 15.75 x 0.0175 x tan 80 / 2 x 0.0044, below 0.01.
        assert abs(track.dec[-1].value) <= 15.751 + 0.01


@FEW
@given(LATITUDES, DECLINATIONS, st.floats(-60, 60), st.floats(-60, 60), st.sampled_from(["sidereal", "king", "model"]))
def test_hemispheres_mirror(latitude, declination, altitude, azimuth, rate):
    if latitude == 0:
        return  # neither pole is elevated
    air = {"hour_angle": HOURS, "polar_altitude_error": altitude * u.arcmin, "polar_azimuth_error": azimuth * u.arcmin,
           "rate": rate}
    one = smooth_track(latitude=latitude * u.deg, declination=declination * u.deg, **air)
    other = smooth_track(latitude=-latitude * u.deg, declination=-declination * u.deg, **air)
    assert np.all(np.isfinite(one.ra.value))
    # Near the pole a rounding of 1e-16 in a direction is magnified by 1/cos dec.
    magnified = 1e-6 / max(np.cos(np.radians(declination)), 1e-4)
    assert_allclose(other.ra.value, one.ra.value, atol=magnified)
    assert_allclose(other.dec.value, -one.dec.value, atol=magnified)


TERMS = st.builds(
    lambda values: PointingTerms(**{name: value * u.arcsec for name, value in zip(
        ("hour_angle_zero", "declination_zero", "collimation", "axes_not_square", "polar_altitude", "polar_azimuth",
         "tube_flexure"), values,
        strict=True)}),
    st.lists(st.floats(-1800, 1800), min_size=7, max_size=7))


@FEW
@given(TERMS, LATITUDES, st.floats(-84, 84), st.floats(-179, 179), st.sampled_from(["east", "west"]))
def test_model_and_inverse_are_exact(terms, latitude, declination, hour_angle, side):
    at = {"latitude": latitude * u.deg, "pier_side": side}
    shown = mount_from_sky(terms, **at, hour_angle=hour_angle * u.deg, declination=declination * u.deg)
    back = sky_from_mount(terms, **at, hour_angle=shown.hour_angle, declination=shown.declination)
    # Errors up to half a degree each, down to 6 deg from the pole: 1e-7 arcsec.
    assert_allclose(back.declination.to_value(u.arcsec), declination * 3600, atol=1e-6)
    assert_allclose((back.hour_angle.value - hour_angle + 180) % 360 - 180, 0, atol=1e-8)


@FEW
@given(st.lists(st.tuples(st.floats(0.3, 5000), st.floats(0, 30)), max_size=4), st.floats(1, 1800), DECLINATIONS,
       st.floats(0, 20))
def test_motion_is_never_negative_and_fits_its_amplitudes(terms, seconds, declination, polar):
    periods, amplitudes = ([term[i] for term in terms] for i in (0, 1))
    track = smooth_track(latitude=45 * u.deg, declination=declination * u.deg, hour_angle=np.arange(0, 10.1, 1) * u.deg,
                         polar_altitude_error=polar * u.arcmin)
    moved = exposure_motion(track, duration=[seconds] * u.s, hour_angle=[0, 1] * u.deg, phases=8,
                            periods=periods * u.s, amplitudes=amplitudes * u.arcsec, declination=declination * u.deg)
    major, minor = moved.variance_major.value, moved.variance_minor.value
    assert np.all(minor >= 0)
    assert np.all(major >= minor)
    assert_allclose(major + minor, moved.variance_ra.value + moved.variance_dec.value, rtol=1e-9, atol=1e-9)
    drift_alone = exposure_motion(track, duration=[seconds] * u.s, hour_angle=[0, 1] * u.deg, phases=1)
    most = np.sqrt(drift_alone.variance_major.value.max()) + sum(amplitudes)
    assert np.sqrt(major.max()) <= most * (1 + 1e-6) + 1e-6
    # The kurtosis of any distribution is at least -2; approximate for many turns.
    assert np.all(moved.excess_kurtosis[major > 1e-6] > -2.1)


@FEW
@given(st.floats(0.01, 2), st.floats(1, 30), st.floats(60, 2000), st.floats(0, 3))
def test_a_better_guide_star_never_guides_worse(noise, amplitude, period, latency):
    at = {"periods": [period] * u.s, "amplitudes": [amplitude] * u.arcsec, "latency": latency * u.s,
          "wander": 0.2 * u.arcsec / u.min**0.5}
    worse, better = (guide_loops(centroid_rms=x * u.arcsec, **at).best() for x in (noise, noise / 2))
    assert np.hypot(better.ra_rms, better.dec_rms) <= np.hypot(worse.ra_rms, worse.dec_rms) * (1 + 1e-12)


@pytest.mark.parametrize("bits", range(8, 33, 4))
def test_encoder_step_halves_with_every_bit(bits):
    assert_allclose(encoder_step(2 ** (bits + 1)).value * 2, encoder_step(2**bits).value)
