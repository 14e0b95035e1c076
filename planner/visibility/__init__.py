"""When a target is up, the sky is dark and the mount can follow: nights, windows, the meridian, the Moon."""

from planner.visibility.clock import as_date, clock_text, local_time
from planner.visibility.darkness import Night, Twilight, night, sun_altitude
from planner.visibility.earth_rotation import earth_rotation_note, utc_time
from planner.visibility.horizon import skyline
from planner.visibility.lunar import MoonEvents, MoonPlace, lit_share, moon, moon_events
from planner.visibility.meridian import Flip, MeridianPlan, PierStretch, meridian_plan
from planner.visibility.places import Places, altitude_factors, parallactic_angle, places
from planner.visibility.season import SeasonDark, UpHours, season_dark, up_hours
from planner.visibility.target import Target
from planner.visibility.windows import NightWindows, TargetWindow, night_windows, target_window, target_windows

__all__ = [
    "Flip", "MeridianPlan", "MoonEvents", "MoonPlace", "Night", "NightWindows", "PierStretch", "Places", "SeasonDark",
    "Target", "TargetWindow", "Twilight", "UpHours", "altitude_factors", "as_date", "clock_text", "earth_rotation_note",
    "lit_share", "local_time", "meridian_plan", "moon", "moon_events", "night", "night_windows", "parallactic_angle",
    "places", "season_dark", "skyline", "sun_altitude", "target_window", "target_windows", "up_hours", "utc_time",
]
