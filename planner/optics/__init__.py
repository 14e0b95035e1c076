"""How large a star is on this camera, and how motion changes it."""

from planner.optics.contrast import contrast, shortest_period
from planner.optics.diffraction import airy_fwhm, cutoff_frequency
from planner.optics.field import FieldOfView, field_of_view, share_inside
from planner.optics.focus import (
    depth_of_focus,
    focus_shift,
    focus_tolerance,
    refocus_interval,
    seeing_limited_tolerance,
)
from planner.optics.image_scale import image_scale
from planner.optics.moments import AdaptiveMoments, adaptive_moments_batch
from planner.optics.motion_response import MotionEffect, MotionResponse, motion_response
from planner.optics.star_image import StarImage, sigma_from_fwhm, star_image
from planner.optics.still_star import StillStar, still_star

__all__ = [
    "AdaptiveMoments", "FieldOfView", "MotionEffect", "MotionResponse", "StarImage", "StillStar",
    "adaptive_moments_batch", "airy_fwhm", "contrast", "cutoff_frequency", "depth_of_focus", "field_of_view",
    "focus_shift", "focus_tolerance", "image_scale", "motion_response", "refocus_interval",
    "seeing_limited_tolerance", "share_inside", "shortest_period", "sigma_from_fwhm", "star_image", "still_star",
]
