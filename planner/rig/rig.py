"""One working combination of telescope, camera, mount, guider and filters."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from astropy import units as u

from planner.checks import plain, quantity
from planner.errors import InvalidInputError
from planner.rig.camera import Camera
from planner.rig.figures import Figures
from planner.rig.filter import Filter
from planner.rig.guider import Guider
from planner.rig.mount import Mount
from planner.rig.reducer import Reducer
from planner.rig.telescope import Telescope

FASTER = 0.5 * u.Hz  # than what rows of a second tell as jitter

@dataclass(frozen=True, kw_only=True)
class Rig(Figures):
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
    pier: str | None = plain(
        "text", default=None, meaning="pier file whose column carries the rig: its sway in the wind is worked out",
        remedy='Write it like pier = "pier.toml".')
    sway: u.Quantity[u.arcsec] = quantity(
        "arcsec", default="0 arcsec", at_least=0, at_most=60,
        meaning="of the pier in your wind, rms per axis")
    sway_from: str | None = plain("other", default=None, meaning="pier file that it is worked out from; None: typed")
    sway_memory: u.Quantity[u.s] = quantity("s", default="10 s", more_than=0, at_most=3600,
                                            meaning="for which the sway resembles itself, as long as gusts last")
    sway_settling_time: u.Quantity[u.s] = quantity("s", default="0 s", at_least=0, at_most=600,
                                                   meaning="of the pier after a slew")
    dither_interval: u.Quantity[u.min] = quantity(
        "min", default="10 min", more_than=0, meaning="clock time from dither to dither (common practice, no source)",
        remedy="Give the time between two dithers, e.g. 10 min.")

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield that there is no filter."""
        if not self.filters:
            yield InvalidInputError("filters", "[]", "must name at least one filter",
                                    "Name one of your [[filter]] tables.")

    def as_read(self) -> "Rig":
        """Return the rig with the pixels that its camera reads: a CCD's own binning makes large ones."""
        if self.camera.register_well is None:
            return self
        return replace(self, camera=self.camera.binned(self.binning), binning=1)

    @property
    def middle_filter(self) -> Filter:
        """The filter whose centre is nearest to the middle of them all."""
        centres = np.array([band.centre.to_value(u.nm) for band in self.filters])
        return self.filters[int(np.argmin(np.abs(centres - (centres.min() + centres.max()) / 2)))]

    @property
    def sway_in_jitter(self) -> u.Quantity[u.arcsec]:
        r"""What of the sway the mount's jitter already holds, rms per axis; 0 unless it was logged on the pier.

        The part faster than a second, as jitter is: :math:`(1 + 10.2\,f L/v)^{-2/3}` of the variance lies above f, with
        L/v the memory over 0.97 (the integral of EN 1991-1-4 eq. B.2, from memory); a log fits the rest as wander.
        """
        if not self.mount.jitter_holds_sway:
            return 0 * u.arcsec
        fast = (1 + 10.2 * FASTER * self.sway_memory / 0.97) ** (-1 / 3)
        return min(fast.to_value(u.one) * self.sway, self.mount.jitter)

    @property
    def jitter(self) -> u.Quantity[u.arcsec]:
        """What is too fast to be a drift: the mount's own jitter and the pier's sway, each once, rms per axis."""
        own, held, sway = (one.to_value(u.arcsec) for one in (self.mount.jitter, self.sway_in_jitter, self.sway))
        return np.sqrt(own**2 - held**2 + sway**2) * u.arcsec

    @property
    def load(self) -> u.Quantity[u.kg]:
        """What the mount carries, of the parts whose mass is known."""
        masses = [None if part is None else part.mass for part in (self.telescope, self.camera, self.guider)]
        return sum((mass for mass in masses if mass is not None), 0 * u.kg)

    @property
    def too_heavy(self) -> str:
        """By what the load is beyond the mount's rating, in words; empty where it is within it or none is known."""
        return over_rating(self.load, self.mount)

    @property
    def load_notes(self) -> tuple[str, ...]:
        """What follows from a load beyond the rating: a line or none."""
        return (f"The load is beyond the mount's rating, {self.too_heavy}: the farther, the less the mount's figures "
                "hold.",) if self.too_heavy else ()

    def overhead(self, exposure: u.Quantity[u.s]) -> u.Quantity[u.s]:
        """Return the clock time lost per sub-exposure of some lengths, same shape.

        Download, and the settling after a dither, spread evenly over the subs between two dithers; subs longer than the
        interval are each followed by one. The interval is one of time, so that short and long subs dither alike.
        """
        download, settling, interval = (
            one.to_value(u.s) for one in (self.camera.download, self.mount.settling_time, self.dither_interval))
        return (download + settling * np.minimum((exposure.to_value(u.s) + download) / interval, 1.0)) * u.s


def over_rating(load: u.Quantity[u.kg], mount: Mount) -> str:
    """Return by what a load is beyond a mount's rating, in words; empty where it is within it or none is known."""
    if mount.payload is None or load <= mount.payload:
        return ""
    return f"at least {load.to_value(u.kg):.1f} kg on a mount rated for {mount.payload.to_value(u.kg):g} kg"
