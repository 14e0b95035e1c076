"""What the air and the night do to light: airmass, refraction, extinction, seeing, and how bright the sky is."""

from planner.sky.airmass import (
    absolute_airmass,
    airmass,
    airmass_from_true,
    airmass_hardie,
    airmass_pickering,
    airmass_rozenberg,
    scattering_airmass,
)
from planner.sky.brightness import (
    BORTLE_NAKED_EYE,
    NANOLAMBERT,
    bortle_class,
    brightness_from_nanolambert,
    brightness_sum,
    contrast,
    luminance,
    mean_surface_brightness,
    naked_eye_limit,
    nanolambert,
)
from planner.sky.dark_sky import DARK_SKIES, dark_sky
from planner.sky.extinction import extinction, rayleigh_extinction, transmission
from planner.sky.moonlight import moonlight, moonlight_at
from planner.sky.refraction import RefractionConstants, refraction, refraction_constants, refraction_from_true
from planner.sky.seeing import fried_parameter, outer_scale_factor, seeing, seeing_from_fried
from planner.sky.total import sky_brightness
from planner.sky.twilight import twilight, twilight_glow

__all__ = [
    "BORTLE_NAKED_EYE", "DARK_SKIES", "NANOLAMBERT", "RefractionConstants", "absolute_airmass", "airmass",
    "airmass_from_true", "airmass_hardie", "airmass_pickering", "airmass_rozenberg", "bortle_class",
    "brightness_from_nanolambert", "brightness_sum", "contrast", "dark_sky", "extinction", "fried_parameter",
    "luminance", "mean_surface_brightness", "moonlight", "moonlight_at", "naked_eye_limit", "nanolambert",
    "outer_scale_factor", "rayleigh_extinction", "refraction", "refraction_constants", "refraction_from_true",
    "scattering_airmass", "seeing", "seeing_from_fried", "sky_brightness", "transmission", "twilight",
    "twilight_glow",
]
