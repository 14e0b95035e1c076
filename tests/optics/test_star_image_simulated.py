"""The star image against an independent image simulator: GalSim draws the same star, its own code measures it.

Every case is drawn finely (an obscured aperture has no closed width there, and a coarse drawing biases it), the
camera's pixel being part of the profile. Width: half maximum along and across the axis that GalSim's adaptive moments
find. Tolerances are at most those of the design: 1 % in width, 0.01 in elongation.
"""

import galsim
import galsim.hsm
import numpy as np
import pytest
from astropy import units as u
from optics.one_star import adaptive_moments
from scipy.ndimage import map_coordinates

from planner.optics import star_image

# Seeing ["], aperture [mm], obstruction, pixel ["], focus blur ["], trail and jitter [seeing], position angle [deg].
CASES = [
    (1.0, 60, 0.00, 0.3, 0.0, 0.00, 0.00, 0), (1.0, 60, 0.45, 4.0, 0.0, 0.00, 0.00, 0),
    (1.0, 400, 0.45, 0.3, 0.0, 0.00, 0.00, 0), (1.0, 400, 0.00, 4.0, 0.0, 0.00, 0.00, 0),
    (2.5, 200, 0.35, 0.8, 0.0, 0.00, 0.00, 0), (2.5, 200, 0.00, 0.8, 0.0, 0.00, 0.00, 0),
    (5.0, 60, 0.45, 0.3, 0.0, 0.00, 0.00, 0), (5.0, 400, 0.00, 4.0, 0.0, 0.00, 0.00, 0),
    (3.0, 100, 0.20, 1.9, 1.5, 0.00, 0.00, 0), (1.5, 300, 0.40, 0.5, 2.0, 0.00, 0.00, 0),
    (2.5, 200, 0.35, 0.8, 0.0, 0.25, 0.00, 0), (2.5, 200, 0.35, 0.8, 0.0, 0.50, 0.00, 0),
    (2.5, 200, 0.35, 0.8, 0.0, 0.71, 0.00, 0), (2.5, 200, 0.35, 0.8, 0.0, 1.00, 0.00, 0),
    (2.5, 200, 0.35, 0.8, 0.0, 1.50, 0.00, 0), (2.5, 200, 0.35, 0.8, 0.0, 2.00, 0.00, 0),
    (2.5, 200, 0.35, 0.8, 0.0, 2.00, 0.00, 30), (2.5, 200, 0.35, 0.8, 0.0, 2.00, 0.00, 45),
    (2.5, 200, 0.35, 0.8, 0.0, 1.00, 0.00, 110), (2.5, 200, 0.35, 0.8, 0.0, 0.71, 0.00, 163),
    (1.0, 60, 0.00, 0.3, 0.0, 1.00, 0.00, 60), (1.0, 60, 0.45, 4.0, 0.0, 2.00, 0.00, 20),
    (1.0, 400, 0.45, 4.0, 0.0, 2.00, 0.00, 45), (1.0, 400, 0.45, 4.0, 0.0, 2.00, 0.00, 70),
    (1.0, 400, 0.20, 2.0, 0.0, 1.00, 0.00, 22), (5.0, 400, 0.45, 0.3, 0.0, 2.00, 0.00, 80),
    (5.0, 60, 0.00, 4.0, 0.0, 2.00, 0.00, 135), (5.0, 150, 0.30, 2.5, 3.0, 1.00, 0.00, 10),
    (2.5, 200, 0.35, 0.8, 0.0, 0.00, 0.30, 0), (2.5, 200, 0.35, 0.8, 0.0, 0.00, 1.00, 0),
    (2.5, 200, 0.35, 0.8, 0.0, 0.00, 2.00, 0), (1.0, 60, 0.30, 1.0, 0.0, 0.00, 2.00, 0),
    (2.5, 200, 0.35, 0.8, 0.0, 1.00, 0.50, 50), (2.5, 200, 0.35, 0.8, 1.0, 2.00, 0.50, 75),
    (1.5, 80, 0.00, 2.9, 0.0, 1.50, 0.20, 15), (4.0, 250, 0.33, 1.2, 2.0, 1.20, 0.30, 125),
    (3.0, 355, 0.34, 0.6, 0.5, 0.90, 0.10, 91), (2.0, 120, 0.00, 3.5, 0.0, 2.00, 0.00, 33),
]


def our_star(case):
    seeing, aperture, obstruction, pixel, blur, trail, jitter, angle = case
    return star_image(
        seeing_fwhm=seeing * u.arcsec, wavelength=550 * u.nm, aperture=aperture * u.mm, obstruction=obstruction,
        image_scale=pixel * u.arcsec / u.pix, focus_blur_fwhm=blur * u.arcsec, trail=trail * seeing * u.arcsec,
        trail_position_angle=angle * u.deg, jitter_rms=jitter * seeing * u.arcsec)


def their_star(case):
    """The same star of GalSim: x east, y north, so that its angle from x is 90 deg less ours."""
    seeing, aperture, obstruction, pixel, blur, trail, jitter, angle = case
    accurate = galsim.GSParams(folding_threshold=6e-3, maximum_fft_size=16384)
    parts = [galsim.Kolmogorov(fwhm=seeing),
             galsim.Airy(lam=550, diam=aperture / 1000, obscuration=obstruction, scale_unit=galsim.arcsec),
             galsim.Pixel(pixel)]
    if blur:
        parts.append(galsim.Gaussian(fwhm=blur))
    if jitter:
        parts.append(galsim.Gaussian(sigma=jitter * seeing))
    if trail:
        line = galsim.Box(trail * seeing, 1e-3 * seeing)
        parts.append(line.rotate((90 - angle) * galsim.degrees))
    return galsim.Convolve(parts, gsparams=accurate)


