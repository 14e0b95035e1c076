"""How the mount follows the sky: drift, drive errors, pointing model, guiding."""

from planner.tracking.budget import BudgetTerm, motion_budget, track_hour_angles
from planner.tracking.drift import SmoothTrack, guided_track, smooth_track
from planner.tracking.drive import encoder_step, sidereal_rate, step_rms
from planner.tracking.guiding import GuideLoop, GuideLoops, guide_loops, guide_star_noise
from planner.tracking.moments.exposure_window import ExposureMotion, exposure_motion
from planner.tracking.pointing_model import PointingTerms, PolarError, polar_error
from planner.tracking.polar_axis import polar_offset, refracted_pole
from planner.tracking.seeing_motion import ImageMotion, image_motion

__all__ = [
    "BudgetTerm", "ExposureMotion", "GuideLoop", "GuideLoops", "ImageMotion", "PointingTerms", "PolarError",
    "SmoothTrack", "encoder_step", "exposure_motion", "guide_loops", "guide_star_noise", "guided_track", "image_motion",
    "motion_budget", "polar_error", "polar_offset", "refracted_pole", "sidereal_rate", "smooth_track", "step_rms",
    "track_hour_angles",
]
