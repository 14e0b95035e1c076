"""One working combination of telescope, camera, mount, guider and filters."""

from dataclasses import dataclass

from astropy import units as u

from planner.checks import Model, plain
from planner.errors import InvalidInputError
from planner.rig.camera import Camera
from planner.rig.filter import Filter
from planner.rig.guider import Guider
from planner.rig.mount import Mount
from planner.rig.reducer import Reducer
from planner.rig.telescope import Telescope


@dataclass(frozen=True, kw_only=True)
class Rig(Model):
    """What stands on the pier tonight; the telescope is the one as it works, behind the reducer if there is one."""

    name: str = plain("text", remedy="Name the rig.")
    telescope: Telescope = plain("other")
    camera: Camera = plain("other")
    mount: Mount = plain("other")
    guider: Guider | None = plain("other", default=None, optional=True)
    reducer: Reducer | None = plain("other", default=None, optional=True, meaning="a reducer or an extender")
    filters: tuple[Filter, ...] = plain("other", default=())
    binning: int = plain("whole", default=1, at_least=1, at_most=8, remedy="Give 1, 2, 3 or 4.")
    tolerated_axis_ratio: float = plain(
        "number", default=0.90, more_than=0, less_than=1,
        meaning="smallest minor over major axis of a star to keep (common practice, no source)",
        remedy="Give minor over major axis, e.g. 0.9.")
    tolerated_growth: float = plain(
        "number", default=0.20, more_than=0, at_most=5,
        meaning="largest growth of the FWHM beyond the typical sub's (common practice, no source)",
        remedy="Give the share, e.g. 0.2.")
    dither_every: int = plain("whole", default=3, at_least=1, at_most=1000, meaning="sub-exposures per dither",
                              remedy="Give the number of sub-exposures between dithers.")

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "filters", tuple(self.filters))
        if not self.filters:
            raise InvalidInputError("filters", "[]", "must name at least one filter",
                                    "Name one of your [[filter]] tables.")

    @property
    def overhead(self) -> u.Quantity[u.s]:
        """Clock time lost per sub-exposure: download, and dither with settling, spread over the subs between."""
        return self.camera.download + self.mount.settle / self.dither_every