def drawn(star, ours, samples=30):
    """GalSim's image on a grid of 30 samples to the narrow width, wide enough for the moments."""
    size = 2 * int(samples * (5 + 3 * float(ours.fwhm_major / ours.fwhm_minor)) / 2) + 1
    return star.drawImage(nx=size, ny=size, scale=ours.fwhm_minor.value / samples, method="no_pixel", dtype=float)


def width_through_the_middle(image, angle_deg):
    """Half-maximum width along a direction from x: cubic spline through the drawing, linear between close samples."""
    middle = (image.array.shape[0] - 1) / 2
    place = np.linspace(-middle, middle, 8001) * 0.7
    line = map_coordinates(image.array, [middle + place * np.sin(np.radians(angle_deg)),
                                         middle + place * np.cos(np.radians(angle_deg))], order=3)
    above = place[line >= line.max() / 2]
    return (above[-1] - above[0]) * image.scale


@pytest.mark.parametrize("case", CASES, ids=str)
def test_agrees_with_the_simulator(case):
    ours = our_star(case)
    image = drawn(their_star(case), ours)
    shape = galsim.hsm.FindAdaptiveMom(image, guess_sig=ours.fwhm.value / 2.4 / image.scale).observed_shape
    # Half of the design's 0.01: the drawing's own error is below 1e-3.
    assert ours.elongation == pytest.approx(1 - shape.q, abs=0.005)
    axis = shape.beta.deg if ours.elongation > 0.01 else 0.0
    if ours.elongation > 0.01:
        assert abs((ours.position_angle.value - (90 - axis) + 90) % 180 - 90) < 1
    assert ours.fwhm_major.value == pytest.approx(width_through_the_middle(image, axis), rel=0.01)
    assert ours.fwhm_minor.value == pytest.approx(width_through_the_middle(image, axis + 90), rel=0.01)
    area = image.scale**2 / np.sum(image.array**2)
    assert ours.noise_equivalent_area.value == pytest.approx(area, rel=0.01)


@pytest.mark.parametrize("case", CASES[::4], ids=str)
def test_light_in_pixels_agrees_with_the_simulator(case):
    ours, pixel = our_star(case), case[3]
    size = 2 * int(6 * ours.fwhm_major.value / pixel) + 3
    theirs = their_star(case).drawImage(nx=size, ny=size, scale=pixel, method="no_pixel", dtype=float).array
    peak = theirs.max()
    # Positions of the pixels and their light: rows run north, columns east, as GalSim's y and x do.
    np.testing.assert_allclose(ours.render((size, size)), theirs, atol=2e-3 * peak)
    assert ours.central_pixel_fraction == pytest.approx(theirs[size // 2, size // 2], rel=5e-3)


@pytest.mark.parametrize("case", [case for case in CASES if case[3] < case[0]][::4], ids=str)
def test_moments_of_the_drawn_image_agree_with_both(case):
    """The pixel estimator, on GalSim's drawing at the camera's own pixels, against hsm on the same pixels."""
    size = 2 * int(6 * our_star(case).fwhm_major.value / case[3]) + 3
    image = their_star(case).drawImage(nx=size, ny=size, scale=case[3], method="no_pixel", dtype=float)
    ours, theirs = adaptive_moments(image.array), galsim.hsm.FindAdaptiveMom(image)
    assert ours.converged
    # Where a sigma is under a pixel the two part: hsm keeps the sum over pixels, ours the least-squares Gaussian, which
    # does not depend on where in the pixel the star lies. Half of the 0.01 that elongation may be off at all.
    coarse = ours.sigma_minor.value < 1
    assert float(ours.elongation) == pytest.approx(1 - theirs.observed_shape.q, abs=5e-3 if coarse else 2e-4)
    mean_sigma = np.sqrt(ours.sigma_major * ours.sigma_minor).value
    assert mean_sigma == pytest.approx(theirs.moments_sigma, rel=1e-2 if coarse else 2e-4)
    # hsm counts pixels from 1, ours from 0.
    assert ours.x.value == pytest.approx(theirs.moments_centroid.x - 1, abs=1e-3)


# Seeing ["], wavelength [nm], aperture [mm], obstruction, outer scale [m], pixel ["].
@pytest.mark.parametrize("case", [
    (1.0, 500, 300, 0.33, 10, 0.4), (2.0, 500, 300, 0.33, 20, 0.5), (2.5, 550, 250, 0.33, 10, 0.5),
    (4.0, 550, 100, 0.00, 8, 1.0), (1.2, 800, 400, 0.30, 5, 0.3)])
def test_a_finite_outer_scale(case):
    seeing, wave, aperture, obstruction, outer, pixel = case
    r0 = 0.9758634299 * wave * 1e-9 / np.radians(seeing / 3600)
    theirs = galsim.Convolve(galsim.VonKarman(lam=wave, r0=r0, L0=outer), galsim.Pixel(pixel),
                             galsim.Airy(lam=wave, diam=aperture / 1000, obscuration=obstruction))
    ours = star_image(seeing_fwhm=seeing * u.arcsec, wavelength=wave * u.nm, aperture=aperture * u.mm,
                      obstruction=obstruction, image_scale=pixel * u.arcsec / u.pix, outer_scale=outer * u.m)
    image = drawn(theirs, ours)
    assert ours.fwhm_major.value == pytest.approx(width_through_the_middle(image, 0), rel=2e-3)
    area = image.scale**2 / np.sum(image.array**2)
    assert ours.noise_equivalent_area.value == pytest.approx(area, rel=5e-3)
