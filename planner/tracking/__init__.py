"""How the mount follows the sky: drift, drive errors, pointing model, guiding."""

from planner.tracking.budget import BudgetTerm, motion_budget, track_hour_angles
from planner.tracking.drift import SmoothTrack, guided_track, smooth_track
from planner.tracking.drive import encoder_step, king_rate, sidereal_rate, step_rms
from planner.tracking.exposure_window import ExposureMotion, exposure_motion
from planner.tracking.flexure import flexure_track
from planner.tracking.guiding import GuideLoop, guide_loop, guide_star_noise
from planner.tracking.pointing_model import (
    Direction,
    PointingTerms,
    PolarError,
    mount_from_sky,
    polar_error,
    sky_from_mount,
)
from planner.tracking.polar_axis import polar_offset, refracted_pole
from planner.tracking.seeing_motion import ImageMotion, image_motion

__all__ = [
    "BudgetTerm", "Direction", "ExposureMotion", "GuideLoop", "ImageMotion", "PointingTerms", "PolarError",
    "SmoothTrack", "encoder_step", "exposure_motion", "flexure_track", "guide_loop", "guide_star_noise",
    "guided_track", "image_motion", "king_rate", "motion_budget", "mount_from_sky", "polar_error", "polar_offset",
    "refracted_pole", "sidereal_rate", "sky_from_mount", "smooth_track", "step_rms", "track_hour_angles",
]
