"""When a target is up, the sky is dark and the mount can follow: nights, windows, the meridian, the Moon."""

from planner.visibility.earth_rotation import earth_rotation_note, utc_time  # first: the offline settings
from planner.visibility.clock import as_date, clock_text, local_time  # isort: skip
from planner.visibility.darkness import Night, Twilight, night
from planner.visibility.moon import MoonEvents, MoonPlace, moon, moon_events
from planner.visibility.target import Target

__all__ = [
    "MoonEvents", "MoonPlace", "Night", "Target", "Twilight", "as_date", "clock_text", "earth_rotation_note", "local_time", "moon", "moon_events",
    "night", "utc_time",
]
