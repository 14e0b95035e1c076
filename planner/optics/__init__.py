"""How large a star is on this camera, and how motion changes it."""

from planner.optics.image_scale import image_scale
from planner.optics.motion_response import MotionEffect, MotionResponse, motion_response
from planner.optics.star_image import StarImage, fwhm_from_sigma, sigma_from_fwhm, star_image

__all__ = [
    "MotionEffect", "MotionResponse", "StarImage", "fwhm_from_sigma", "image_scale", "motion_response",
    "sigma_from_fwhm", "star_image",
]
