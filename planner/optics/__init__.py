"""How large a star is on this camera, and how motion changes it."""

from planner.optics.diffraction import airy_fwhm, cutoff_frequency, first_dark_ring, open_share
from planner.optics.field import FieldOfView, field_of_view, share_inside
from planner.optics.focus import (
    defocus_blur,
    defocus_strehl,
    defocus_wavefront,
    depth_of_focus,
    focus_shift,
    focus_tolerance,
    refocus_interval,
    seeing_limited_tolerance,
)
from planner.optics.image_scale import image_scale
from planner.optics.moments import AdaptiveMoments, adaptive_moments, adaptive_moments_batch
from planner.optics.motion_response import MotionEffect, MotionResponse, motion_response
from planner.optics.sampling import Sampling, nyquist_image_scale, pixel_variance, sampling
from planner.optics.star_image import StarImage, fwhm_from_sigma, sigma_from_fwhm, star_image
from planner.optics.still_star import StillStar, still_star

__all__ = [
    "AdaptiveMoments", "FieldOfView", "MotionEffect", "MotionResponse", "Sampling", "StarImage", "StillStar",
    "adaptive_moments", "adaptive_moments_batch", "airy_fwhm", "cutoff_frequency", "defocus_blur", "defocus_strehl",
    "defocus_wavefront", "depth_of_focus", "field_of_view", "first_dark_ring", "focus_shift", "focus_tolerance",
    "fwhm_from_sigma", "image_scale", "motion_response", "nyquist_image_scale", "open_share", "pixel_variance",
    "refocus_interval", "sampling", "seeing_limited_tolerance", "share_inside", "sigma_from_fwhm", "star_image",
    "still_star",
]
