"""A filter: where it passes light and how much of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from astropy import units as u

from planner.checks import plain, quantity
from planner.errors import InvalidInputError
from planner.rig.figures import Figures

LINE_WIDTH = 20 * u.nm  # narrower: a filter that is made for emission lines


@dataclass(frozen=True, kw_only=True)
class Filter(Figures):
    """A pass-band: a box of centre, full width and transmission inside it, or a curve."""

    name: str = plain("text", remedy="Name the filter.")
    centre: u.Quantity[u.nm] = quantity("nm", at_least=300, at_most=1100, remedy="Give the central wavelength.")
    width: u.Quantity[u.nm] = quantity("nm", at_least=0.05, at_most=800, meaning="full width at half maximum",
                                       remedy="Give the full width at half maximum.")
    transmission: float = plain("number", default=0.95, at_least=0.001, at_most=1,
                                remedy="Give the share of light that passes at the centre.")
    diameter: u.Quantity[u.mm] | None = quantity("mm", default=None, at_least=1, at_most=1000,
                                                 meaning="clear; wide enough if absent")
    distance: u.Quantity[u.mm] = quantity("mm", default="25 mm", at_least=0, at_most=1000, meaning="from the sensor")
    curve: tuple[tuple[float, float], ...] = plain("other", default=(), meaning="(nm, share that passes), ascending")

    @cached_property
    def narrow(self) -> bool:
        """Whether it is made for emission lines: of a curve, by the light that a window of it passes on average."""
        if not self.curve:
            return bool(self.width < LINE_WIDTH)
        wavelength, share = np.array(self.curve).T
        return bool(np.trapezoid(share, wavelength) < len(self.windows) * LINE_WIDTH.value * share.max())

    @property
    def windows(self) -> u.Quantity[u.nm]:
        """Between which wavelengths at least half of its best passes: shape (n, 2), ascending."""
        if not self.curve:
            return self.centre + self.width * [[-0.5, 0.5]]
        wavelength, share = np.array(self.curve).T
        above = share - share.max() / 2
        turns = np.flatnonzero(np.diff(above >= 0))
        edges = wavelength[turns] - above[turns] * np.diff(wavelength)[turns] / np.diff(above)[turns]
        ends = [wavelength[[place]] if above[place] >= 0 else [] for place in (0, -1)]
        return np.concatenate([ends[0], edges, ends[1]]).reshape(-1, 2) * u.nm

    def passes(self, line: u.Quantity[u.nm]) -> bool:
        """Return whether a wavelength, scalar, lies in a window."""
        return bool(np.any((self.windows[:, 0] <= line) & (line <= self.windows[:, 1])))

    def line_near(self, wavelength: u.Quantity[u.nm]) -> u.Quantity[u.nm]:
        """Return a wavelength, scalar, that a window passes; else the middle of the widest, of equals the redder."""
        if self.passes(wavelength):
            return wavelength
        return max(self.windows, key=lambda window: (np.round(np.ptp(window).value, 3), window[0].value)).mean()

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield a width that no wavelength leaves room for."""
        if self.width >= 2 * self.centre:
            yield InvalidInputError("width", self.width, "must be less than twice the central wavelength",
                                    "Give the full width at half maximum in nm.")
