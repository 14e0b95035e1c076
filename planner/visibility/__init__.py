"""When a target is up, the sky is dark and the mount can follow: nights, windows, the meridian, the Moon."""

from planner.visibility.target import Target

__all__ = ["Target"]
