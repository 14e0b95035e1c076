"""The optics in front of the camera."""

from collections.abc import Iterator
from dataclasses import dataclass

from astropy import units as u

from planner.checks import plain, quantity
from planner.errors import InvalidInputError
from planner.rig.figures import Figures


@dataclass(frozen=True, kw_only=True)
class Telescope(Figures):
    """A telescope as used: reducer, corrector or extender included."""

    name: str = plain("text", remedy="Name the telescope.")
    aperture: u.Quantity[u.mm] = quantity("mm", at_least=5, at_most=5000, meaning="clear diameter",
                                          remedy="Give the clear diameter of the entrance pupil.")
    focal_length: u.Quantity[u.mm] = quantity("mm", at_least=5, at_most=50000, meaning="with what always stays on it",
                                              remedy="Give the focal length; a reducer comes on top.")
    obstruction: float = plain("number", default=0.0, at_least=0, less_than=0.9, meaning="share of the diameter",
                               remedy="Give the central obstruction as a share of the diameter, 0 if none.")
    transmission: float = plain("number", default=0.9, at_least=0.01, at_most=1, meaning="all surfaces together",
                                remedy="Give the share of light that passes all mirrors and lenses.")
    optical_blur: u.Quantity[u.arcsec] = quantity("arcsec", default="0 arcsec", at_least=0, at_most=60,
                                                  meaning="FWHM of aberrations and focus error",
                                                  remedy="Give the blur as a full width at half maximum.")
    corner_blur: u.Quantity[u.arcsec] | None = quantity("arcsec", default=None, at_least=0, at_most=60,
                                                        meaning="the same in the corner of the picture, as a test "
                                                                "frame shows it; as in the middle if absent",
                                                        remedy="Give the blur as a full width at half maximum.")
    expansion: u.Quantity[1 / u.K] = quantity("1/K", default="23.1e-6 1/K", at_least=0, at_most=1e-4,
                                              meaning="thermal expansion of the tube; aluminium if absent")
    tube_length: u.Quantity[u.mm] | None = quantity("mm", default=None, at_least=5, at_most=50000,
                                                    meaning="between objective and focus; focal length if absent")
    image_circle: u.Quantity[u.mm] | None = quantity("mm", default=None, at_least=1, at_most=1000,
                                                     meaning="diameter that it lights well, at the sensor",
                                                     remedy="Give the diameter of the well-image circle.")
    back_focus: u.Quantity[u.mm] | None = quantity(
        "mm", default=None, at_least=0, at_most=5000,
        meaning="from its last part, the focuser all the way in, to its focus without any lens")
    mass: u.Quantity[u.kg] | None = quantity("kg", default=None, more_than=0, at_most=10000)

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield a focal ratio that no optics have."""
        if self.focal_ratio < 0.5:
            yield InvalidInputError("focal_length", self.focal_length, "must be at least half the aperture",
                                    f"With aperture {self.aperture:g} that is f/{self.focal_ratio:.2f}; check both.")

    @property
    def focal_ratio(self) -> float:
        """Focal length over aperture, f/N."""
        return float((self.focal_length / self.aperture).to_value(u.one))

    @property
    def field_blur(self) -> u.Quantity[u.arcsec]:
        """Blur over the whole picture, root of the mean square: √((2 b² + c²)/3) of middle b and corner c.

        Its square is taken to grow with the square of the distance from the middle, whose mean over a rectangle is a
        third of that in its corner.
        """
        if self.corner_blur is None:
            return self.optical_blur
        return ((2 * self.optical_blur**2 + self.corner_blur**2) / 3) ** 0.5

    @property
    def expanding_length(self) -> u.Quantity[u.mm]:
        """From objective to focus: the tube's length, the focal length where that is not given."""
        return self.focal_length if self.tube_length is None else self.tube_length

    @property
    def collecting_area(self) -> u.Quantity[u.m**2]:
        """Area of the aperture without the obstruction: π/4 (D² − d²)."""
        import math

        return math.pi / 4 * self.aperture.to_value(u.m) ** 2 * (1 - self.obstruction**2) * u.m**2
