"""Adaptive moments in pixels: exact on Gaussians, batch as single, honest where there is no star."""

import numpy as np
import pytest
from astropy import units as u
from optics.one_star import adaptive_moments

from planner.errors import InvalidInputError
from planner.optics import adaptive_moments_batch, star_image


def gaussian(xx, xy, yy, x=20.0, y=18.0, shape=(39, 41), flux=1000.0):
    rows, columns = np.indices(shape)
    dx, dy = columns - x, rows - y
    determinant = xx * yy - xy**2
    square = (yy * dx**2 - 2 * xy * dx * dy + xx * dy**2) / determinant
    return flux * np.exp(-square / 2) / (2 * np.pi * np.sqrt(determinant))


@pytest.mark.parametrize(("xx", "xy", "yy"), [(4, 0, 4), (9, 0, 3), (6, 2.5, 3), (2, -0.8, 5), (20, 5, 12)])
def test_a_gaussian_gives_its_own_moments(xx, xy, yy):
    found = adaptive_moments(gaussian(xx, xy, yy, x=19.3, y=18.6))
    # 1e-3: the largest of them leaves the stamp.
    for name, value in (("xx", xx), ("xy", xy), ("yy", yy), ("x", 19.3), ("y", 18.6)):
        assert getattr(found, name).value == pytest.approx(value, rel=1e-3, abs=1e-3)
    assert found.flux == pytest.approx(1000, rel=1e-3)
    assert found.converged


def test_the_angle_runs_from_columns_to_rows():
    assert adaptive_moments(gaussian(6, 2.5, 3)).angle.value == pytest.approx(np.degrees(np.arctan2(5, 3)) / 2)
    assert adaptive_moments(gaussian(3, 0, 6)).angle.value == pytest.approx(90)
    assert adaptive_moments(gaussian(4, -1, 4)).angle.value == pytest.approx(135)


def test_the_predicted_star_is_measured_as_predicted():
    """The same estimator from the transfer function and from the camera's pixels, at any phase of the pixel."""
    star = star_image(seeing_fwhm=2.5 * u.arcsec, wavelength=550 * u.nm, aperture=200 * u.mm, obstruction=0.35,
                      image_scale=0.8 * u.arcsec / u.pix, trail=3 * u.arcsec, trail_position_angle=25 * u.deg)
    found = adaptive_moments(star.render((41, 41)))
    assert float(found.elongation) == pytest.approx(star.elongation, abs=1e-4)
    assert 90 - found.angle.value == pytest.approx(star.position_angle.value, abs=0.1)


def test_a_batch_is_its_members():
    shapes = [(4, 0, 4), (9, 0, 3), (6, 2.5, 3)]
    stamps = np.array([gaussian(*shape) for shape in shapes])
    batch = adaptive_moments_batch(stamps)
    assert batch.elongation.shape == (3,)
    for index, stamp in enumerate(stamps):
        alone = adaptive_moments(stamp)
        assert batch.xx[index].value == pytest.approx(alone.xx.value, rel=1e-6)
        assert batch.sigma_major[index].value == pytest.approx(alone.sigma_major.value, rel=1e-6)


def test_a_source_that_never_settles_does_not_unsettle_the_others():
    # The weight swings between the two of a pair, now coarse, now fine; the star beside them in the batch must not.
    small = {"shape": (13, 13), "x": 6}
    pair = gaussian(1.3, 0, 1.3, y=6, **small) + 3 * gaussian(1.3, 0, 1.3, y=6.3, **{**small, "x": 11.25})
    found = adaptive_moments_batch(np.stack([gaussian(1.4, 0.1, 1.35, y=6, **small), pair]), sigma=1.159 * u.pix)
    assert found.converged[0]


def test_noise_scatters_but_does_not_lose_stars():
    rng = np.random.default_rng(3)
    stamps = gaussian(4, 0, 4) + rng.normal(0, 0.5, (200, 39, 41))
    found = adaptive_moments_batch(stamps, sigma=2 * u.pix, centre=np.array([20.0, 18.0]))
    assert found.converged.all()
    # Signal to noise 1000 / (0.5 sqrt(4 pi 4)) = 282; sigma's relative error is 1/(2 SNR) times a factor near 2.
    assert np.mean(found.sigma_major.value) == pytest.approx(2, rel=0.01)
    assert np.std(np.sqrt(found.sigma_major * found.sigma_minor).value) < 0.02


def test_where_there_is_no_star_there_are_no_moments():
    hot = np.zeros((21, 21))
    hot[10, 10] = 100
    stamps = np.stack([np.zeros((21, 21)), hot, np.full((21, 21), np.nan), -gaussian(4, 0, 4, shape=(21, 21)),
                       np.ones((21, 21))])
    found = adaptive_moments_batch(stamps)
    assert not found.converged.any()
    assert np.isnan(found.xx.value).all()
    assert np.isnan(found.flux).all()


def test_an_empty_batch_is_empty():
    assert adaptive_moments_batch(np.zeros((0, 9, 9))).xx.shape == (0,)


def test_the_start_does_not_matter():
    image = gaussian(9, 2, 4)
    found = [adaptive_moments(image), adaptive_moments(image, centre=(18.5, 19.5), sigma=1 * u.pix),
             adaptive_moments(image, sigma=6 * u.pix)]
    for other in found[1:]:
        assert other.xx.value == pytest.approx(found[0].xx.value, rel=1e-5)
        assert other.xy.value == pytest.approx(found[0].xy.value, rel=1e-5)


@pytest.mark.parametrize(("call", "name"), [
    (lambda: adaptive_moments_batch(np.zeros((5, 5))), "stamps"),
    (lambda: adaptive_moments(np.ones((5, 5)), sigma=2.0), "sigma"),
    (lambda: adaptive_moments(np.ones((5, 5)), sigma=0 * u.pix), "sigma")])
def test_wrong_values_are_refused(call, name):
    with pytest.raises(InvalidInputError, match=f"{name} = "):
        call()
