"""A reducer or an extender: a lens between telescope and camera that changes the focal length."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from astropy import units as u

from planner.checks import plain, quantity
from planner.errors import InvalidInputError
from planner.rig.figures import Figures
from planner.rig.telescope import Telescope


@dataclass(frozen=True, kw_only=True)
class Reducer(Figures):
    """A lens that multiplies the focal length of the telescopes it fits."""

    name: str = plain("text", remedy="Name the reducer.")
    factor: float = plain("number", at_least=0.1, at_most=10,
                          meaning="of the focal length; an extender has more than 1",
                          remedy="Give focal length with it over focal length without, e.g. 0.8.")
    transmission: float = plain("number", default=0.95, at_least=0.01, at_most=1,
                                remedy="Give the share of light that passes its lenses.")
    optical_blur: u.Quantity[u.arcsec] = quantity("arcsec", default="0 arcsec", at_least=0, at_most=60,
                                                  meaning="FWHM of the aberrations it adds",
                                                  remedy="Give the blur as a full width at half maximum.")
    image_circle: u.Quantity[u.mm] | None = quantity("mm", default=None, at_least=1, at_most=1000,
                                                     meaning="diameter that it lights well, at the sensor",
                                                     remedy="Give the diameter of the well-image circle.")
    back_focus: u.Quantity[u.mm] | None = quantity("mm", default=None, at_least=1, at_most=1000,
                                                   meaning="from its lens to the sensor, at which the factor holds")
    telescopes: tuple[Telescope, ...] = plain("other", default=(), meaning="that it fits; all if absent")

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield telescopes that are none."""
        if not all(isinstance(telescope, Telescope) for telescope in self.telescopes):
            yield InvalidInputError("telescopes", self.telescopes, "must be telescopes",
                                    "Name some of your [[telescope]] tables.")

    def fits(self, telescope: Telescope) -> bool:
        """Return whether it goes onto this telescope."""
        return not self.telescopes or telescope.name in {item.name for item in self.telescopes}

    def behind(self, telescope: Telescope) -> Telescope:
        """Return the telescope as it works with this lens: focal length, light, blur and image circle changed.

        Both blurs are Gaussians, whose widths add in squares. The telescope's own image circle shrinks or grows with
        the image; the tube that expands stays as long as it is.
        """
        circles = [circle for circle in (self.image_circle, _times(telescope.image_circle, self.factor))
                   if circle is not None]
        return replace(
            telescope, name=f"{telescope.name} with {self.name}", focal_length=telescope.focal_length * self.factor,
            transmission=telescope.transmission * self.transmission,
            optical_blur=np.hypot(telescope.optical_blur, self.optical_blur), tube_length=telescope.expanding_length,
            corner_blur=None if telescope.corner_blur is None else np.hypot(telescope.corner_blur, self.optical_blur),
            image_circle=min(circles, default=None))


def _times(circle: u.Quantity | None, factor: float) -> u.Quantity | None:
    return None if circle is None else circle * factor
