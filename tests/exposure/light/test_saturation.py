"""Which stars saturate."""

from dataclasses import replace

import numpy as np
from astropy import units as u
from exposure.rigs import CAMERA, light_path, rig
from numpy.testing import assert_allclose

from planner.exposure import PIXEL_RATE, saturated_stars, saturation_limit, saturation_magnitude

NO_SKY = 0 * PIXEL_RATE


def test_the_lower_of_well_and_converter_counts():
    assert saturation_limit(CAMERA).value == 50000
    assert_allclose(saturation_limit(replace(CAMERA, bit_depth=12)).value, 4095 * 0.8)


def test_star_at_the_limit_fills_the_pixel():
    one = rig()
    limit = saturation_magnitude(light_path(one), exposure=60 * u.s, central_pixel_fraction=0.1,
                                 sky_rate=2 * PIXEL_RATE, airmass=1.2)
    rate = light_path(one).star(limit, airmass=1.2).value
    assert_allclose(rate * 0.1 * 60 + (2 + 0.002) * 60, 50000)


def test_longer_subs_saturate_fainter_stars():
    limit = saturation_magnitude(light_path(), exposure=[1, 10, 100] * u.s, central_pixel_fraction=0.1,
                                 sky_rate=NO_SKY)
    # No sky to speak of: a factor of ten is 2.5 mag.
    assert_allclose(np.diff(limit.value), 2.5, atol=1e-4)


def test_sky_alone_may_fill_the_pixel():
    limit = saturation_magnitude(light_path(), exposure=600 * u.s, central_pixel_fraction=0.1,
                                 sky_rate=100 * PIXEL_RATE)
    assert limit.value == np.inf


def test_binning_in_software_does_not_change_the_pixel():
    arguments = {"exposure": 60 * u.s, "central_pixel_fraction": 0.1}
    one = saturation_magnitude(light_path(), sky_rate=2 * PIXEL_RATE, **arguments)
    binned = saturation_magnitude(light_path(rig(binning=2)), sky_rate=8 * PIXEL_RATE, **arguments)
    assert_allclose(one.value, binned.value)


def test_counting_stars():
    magnitudes = np.array([9.0, 4.0, 7.5, np.inf]) * u.mag
    assert saturated_stars(magnitudes, 8 * u.mag) == 2
    assert list(saturated_stars(magnitudes, [3, 4.1, 20] * u.mag)) == [0, 1, 3]
    assert saturated_stars([] * u.mag, 8 * u.mag) == 0
