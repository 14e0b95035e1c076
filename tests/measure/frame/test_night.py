"""What the frames of a night say together: focus, the field's shape, the seeing and its record."""

import numpy as np
import pytest
from astropy import units as u
from measure.night_frames import Optics, catalogue, drawn, noisy

from planner.measure.drift.model import DriftLog
from planner.measure.frame.field_shape import field_shape, shape_lines
from planner.measure.frame.night import field_motion, focus_drift, site_seeing
from planner.measure.stars.star_field import measure_frame

COLD = np.full(30, np.nan)


def widths(rng, *, blur=0.0, start=0.5, noise=0.04):
    """Return places and widths: a focus that moves evenly from `start` on blurs in quadrature."""
    place = np.linspace(0, 2, 30)
    return place, 2.4 * np.exp(noise * rng.normal(size=30)) * np.hypot(1, blur * np.maximum(place / 2 - start, 0))


def test_a_still_focus_is_not_said_to_go():
    rng = np.random.default_rng(1)
    found = [focus_drift(*widths(rng, noise=noise), COLD) for noise in (0.02, 0.05, 0.1) for _ in range(100)]
    assert sum(one is not None for one in found) <= 3


def test_the_onset_is_found_in_unsteady_air():
    rng = np.random.default_rng(2)
    for blur, start in ((2.0, 0.3), (3.0, 0.6), (1.5, 0.0)):
        soft = start + np.sqrt(1.05**2 - 1) / blur  # 5 % wider from here on
        found = [focus_drift(*widths(rng, blur=blur, start=start), COLD) for _ in range(20)]
        off = [one.first / 29 - soft for one in found if one is not None]
        assert len(off) >= 19
        assert abs(np.median(off)) < 0.08


def test_copies_of_one_frame_show_no_focus_that_goes():
    assert focus_drift(np.arange(8.0), np.full(8, 2.4), COLD[:8]) is None


def test_frames_of_one_time_did_not_move():
    # Start times rounded to one value, or a copied frame: a way over no time is no rate.
    for ways in (np.zeros(8), np.arange(8.0)):
        log = DriftLog(time=np.full(8, 30.0) * u.s, ra=ways * u.arcsec, dec=ways * u.arcsec, declination=34 * u.deg)
        assert field_motion(log) is None


def test_one_wide_frame_or_one_knock_back_is_no_drift():
    place, width = widths(np.random.default_rng(3))
    width[12] *= 1.8
    assert focus_drift(place, width, COLD) is None


def test_the_temperature_tells_when_to_refocus():
    # Blur of 0.8 of the sharp width a kelvin: 5 % wider after sqrt(1.05**2 - 1)/0.8 = 0.40 K.
    place, width = widths(np.random.default_rng(4), blur=0.8 * 4.0, start=0.25, noise=0.01)
    found = focus_drift(place, width, 8 - 2 * place)  # 4 K over the series
    assert found.refocus_every.value == pytest.approx(0.40, rel=0.2)
    assert found.temperatures.value[1] == pytest.approx(4.0)


def test_a_site_learns_its_seeing_and_spread():
    # Nights drawn by themselves: the mean of logarithms with errors of known size, and their spread.
    rng = np.random.default_rng(5)
    off = []
    for _ in range(200):
        usual = 2.0 * np.exp(0.15 * rng.normal())
        nights = [(value, 0.1) for value in usual * np.exp(0.2 * rng.normal(size=12))]
        value, error, spread = site_seeing(nights, (2.0, 0.3))
        off.append((value - usual) / error)
        assert 0.1 < spread < 0.35
    assert 0.6 <= np.mean(np.abs(off) < 1) <= 0.76


SMALL = (220, 260)


@pytest.mark.parametrize(("optics", "words"), [
    (Optics(), []),
    (Optics(tilt=4 * np.exp(0.7j)), ["towards the upper right and the lower left, where the middle is in focus"]),
    (Optics(tilt=4j, middle=4), ["from corner to corner towards the top"]),
    (Optics(curvature=4), ["from the centre to the corners"]),
], ids=["none", "tilt", "tilt, focus aside", "curvature"])
def test_tilt_and_corners_of_a_night_are_named(optics, words):
    # GalSim draws a disc of blur as large as the sensor is away from the focus at each star.
    rng = np.random.default_rng(6)
    light = drawn(catalogue(rng, 70, SMALL), optics, shape=SMALL)
    lines = shape_lines(field_shape([measure_frame(noisy(rng, light)).parts for _ in range(4)]), 1.0, " px")
    assert len(lines) == len(words)
    assert all(word in line for word, line in zip(words, lines, strict=True)), lines
