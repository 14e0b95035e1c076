"""The camera: its pixels, its noise and its limits."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import get_args

from astropy import units as u

from planner.checks import plain, quantity
from planner.errors import InvalidInputError
from planner.rig.choices import SensorColour
from planner.rig.figures import Figures


@dataclass(frozen=True, kw_only=True)
class Camera(Figures):
    """A camera in one setting of its gain; write it twice under two names for two settings."""

    name: str = plain("text", remedy="Name the camera.")
    pixel_pitch: u.Quantity[u.um] = quantity("um", at_least=0.3, at_most=100, meaning="centre to centre",
                                             remedy="Give the side of one pixel.")
    columns: int = plain("whole", at_least=16, at_most=100000, remedy="Count the pixels along the long side.")
    rows: int = plain("whole", at_least=16, at_most=100000, remedy="Count the pixels along the short side.")
    quantum_efficiency: float = plain("number", at_least=0.01, at_most=1, meaning="at the filters' wavelengths",
                                      remedy="Give electrons per photon, e.g. 0.8.")
    response: tuple[tuple[float, float], ...] = plain("other", default=(),
                                                      meaning="(nm, electrons per photon), ascending; "
                                                              "quantum_efficiency is its highest")
    read_noise: u.Quantity[u.electron] = quantity("electron", at_least=0, at_most=1000, meaning="rms per read",
                                                  remedy="Give the read noise in electrons at the gain in use.")
    full_well: u.Quantity[u.electron] = quantity("electron", at_least=100, at_most=1e8,
                                                 remedy="Give the electrons at which a pixel stops being linear.")
    register_well: u.Quantity[u.electron] | None = quantity(
        "electron", default=None, at_least=100, at_most=1e8,
        meaning="that binned charges may fill, of a CCD that adds them before the read; absent: added in software",
        remedy="Give the electrons that the sensor's output register holds.")
    gain: u.Quantity[u.electron / u.adu] = quantity("electron/adu", more_than=0, at_most=1e4,
                                                    remedy="Give electrons per digital unit.")
    bit_depth: int = plain("whole", default=16, at_least=8, at_most=32, remedy="Give the bits of the converter.")
    dark_current: u.Quantity[u.electron / u.s] = quantity(
        "electron/s", default="0 electron/s", at_least=0, at_most=1e4, meaning="per pixel, at dark_temperature",
        remedy="Give electrons per second and pixel at dark_temperature.")
    dark_temperature: u.Quantity[u.deg_C] = quantity("deg_C", default="-10 deg_C", at_least=-150, at_most=60,
                                                     meaning="at which dark_current holds")
    dark_doubling: u.Quantity[u.K] = quantity("K", default="6 K", at_least=1, at_most=20,
                                              meaning="warming that doubles the dark current (common practice)",
                                              remedy="Give the warming that doubles the dark current, in K.")
    sensor_temperature: u.Quantity[u.deg_C] | None = quantity(
        "deg_C", default=None, at_least=-150, at_most=60, meaning="as operated; dark_temperature if absent")
    download: u.Quantity[u.s] = quantity("s", default="2 s", at_least=0, at_most=600, meaning="from shutter to next",
                                         remedy="Give the time between the end of a frame and the next start.")
    colour: SensorColour = plain("choice", default="mono", choices=get_args(SensorColour),
                        remedy="Write mono, or bayer for a colour-filter array.")
    back_focus: u.Quantity[u.mm] | None = quantity(
        "mm", default=None, at_least=0, at_most=1000,
        meaning="that it needs in front of the sensor, filter wheel and adapters included")
    mass: u.Quantity[u.kg] | None = quantity("kg", default=None, more_than=0, at_most=1000)

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield that charges under different colours would be added."""
        if self.register_well is not None and self.colour != "mono":
            yield InvalidInputError("register_well", self.register_well, "must belong to a mono sensor: under a "
                                    "colour-filter array binned charges mix the colours", "Leave it out.")

    def binned(self, binning: int) -> "Camera":
        """Return the camera of the large pixels that a sensor reads when it adds charges itself.

        They are read once: read noise, rounding and the converter's range stay those of one read, where adding
        `binning`² pixels in software adds as many reads. The register fills before as many full wells.
        """
        if binning == 1 or self.register_well is None:
            return self
        return replace(
            self, pixel_pitch=self.pixel_pitch * binning, columns=self.columns // binning, rows=self.rows // binning,
            full_well=min(self.full_well * binning**2, self.register_well),
            dark_current=self.dark_current * binning**2)
