"""From photons to a verdict: rates, noise, saturation, how long a sub-exposure, and whether to guide."""

from planner.exposure.changes import Change
from planner.exposure.guide_need import GuideNeed, guide_need
from planner.exposure.guide_star import GuideStar, expected_star
from planner.exposure.integration import (
    Integration,
    faintest_brightness,
    faintest_line,
    integration_time,
    signal_to_noise_after,
)
from planner.exposure.noise import (
    PIXEL_RATE,
    dark_rate,
    exposure_where_read_noise_adds,
    magnitude_error,
    signal_needed,
    signal_to_noise,
    total_read_noise,
)
from planner.exposure.photons import (
    RecordedBand,
    line_electron_rate,
    photon_zero_point,
    pixel_area,
    recorded_band,
    sky_electron_rate,
    star_electron_rate,
    surface_electron_rate,
)
from planner.exposure.saturation import saturated_stars, saturation_limit, saturation_magnitude
from planner.exposure.scene import Scene, observing_scene, with_mount
from planner.exposure.speed import SUB_LADDER, SpeedCurve, speed
from planner.exposure.star_counts import expected_guide_star, star_density
from planner.exposure.star_motion import StarMotion, guided_motion, unguided_motion
from planner.exposure.sub_exposure import SubExposure, kept, perfect_speed, recommend_sub_exposure

__all__ = [
    "PIXEL_RATE", "SUB_LADDER", "Change", "GuideNeed", "GuideStar", "Integration", "RecordedBand", "Scene",
    "SpeedCurve", "StarMotion", "SubExposure", "dark_rate", "expected_guide_star", "expected_star",
    "exposure_where_read_noise_adds", "faintest_brightness", "faintest_line", "guide_need", "guided_motion",
    "integration_time", "kept", "line_electron_rate", "magnitude_error", "observing_scene", "perfect_speed",
    "photon_zero_point", "pixel_area",
    "recommend_sub_exposure", "recorded_band", "saturated_stars", "saturation_limit", "saturation_magnitude",
    "signal_needed", "signal_to_noise", "signal_to_noise_after", "sky_electron_rate", "speed", "star_density",
    "star_electron_rate", "surface_electron_rate", "total_read_noise", "unguided_motion", "with_mount",
]
