"""Sampling: what the pixel costs in width and in noise."""

from dataclasses import dataclass

from astropy import units as u

from planner.checks import require_positive
from planner.optics.star_image import StarImage, star_image


@dataclass(frozen=True)
class Sampling:
    """A star on these pixels against the same star on pixels of no size."""

    pixels_per_fwhm: float  # of the star before the pixel blurs it
    nyquist_image_scale: u.Quantity[u.arcsec / u.pix]  # two pixels per width before the pixel
    undersampled_power: float  # share of the recorded power beyond the pixels' Nyquist frequency
    resolution_lost: float  # 1 - width before / width after the pixel
    signal_to_noise_kept: float  # background-limited, of a point source fitted by its profile
    noise_pixels: float  # noise-equivalent area in pixels
    recorded: StarImage
    before_pixel: StarImage


def sampling(
    *, seeing_fwhm: u.Quantity[u.arcsec], wavelength: u.Quantity[u.nm], aperture: u.Quantity[u.mm],
    obstruction: float = 0.0, image_scale: u.Quantity[u.arcsec / u.pix],
    focus_blur_fwhm: u.Quantity[u.arcsec] = 0 * u.arcsec, outer_scale: u.Quantity[u.m] | None = None,
) -> Sampling:
    """Return what the pixel costs, from the star image itself with and without it.

    Parameters, units and errors as in `star_image`.

    Returns
    -------
    Sampling
    """
    recorded, before = (
        star_image(seeing_fwhm=seeing_fwhm, wavelength=wavelength, aperture=aperture, obstruction=obstruction,
                   image_scale=scale, focus_blur_fwhm=focus_blur_fwhm, outer_scale=outer_scale)
        for scale in (image_scale, 1e-3 * image_scale)
    )
    scale = image_scale.to(u.arcsec / u.pix)
    area = (recorded.noise_equivalent_area / scale**2).to_value(u.pix**2)
    # Background-limited signal to noise goes with the root of the noise-equivalent area.
    kept = (before.noise_equivalent_area / recorded.noise_equivalent_area).to_value(u.one) ** 0.5
    return Sampling(
        pixels_per_fwhm=float((before.fwhm / scale).to_value(u.pix)),
        nyquist_image_scale=nyquist_image_scale(before.fwhm), undersampled_power=recorded.undersampled_power,
        resolution_lost=1 - float((before.fwhm / recorded.fwhm).to_value(u.one)), signal_to_noise_kept=float(kept),
        noise_pixels=float(area), recorded=recorded, before_pixel=before,
    )


def nyquist_image_scale(fwhm: u.Quantity[u.arcsec]) -> u.Quantity[u.arcsec / u.pix]:
    """Return the largest pixel that still samples a star: two per full width at half maximum (convention).

    A Gaussian of 2 pixels keeps 2.8 % of its contrast at the Nyquist frequency; only detail beyond it is lost.

    Parameters
    ----------
    fwhm : Quantity [arcsec], any shape

    Returns
    -------
    Quantity [arcsec/pix], same shape

    Raises
    ------
    InvalidInputError
        If the width is not positive.
    """
    return require_positive("fwhm", fwhm, u.arcsec, "Give the star's width.") / (2 * u.pix)


def pixel_variance(image_scale: u.Quantity[u.arcsec / u.pix]) -> u.Quantity[u.arcsec**2]:
    r"""Return the variance per axis that a square pixel adds to a star: :math:`p^2/12`; any shape.

    Raises
    ------
    InvalidInputError
        If the scale is not positive.
    """
    scale = require_positive("image_scale", image_scale, u.arcsec / u.pix, "Give the sky that one pixel sees.")
    return (scale * u.pix) ** 2 / 12
