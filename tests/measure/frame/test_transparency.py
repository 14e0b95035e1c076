"""The light of a series' frames, from stars drawn at one flux and many widths by an independent simulator."""

import numpy as np
import pytest
from measure.frame_sim import Sky
from measure.stars.coverage import measured

from planner.measure.frame.transparency import light_of

# Widths in pixels of the camera on either side of where moments give way to a fit, and profiles with and without wings.
WIDTHS = {"": [(1.2, "moffat"), (1.4, "moffat"), (1.7, "moffat"), (2.5, "moffat"), (4.0, "moffat")],
          "green": [(2.0, "moffat"), (2.6, "moffat"), (2.85, "moffat"), (3.1, "moffat"), (5.0, "moffat")],
          "red": [(2.6, "gauss"), (3.4, "gauss"), (5.0, "gauss")]}


def sky(fwhm, profile, share=1.0):
    return Sky(fwhm=fwhm, profile=profile, stars=100, size=450, flux=(1e4 * share, 3e5 * share), seed=4)


def told(fields, times=None):
    """Return light and error of each frame, (n,) each."""
    found = light_of(fields, times or [None] * len(fields))
    return np.array([one.share for one in found]), np.array([one.error for one in found])


@pytest.mark.parametrize("colour", WIDTHS)
def test_light_does_not_depend_on_the_width_of_the_stars(colour):
    light, error = told([measured(sky(*each), colour) for each in WIDTHS[colour]])
    # 3 %: neighbours count more the wider stars are, and the wings beyond the circle are 1 % of a star.
    assert light == pytest.approx(np.ones(light.size), abs=0.03)
    assert (error < 0.02).all()


@pytest.mark.parametrize("colour", ["", "green"])
def test_a_tenth_less_is_seen_behind_other_widths(colour):
    shares = [1, 1, 0.9, 0.8, 0.5, 1]
    fields = [measured(sky(fwhm, "moffat", share), colour) for fwhm, share in
              zip([2.7, 3.2, 2.7, 3.2, 2.9, 3.0], shares, strict=True)]
    light, error = told(fields)
    assert light == pytest.approx(shares, abs=0.03)
    assert light[2] + 2 * error[2] < 0.97


def test_half_the_time_is_no_cloud():
    fields = [measured(sky(3.0, "moffat", share), "") for share in (1, 0.5, 0.5)]
    assert told(fields, [60.0, 30.0, 60.0])[0] == pytest.approx([1, 1, 0.5], abs=0.03)


def test_frames_of_other_stars_tell_nothing():
    one, other = measured(sky(3.0, "moffat"), ""), measured(Sky(fwhm=3.0, stars=80, size=450, seed=9), "")
    assert np.isnan(told([one, other])[0][1])
    assert np.isnan(told([one])[0]).all()
