"""From photons to a verdict: rates, noise, saturation, how long a sub-exposure, and whether to guide."""

from planner.exposure.changes import Change
from planner.exposure.guide_need import GuideNeed, guide_need
from planner.exposure.guide_star import GuideStar, expected_star
from planner.exposure.integration import Integration, faintest_brightness, faintest_line, integration_time
from planner.exposure.light.noise import PIXEL_RATE, dark_rate, signal_needed, signal_to_noise, total_read_noise
from planner.exposure.light.photons import LightPath
from planner.exposure.light.recorded_band import RecordedBand, recorded_band, recorded_bands
from planner.exposure.light.saturation import saturated_stars, saturation_limit, saturation_magnitude
from planner.exposure.scene import Scene, observing_scene, with_mount
from planner.exposure.speed import SUB_LADDER, SpeedCurve, speed
from planner.exposure.star_motion import StarMotion, guided_motion, unguided_motion
from planner.exposure.sub_exposure import SubExposure, perfect_speed

__all__ = [
    "PIXEL_RATE", "SUB_LADDER", "Change", "GuideNeed", "GuideStar", "Integration", "LightPath", "RecordedBand", "Scene",
    "SpeedCurve", "StarMotion", "SubExposure", "dark_rate", "expected_star",
    "faintest_brightness", "faintest_line", "guide_need", "guided_motion", "integration_time",
    "observing_scene", "perfect_speed", "recorded_band", "recorded_bands",
    "saturated_stars", "saturation_limit", "saturation_magnitude", "signal_needed", "signal_to_noise",
    "speed", "total_read_noise",
    "unguided_motion", "with_mount",
]
