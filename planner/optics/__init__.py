"""How large a star is on this camera, and how motion changes it."""

from planner.optics.image_scale import image_scale
from planner.optics.star_image import StarImage, fwhm_from_sigma, sigma_from_fwhm, star_image

__all__ = ["StarImage", "fwhm_from_sigma", "image_scale", "sigma_from_fwhm", "star_image"]
