"""A target: where it is on the sky, how large and how bright; many of them as columns."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import Model, plain, quantity
from planner.errors import InvalidInputError
from planner.visibility.kernels.orbit import Orbit


@dataclass(frozen=True)
class Target(Model):
    """A place on the sky, ICRS (epoch 2000.0), with what a catalogue knows about it.

    One with an orbit moves: `moving_targets.placed` gives its place and pace on a night.
    """

    name: str = plain("text", meaning="of the target", remedy="Name the target.")
    ra: u.Quantity[u.deg] = quantity("deg", at_least=0, less_than=360, meaning="right ascension, ICRS",
                                     remedy="Give the right ascension, 0 to 360 deg; 1 h is 15 deg.")
    dec: u.Quantity[u.deg] = quantity("deg", at_least=-90, at_most=90, meaning="declination, ICRS",
                                      remedy="Give the declination, south negative.")
    kind: str = plain("other", default="", meaning="what it is, in words")
    size_major: u.Quantity[u.arcmin] | None = quantity("arcmin", default=None, more_than=0, at_most=10800,
                                                       remedy="Give the larger diameter on the sky.")
    size_minor: u.Quantity[u.arcmin] | None = quantity("arcmin", default=None, more_than=0, at_most=10800,
                                                       remedy="Give the smaller diameter on the sky.")
    position_angle: u.Quantity[u.deg] | None = quantity("deg", default=None, at_least=-360, at_most=360,
                                                        meaning="of the major axis, from north through east")
    magnitude: u.Quantity[u.mag] | None = quantity("mag", default=None, at_least=-30, at_most=40,
                                                   meaning="integrated, V or the band nearest to it")
    surface_brightness: u.Quantity[u.mag / u.arcsec**2] | None = quantity(
        "mag/arcsec2", default=None, at_least=5, at_most=35, meaning="mean over the object, V",
        remedy="Give magnitudes per square arcsecond.")
    line_brightness: u.Quantity[u.R] | None = quantity(
        "R", default=None, more_than=0, at_most=1e6, meaning="mean H-alpha over the object", remedy="Give rayleigh.")
    common_name: str = plain("other", default="")
    size_from: str = plain("other", default="", meaning="where the size comes from")
    size_elsewhere: str = plain("other", default="", meaning="what other catalogues give that differ much, arcmin")
    camera_angle: u.Quantity[u.deg] | None = quantity("deg", default=None, at_least=-360, at_most=360,
                                                      meaning="of a panel: position angle of the frame's height")
    brightness_from: str = plain("other", default="", meaning="band of the magnitude, and how V was had from it")
    orbit: Orbit | None = plain("other", default=None, meaning="of a comet or a minor planet")
    motion_ra: u.Quantity[u.arcsec / u.h] = quantity("arcsec/h", default="0 arcsec/h",
                                                     meaning="own motion to the east, true on the sky")
    motion_dec: u.Quantity[u.arcsec / u.h] = quantity("arcsec/h", default="0 arcsec/h", meaning="and to the north")

    @property
    def motion(self) -> u.Quantity[u.arcsec / u.h]:
        """Own motion to the east and north, true on the sky, (2,)."""
        return u.Quantity([self.motion_ra, self.motion_dec])

    def __post_init__(self) -> None:
        super().__post_init__()
        for name in ("kind", "common_name", "size_from", "size_elsewhere", "brightness_from"):
            text = getattr(self, name)
            if not isinstance(text, str):
                raise InvalidInputError(name, text, "must be a text", "Leave it out if there is none.")
            object.__setattr__(self, name, text.strip())
        for name in ("ra", "dec"):
            if getattr(self, name).ndim:
                raise InvalidInputError(name, getattr(self, name), "must be one value",
                                        "Make one Target for each place.")
        if self.size_major is None and self.size_minor is not None:
            raise InvalidInputError("size_minor", self.size_minor, "needs the larger diameter beside it",
                                    "Give size_major as well.")
        if self.size_major is not None and self.size_minor is not None and self.size_minor > self.size_major:
            raise InvalidInputError("size_minor", self.size_minor, "must not exceed size_major",
                                    f"size_major is {self.size_major:g}; check both.")


@dataclass(frozen=True)
class SkyObjects:
    """Many objects as columns, (n,) each; NaN where the catalogue knows nothing."""

    name: np.ndarray
    common_name: np.ndarray
    kind: np.ndarray
    ra: u.Quantity[u.deg]
    dec: u.Quantity[u.deg]
    size_major: u.Quantity[u.arcmin]
    size_minor: u.Quantity[u.arcmin]
    magnitude: u.Quantity[u.mag]
    surface_brightness: u.Quantity[u.mag / u.arcsec**2]
    line_brightness: u.Quantity[u.R]  # H-alpha

    def __len__(self) -> int:
        return len(self.name)

    def chosen(self, keep: np.ndarray) -> "SkyObjects":
        """Return some of the objects, by number or by truth value."""
        return SkyObjects(**{name: values[keep] for name, values in vars(self).items()})
