"""Means over a window against the integral over it, by a general-purpose library and the plane-parallel air."""

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import GREEN, SITE, rig
from scipy.integrate import quad

from planner.exposure.scene import observing_scene, over_window


@pytest.mark.parametrize("count", [9, 17])
def test_airmass_and_seeing_are_those_of_the_window_and_not_of_its_ends(count):
    declination, last = 40 * u.deg, 55.0  # to 49 deg from the zenith: 1.53 of air, where 1/cos z is within 0.3 %
    scene = observing_scene(rig(), SITE, GREEN, declination=declination,
                            hour_angle=np.linspace(-last, last, count) * u.deg)

    def air(hour_deg):
        latitude, dec, hour = (np.radians(value) for value in (SITE.latitude.value, declination.value, hour_deg))
        return 1 / (np.sin(latitude) * np.sin(dec) + np.cos(latitude) * np.cos(dec) * np.cos(hour))

    mean = quad(air, 0, last)[0] / last
    assert scene.airmass == pytest.approx(mean, rel=0.006)  # of it half the trapezoidal rule's own with 9 places
    width = quad(lambda hour: air(hour) ** 0.6, 0, last)[0] / last  # Kolmogorov's law
    zenith = observing_scene(rig(), SITE, GREEN, declination=SITE.latitude, hour_angle=[0] * u.deg)
    assert float(scene.seeing_fwhm / zenith.seeing_fwhm) == pytest.approx(width, rel=0.004)


def test_ends_count_for_half_and_one_moment_for_itself():
    assert over_window(np.array([1.0, 2.0, 6.0])) == pytest.approx((0.5 + 2 + 3) / 2)
    assert over_window(np.array([[3.0], [4.0]])).tolist() == [3, 4]
    assert over_window([5.0, 7.0] * u.arcsec) == 6 * u.arcsec
