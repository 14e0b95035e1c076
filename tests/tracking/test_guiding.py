"""The guide loop against a simulation in time, the guide star against the Cramer-Rao bound, the air."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.tracking import guide_loops, guide_star_noise, image_motion
from planner.tracking.servo import Servo

FINE = 40  # steps of the simulation per second


def simulate(disturbance, noise, *, exposure, pause, latency, gain):
    """Return the error (samples,) of a mount guided as the text books say: expose, wait, correct by gain x mean error.

    Written apart from the product: one loop over moments, a list of corrections on their way.
    """
    look, cycle, delay = (round(x * FINE) for x in (exposure, exposure + pause, latency))
    correction, error, under_way, seen = 0.0, np.empty(disturbance.size), {}, []
    for i, moved in enumerate(disturbance):
        correction += under_way.pop(i, 0.0)
        error[i] = moved - correction
        if i % cycle < look:
            seen.append(error[i])
            if len(seen) == look:
                measured = np.mean(seen) + noise[i // cycle]
                under_way[i + 1 + delay] = under_way.get(i + 1 + delay, 0.0) + gain * measured
                seen = []
    return error


def servo(exposure, pause, latency, gain):
    return Servo(np.array([exposure]), np.array([gain]), np.array([exposure + pause]), latency)


# Exposure, pause to the next, latency, gain: waiting for the correction, and correcting while the next one runs.
LOOPS = [
    pytest.param((2.0, 0.5, 0.5, 0.5), id="waits"),
    pytest.param((1.0, 0.0, 0.0, 0.8), id="no delay"),
    pytest.param((2.0, 0.0, 0.5, 0.4), id="arrives within the next"),
    pytest.param((1.0, 0.0, 1.5, 0.2), id="arrives in the one after"),
    pytest.param((0.5, 1.0, 2.0, 0.3), id="short looks, long delay"),
    pytest.param((3.0, 0.25, 0.25, 1.0), id="whole error"),
]
SECONDS = 6000
CYCLES = 12000  # at most: cycles of half a second


@pytest.mark.parametrize("loop", LOOPS)
@pytest.mark.parametrize("period", [200.0, 31.7, 6.1, 1.7])
def test_periodic_error(loop, period):
    exposure, pause, latency, gain = loop
    time = (np.arange(SECONDS * FINE) + 0.5) / FINE
    error = simulate(np.sin(2 * np.pi * time / period), np.zeros(CYCLES), exposure=exposure, pause=pause,
                     latency=latency, gain=gain)[500 * FINE:]
    # sinusoid() is for amplitude 1 of e^(i w t), twice that of a sine. 2 %: phases met in 6000 s, steps of 1/40 s.
    left = servo(*loop).sinusoid(np.array([1 / period]))[0, 0, 0] / 2
    assert_allclose(np.mean(error**2), left, rtol=0.02, atol=2e-4)


@pytest.mark.parametrize("loop", LOOPS)
def test_white_noise(loop):
    exposure, pause, latency, gain = loop
    noise = np.random.default_rng(3).normal(size=CYCLES)
    error = simulate(np.zeros(SECONDS * FINE), noise, exposure=exposure, pause=pause, latency=latency, gain=gain)
    # 10 %: 1800 to 6000 correlated samples.
    assert_allclose(np.mean(error**2), servo(*loop).noise[0, 0], rtol=0.1)


@pytest.mark.parametrize("gain", [0.1, 0.5, 1.0, 1.5])
def test_white_noise_of_the_plain_integrator(gain):
    # Known closed form of c += g (n - c): variance g/(2 - g).
    loop = servo(1.0, 0.5, 0.5, gain)
    assert_allclose(loop.noise[0, 0], gain / (2 - gain), rtol=1e-9)


@pytest.mark.parametrize("loop", LOOPS)
def test_random_walk(loop):
    exposure, pause, latency, gain = loop
    steps = np.random.default_rng(8).normal(size=4 * SECONDS * FINE) / np.sqrt(FINE)
    error = simulate(np.cumsum(steps), np.zeros(4 * CYCLES), exposure=exposure, pause=pause, latency=latency, gain=gain)
    # 8 %: 24 000 s hold some 2000 independent errors.
    assert_allclose(np.mean(error[100 * FINE:] ** 2), servo(*loop).walk[0, 0], rtol=0.08)


@pytest.mark.parametrize("loop", LOOPS)
def test_steady_drift(loop):
    exposure, pause, latency, gain = loop
    time = (np.arange(400 * FINE) + 0.5) / FINE
    error = simulate(0.1 * time, np.zeros(CYCLES), exposure=exposure, pause=pause, latency=latency, gain=gain)
    cycle = round((exposure + pause) * FINE)
    settled = error[200 * FINE // cycle * cycle:][:100 * FINE // cycle * cycle].reshape(-1, cycle)
    # A sawtooth of one cycle's drift: rT/sqrt(12); the mean of an exposure lags by rT/g. 2 %: steps of 1/40 s.
    assert_allclose(np.std(settled), 0.1 * (exposure + pause) / np.sqrt(12), rtol=0.02)
    assert_allclose(np.mean(settled[:, :round(exposure * FINE)]), 0.1 * (exposure + pause) / gain, rtol=0.02)


def test_residual_of_a_drift():
    # The first of the two closed forms, through `guide_loops`.
    best = guide_loops(centroid_rms=0 * u.arcsec, exposures=[2] * u.s, gains=[0.4], latency=0.5 * u.s,
                      drift_rate_ra=0.1 * u.arcsec / u.s).best()
    assert_allclose(best.ra_rms.value, 0.1 * 2.5 / np.sqrt(12))


@pytest.mark.parametrize("loop", LOOPS)
def test_limit_of_stability(loop):
    # Just inside, a false error dies away in the simulation; just outside it grows.
    exposure, pause, latency, _ = loop
    limit = servo(*loop).largest_gain[0]
    noise = np.zeros(CYCLES)
    noise[0] = 1.0
    ends = []
    for gain in (0.97 * limit, 1.03 * limit):
        error = simulate(np.zeros(2000 * FINE), noise, exposure=exposure, pause=pause, latency=latency, gain=gain)
        ends.append(np.max(np.abs(error[-100 * FINE:])))
    assert ends[0] < 0.1
    assert ends[1] > 1.0


@pytest.mark.parametrize(("latency", "limit"), [(0.0, 2.0), (1.0, 1.0), (2.0, (np.sqrt(5) - 1) / 2)])
def test_known_limits_of_stability(latency, limit):
    # 1 - z^-1 + g z^-k on the unit circle: g = 2 sin(pi/(2(2k - 1))): 2, 1 and 0.618 for k = 1, 2, 3.
    assert_allclose(servo(1.0, 0.0, latency, 0.1).largest_gain[0], limit, rtol=1e-3)


def test_slow_motion_of_the_air_moves_the_mount():
    # The spectrum route against white noise: motion that is flat over the loop's band, averaged by the exposure, has
    # density 2 sigma^2 T per Hz (one-sided), where sigma^2 is the variance of one exposure.
    frequency = np.geomspace(1e-5, 400, 60000)
    loop = servo(1.0, 0.0, 0.0, 0.5)
    assert_allclose(loop.spectrum(frequency, np.full(frequency.size, 2.0))[0, 0], loop.noise[0, 0],
                    rtol=0.01)


def cramer_rao(electrons, background, sigma, scale):
    """Return the bound on the place of a Gaussian in pixels from its Fisher information, mean over sub-pixel phase."""
    from scipy.special import erf

    edges = np.arange(-15, 16) * scale
    bounds = []
    for phase in np.linspace(0, scale, 5):
        share = np.diff(erf((edges - phase) / np.sqrt(2) / sigma)) / 2
        slope = -np.diff(np.exp(-((edges - phase) ** 2) / 2 / sigma**2)) / np.sqrt(2 * np.pi) / sigma
        light, change = np.outer(share, share) * electrons, np.outer(slope, share) * electrons
        bounds.append(1 / np.sum(change**2 / (light + background)))
    return np.sqrt(np.mean(bounds))


@pytest.mark.parametrize("electrons", [300, 3000, 100000])
@pytest.mark.parametrize("background", [0.01, 3.0, 30.0, 400.0])
@pytest.mark.parametrize("scale", [0.5, 1.5])
def test_guide_star_noise_is_near_the_bound(electrons, background, scale):
    # 5 %: what the approximation of Rieger & Stallinga 2014 (from memory) leaves of the exact integral.
    noise = guide_star_noise(star_rate=electrons / 2 * u.electron / u.s, exposure=2 * u.s, seeing_fwhm=3 * u.arcsec,
                             image_scale=scale * u.arcsec / u.pix, sky_rate=background / 4 * u.electron / u.s,
                             read_noise=np.sqrt(background / 2) * u.electron)
    assert_allclose(noise.value, cramer_rao(electrons, background, 3 / 2.354820045, scale), rtol=0.05)


def test_no_star_no_place():
    noise = guide_star_noise(star_rate=[0, 10] * u.electron / u.s, exposure=1 * u.s, seeing_fwhm=3 * u.arcsec,
                             image_scale=1 * u.arcsec / u.pix)
    assert noise[0] == np.inf * u.arcsec
    assert np.isfinite(noise[1])


AIR = {"seeing_fwhm": 2 * u.arcsec, "wavelength": 550 * u.nm}


@pytest.mark.parametrize("aperture", [50, 200])
def test_image_motion_in_an_instant(aperture):
    # Sarazin & Roddier 1990 and later authors (from memory), G-tilt in one direction: 0.170 lambda^2 D^-1/3 r0^-5/3;
    # with r0 = 0.976 lambda/FWHM. 1 %: the constant is rounded to 3 digits, the spectrum to a finite range.
    r0 = 0.976 * 550e-9 / np.radians(2 / 3600)
    rms = np.degrees(np.sqrt(0.170 * 550e-9**2 * (aperture / 1000) ** (-1 / 3) * r0 ** (-5 / 3))) * 3600
    assert_allclose(image_motion(**AIR, aperture=aperture * u.mm).rms(0 * u.s).value, rms, rtol=0.01)


def test_image_motion_averages_slowly():
    # Martin 1987 (from memory): once the wind has crossed the aperture, the variance of the mean place falls as T^-1/3
    # (infinite outer scale): the low end of the spectrum goes as frequency^-2/3. 1 %: between 30 and 240 s.
    motion = image_motion(**AIR, aperture=60 * u.mm)
    variance = motion.rms([30, 240] * u.s).value ** 2
    assert_allclose(variance[1] / variance[0], 8 ** (-1 / 3), rtol=0.01)


def test_outer_scale_calms_slow_motion():
    free, bound = (image_motion(**AIR, aperture=60 * u.mm, outer_scale=scale).rms([0, 10] * u.s).value
                   for scale in (None, 20 * u.m))
    assert np.all(bound < free)
    assert bound[1] < 0.5 * free[1]


GRID = {"exposures": [0.5, 1, 2, 4] * u.s, "centroid_rms": [0.8, 0.5, 0.3, 0.2] * u.arcsec, "periods": [480] * u.s,
        "amplitudes": [10] * u.arcsec, "wander": 0.3 * u.arcsec / u.min**0.5}


def test_terms_make_the_residual():
    best = guide_loops(**GRID, declination=40 * u.deg, jitter=[0.2, 0.1] * u.arcsec,
                      image_motion=image_motion(**AIR, aperture=60 * u.mm), drift_rate_dec=0.02 * u.arcsec / u.s).best()
    for axis, total in (("ra", best.ra_rms), ("dec", best.dec_rms)):
        parts = [term.rms.value for term in best.terms if term.axis == axis]
        assert_allclose(np.linalg.norm(parts), total.value)


def test_a_steady_mount_wants_a_soft_hand_and_a_wild_one_a_firm_hand():
    calm = guide_loops(**{**GRID, "amplitudes": [0.5] * u.arcsec, "wander": 0.02 * u.arcsec / u.min**0.5}).best()
    wild = guide_loops(**{**GRID, "amplitudes": [40] * u.arcsec, "wander": 3 * u.arcsec / u.min**0.5}).best()
    assert calm.gain < wild.gain
    assert calm.ra_rms < wild.ra_rms


def test_periodic_error_counts_times_the_cosine_of_the_declination():
    quiet = {**GRID, "centroid_rms": 0 * u.arcsec, "wander": 0 * u.arcsec / u.min**0.5, "gains": [0.5]}
    at_equator, at_sixty = (guide_loops(**quiet, declination=dec * u.deg) for dec in (0, 60))
    assert_allclose(at_sixty.rms()[0], 0.5 * at_equator.rms()[0])
    assert at_equator.best().dec_rms.value == 0


@pytest.mark.parametrize(("changed", "message"), [
    ({"gains": [3.0]}, r"gains = \[.*3.0.*\]: must be 0.02 to 2"),
    ({"gains": [1.5]}, r"must hold one at which the loop is stable\. Try smaller gains"),
    ({"exposures": [0] * u.s, "centroid_rms": 1 * u.arcsec}, "exposures = .*must be more than 0 s"),
    ({"latency": -1 * u.s}, "latency = .*must be at least 0 s"),
    ({"amplitudes": [] * u.arcsec}, "periods = 1 periods, 0 amplitudes: must be pairs"),
])
def test_refusals(changed, message):
    with pytest.raises(InvalidInputError, match=message):
        guide_loops(**{**GRID, **changed}).best()


def test_refuses_a_bare_number():
    with pytest.raises(TypeError, match="centroid_rms"):
        guide_loops(centroid_rms=0.5).best()
