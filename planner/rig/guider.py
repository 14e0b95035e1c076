"""The guider: a second camera that watches one star and corrects the mount."""

from dataclasses import dataclass, replace

from astropy import units as u

from planner.checks import plain, quantity
from planner.rig.figures import Figures
from planner.rig.telescope import Telescope

FARTHEST = 5 * u.deg  # that a pick-off may sit from the centre of the field


@dataclass(frozen=True, kw_only=True)
class Guider(Figures):
    """A guide telescope with its camera, or an off-axis pick-off through the main telescope."""

    name: str = plain("text", remedy="Name the guider.")
    aperture: u.Quantity[u.mm] = quantity("mm", at_least=5, at_most=5000,
                                          remedy="Give the clear diameter; off axis, that of the main telescope.")
    focal_length: u.Quantity[u.mm] = quantity("mm", at_least=5, at_most=50000,
                                              remedy="Give the focal length; off axis, that of the main telescope.")
    pixel_pitch: u.Quantity[u.um] = quantity("um", at_least=0.3, at_most=100, remedy="Give the side of one pixel.")
    columns: int = plain("whole", at_least=16, at_most=100000, remedy="Count the pixels along the long side.")
    rows: int = plain("whole", at_least=16, at_most=100000, remedy="Count the pixels along the short side.")
    quantum_efficiency: float = plain("number", default=0.6, at_least=0.01, at_most=1,
                                      remedy="Give electrons per photon, e.g. 0.6.")
    read_noise: u.Quantity[u.electron] = quantity("electron", default="3 electron", at_least=0, at_most=1000,
                                                  remedy="Give the read noise in electrons.")
    transmission: float = plain("number", default=0.8, at_least=0.01, at_most=1,
                                remedy="Give the share of light that reaches the guide camera.")
    latency: u.Quantity[u.s] = quantity("s", default="0.5 s", at_least=0, at_most=30,
                                        meaning="from the end of a guide exposure to the corrected mount",
                                        remedy="Give read-out, computing and the correction together.")
    off_axis: bool = plain("truth", default=False, remedy="Write true for a pick-off in the main telescope.")
    off_axis_offset: u.Quantity[u.deg] = quantity(
        "deg", default="0.5 deg", at_least=0, at_most=FARTHEST.value,
        meaning="distance of the pick-off from the field centre")
    differential_flexure: u.Quantity[u.arcsec / u.h] = quantity(
        "arcsec/h", default="0 arcsec/h", at_least=0, at_most=3600,
        meaning="creep between guider and camera", remedy="Give the creep in arcsec per hour; about 0 off axis.")
    differential_flexure_angle: u.Quantity[u.deg] | None = quantity(
        "deg", default=None, at_least=-360, at_most=360, meaning="where to, from north through east, if known",
        remedy="Give the way in which stars creep from one guided sub to the next, or leave it out.")
    mass: u.Quantity[u.kg] | None = quantity("kg", default=None, more_than=0, at_most=1000)

    def on(self, telescope: Telescope) -> "Guider":
        """Return the guider on a telescope: a pick-off looks through it, at the same place in the focal plane."""
        if not self.off_axis:
            return self
        offset = self.off_axis_offset * (self.focal_length / telescope.focal_length).to_value(u.one)
        return replace(self, aperture=telescope.aperture, focal_length=telescope.focal_length,
                       off_axis_offset=min(offset, FARTHEST))
