"""From photons to a verdict: rates, noise, saturation, how long a sub-exposure, and whether to guide."""

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
from planner.exposure.speed import SUB_LADDER, SpeedCurve, speed
from planner.exposure.star_counts import expected_guide_star, star_density

__all__ = [
    "PIXEL_RATE", "SUB_LADDER", "RecordedBand", "SpeedCurve", "dark_rate", "expected_guide_star",
    "exposure_where_read_noise_adds", "line_electron_rate", "magnitude_error", "photon_zero_point", "pixel_area",
    "recorded_band", "saturated_stars", "saturation_limit", "saturation_magnitude", "signal_needed", "signal_to_noise",
    "sky_electron_rate", "speed", "star_density", "star_electron_rate", "surface_electron_rate", "total_read_noise",
]
