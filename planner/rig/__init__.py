"""What the observer owns, as frozen dataclasses that check themselves once, when built.

The limits are those of physics and of what can be made, wide of anything in use: a slip of units is refused (an
aperture of 1e-6 mm, a pixel below the wavelength of light, a seeing better than the best sites ever have), a strange
rig is not.
"""

from planner.rig.camera import Camera
from planner.rig.equipment import Equipment
from planner.rig.filter import Filter
from planner.rig.guider import Guider
from planner.rig.mount import Mount, PeriodicTerm
from planner.rig.reducer import Reducer
from planner.rig.rig import Rig
from planner.rig.site import HorizonProfile, Site, clock_problem
from planner.rig.telescope import Telescope

__all__ = [
    "Camera", "Equipment", "Filter", "Guider", "HorizonProfile", "Mount", "PeriodicTerm", "Reducer", "Rig",
    "Site", "Telescope", "clock_problem",
]
