"""What a star image and a look-up cost; ratios in one run, not part of pass or fail."""

import numpy as np
import pytest
from astropy import units as u

from planner.optics import adaptive_moments_batch, motion_response, star_image

STILL = {"seeing_fwhm": 2.5 * u.arcsec, "wavelength": 550 * u.nm, "aperture": 200 * u.mm, "obstruction": 0.35,
         "image_scale": 0.8 * u.arcsec / u.pix}


@pytest.mark.benchmark(group="one star")
def test_full_star_image(benchmark):
    star = benchmark(star_image, **STILL, trail=3 * u.arcsec, trail_position_angle=30 * u.deg)
    assert star.elongation == pytest.approx(0.20, abs=0.01)


@pytest.mark.benchmark(group="one star")
def test_star_image_along_a_track(benchmark):
    track = np.column_stack([np.sin(np.linspace(0, 6, 200)), np.linspace(-1, 1, 200)]) * u.arcsec
    benchmark(star_image, **STILL, track=track)


@pytest.mark.benchmark(group="one star")
def test_motion_response_made(benchmark):
    benchmark(motion_response, **STILL)


@pytest.mark.benchmark(group="one star")
def test_render(benchmark):
    star = star_image(**STILL, trail=3 * u.arcsec)
    assert benchmark(star.render, (31, 31)).sum() == pytest.approx(0.98, abs=0.02)


@pytest.mark.benchmark(group="100 000 wanders")
def test_motion_response_at(benchmark):
    """Per entry: the time over 1e5. Accuracy against the full image is in tests/optics/test_motion_response.py."""
    rng = np.random.default_rng(0)
    major, share, kurtosis = rng.uniform(0, 6, 100_000), rng.uniform(0, 1, 100_000), rng.uniform(-1.5, 0, 100_000)
    response = motion_response(**STILL)
    effect = benchmark(response.at, major * u.arcsec**2, share * major * u.arcsec**2, kurtosis)
    assert effect.elongation.shape == (100_000,)


@pytest.mark.benchmark(group="1000 stamps")
def test_adaptive_moments(benchmark):
    star = star_image(**STILL, trail=3 * u.arcsec).render((31, 31))
    stamps = 1000 * star + np.random.default_rng(0).normal(0, 0.5, (1000, 31, 31))
    assert benchmark(adaptive_moments_batch, stamps).converged.all()


@pytest.mark.benchmark(group="1000 stamps")
def test_reference_hsm(benchmark):
    """GalSim's compiled adaptive moments on the same stamps, one after another."""
    hsm = pytest.importorskip("galsim.hsm")
    from galsim import Image

    star = star_image(**STILL, trail=3 * u.arcsec).render((31, 31))
    stamps = 1000 * star + np.random.default_rng(0).normal(0, 0.5, (1000, 31, 31))
    images = [Image(stamp) for stamp in stamps]
    benchmark(lambda: [hsm.FindAdaptiveMom(image) for image in images])
