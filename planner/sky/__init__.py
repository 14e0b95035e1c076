"""What the air and the night do to light: airmass, refraction, extinction, seeing, and how bright the sky is."""

from planner.sky.airmass import airmass
from planner.sky.brightness import mean_surface_brightness
from planner.sky.extinction import extinction
from planner.sky.moonlight import moonlight
from planner.sky.refraction import RefractionConstants, refraction_constants, refraction_from_true
from planner.sky.seeing import seeing
from planner.sky.star_counts import expected_guide_star
from planner.sky.total import sky_brightness

__all__ = [
    "RefractionConstants", "airmass", "expected_guide_star", "extinction", "mean_surface_brightness", "moonlight",
    "refraction_constants", "refraction_from_true", "seeing", "sky_brightness",
]
