"""When a target is up, the sky is dark and the mount can follow: nights, windows, the meridian, the Moon."""

from planner.visibility.clock import as_date, clock_text, local_time
from planner.visibility.darkness import Night, Twilight, night
from planner.visibility.earth_rotation import earth_rotation_note, utc_time
from planner.visibility.horizon import skyline
from planner.visibility.lunar import MoonEvents, MoonPlace, moon, moon_events
from planner.visibility.target import Target
from planner.visibility.windows import NightWindows, TargetWindow, night_windows, target_window

__all__ = [
    "MoonEvents", "MoonPlace", "Night", "NightWindows", "Target", "TargetWindow", "Twilight", "as_date", "clock_text",
    "earth_rotation_note", "local_time", "moon", "moon_events", "night", "night_windows", "skyline", "target_window",
    "utc_time",
]
