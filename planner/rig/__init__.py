"""What the observer owns, as frozen dataclasses that check themselves once, when built."""

from planner.rig.camera import Camera
from planner.rig.equipment import Equipment
from planner.rig.filter import Filter
from planner.rig.guider import Guider
from planner.rig.mount import Mount, PeriodicTerm
from planner.rig.reducer import Reducer
from planner.rig.rig import Rig
from planner.rig.site import HorizonProfile, Site
from planner.rig.telescope import Telescope

__all__ = [
    "Camera", "Equipment", "Filter", "Guider", "HorizonProfile", "Mount", "PeriodicTerm", "Reducer", "Rig",
    "Site", "Telescope",
]
