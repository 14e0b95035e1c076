"""Extended sources against worked numbers derived for this project.

Labels like E01 tell rows apart and refer to no list outside this file.
"""

import numpy as np
from astropy import units as u
from exposure.rigs import light_path, rig
from numpy.testing import assert_allclose

from planner.exposure import PIXEL_RATE, signal_to_noise
from planner.rig import Filter

MAG = u.mag / u.arcsec**2
# The rig of the worked rows: D 20 cm, obstruction 6 cm, QE 0.55, optics 0.85, 1.2 arcsec per pixel.
WORKED = rig(telescope__aperture=200 * u.mm, telescope__obstruction=0.3, telescope__transmission=0.85,
             telescope__focal_length=1000 * u.mm, camera__quantum_efficiency=0.55,
             camera__pixel_pitch=1000 * np.tan(np.radians(1.2 / 3600)) * u.mm)
# The rows take the zero point at 545 nm times 880 angstrom: a narrow box there, scaled, leaves the slope of the
# spectrum inside the band out of the comparison.
NARROW = Filter(name="V", centre=545 * u.nm, width=0.88 * u.nm, transmission=1.0)
SCALE = 100


def test_collecting_area():
    # pi/4 (D2 - d2) = 285.885 cm2.
    assert_allclose(WORKED.telescope.collecting_area.to_value(u.cm**2), 285.885, atol=0.001)


def test_sky_signal():
    # 21.0 mag/arcsec2, 995.5 ph/s/cm2/A (Bessell et al. 1998) x 880 A: 0.6712 e/s/pix.
    rate = SCALE * light_path(WORKED, NARROW).surface(21.0 * MAG)
    assert_allclose(rate.to_value(PIXEL_RATE), 0.6712, atol=0.0005)


def test_object_signal():
    # 25.0 mag/arcsec2: 0.01686 e/s/pix.
    rate = SCALE * light_path(WORKED, NARROW).surface(25.0 * MAG)
    assert_allclose(rate.to_value(PIXEL_RATE), 0.01686, atol=2e-5)


def test_a_real_box_differs_by_the_slope_only():
    # The same 880 angstrom as one box: the spectrum's curvature inside V is under 2 %.
    wide = Filter(name="V", centre=545 * u.nm, width=88 * u.nm, transmission=1.0)
    rate = light_path(WORKED, wide).surface(21.0 * MAG)
    assert_allclose(rate.to_value(PIXEL_RATE), 0.6712, rtol=0.02)


def test_binning_gain_sky_limited():
    # Four pixels summed, sky limited: SNR x 2.
    sky, signal = 1e6 * u.electron, 1e-3 * u.electron
    one = signal_to_noise(signal, background=sky, read_noise=0 * u.electron)
    four = signal_to_noise(4 * signal, background=4 * sky, read_noise=0 * u.electron)
    assert_allclose((four / one).value, 2, rtol=1e-9)


def test_contrast_of_four_magnitudes():
    # 10^(-0.4 x 4) = 0.02512.
    ratio = light_path(WORKED, NARROW).surface(25 * MAG) / light_path(WORKED, NARROW).surface(21 * MAG)
    assert_allclose(ratio.to_value(u.one), 0.02512, atol=1e-5)


def test_focal_ratio_sets_the_rate_per_pixel():
    # Same pixel, f/4 against f/8: 4 times the electrons, whatever the aperture.
    fast = rig(telescope__aperture=100 * u.mm, telescope__focal_length=400 * u.mm)
    slow = rig(telescope__aperture=300 * u.mm, telescope__focal_length=2400 * u.mm)
    ratio = light_path(fast, NARROW).surface(21 * MAG) / light_path(slow, NARROW).surface(21 * MAG)
    assert_allclose(ratio.to_value(u.one), 4, rtol=1e-12)


def test_mean_surface_brightness_of_an_ellipse():
    # V 8.4 over 11 x 7 arcmin is 21.745 mag/arcsec2: the pixels of the whole ellipse add up to the star's rate.

    area = np.pi / 4 * (11 * 60) * (7 * 60) * u.arcsec**2
    pixels = area / light_path(WORKED, NARROW).pixel_area
    total = light_path(WORKED, NARROW).surface(21.745 * MAG) * pixels
    assert_allclose(total.to_value(u.electron / u.s),
                    light_path(WORKED, NARROW).star(8.4 * u.mag).to_value(u.electron / u.s), rtol=0.001)
