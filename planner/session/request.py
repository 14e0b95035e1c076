"""What the observer wants of a target: how much through which filter, and how much it matters."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import Model, plain, quantity
from planner.errors import InvalidInputError
from planner.rig import Filter, Rig
from planner.visibility.target import Target

# What to want of a target unless told, in hours. Common practice, no source.
COLOUR_WIDTH, LUMINANCE_WIDTH = 20 * u.nm, 200 * u.nm  # narrower: a narrow band; wider: luminance
HOURS = {  # luminance, each colour, each narrow band
    "lines": (0.0, 0.5, 3.0),  # nebulae that shine in lines; broad bands for the colours of their stars
    "continuum": (3.0, 1.0, 0.0),  # galaxies, clusters, dust
    "unknown": (2.0, 1.0, 2.0),
}
HYDROGEN = 656.3 * u.nm
GALAXY_HYDROGEN = 1.0  # h: a galaxy's own nebulae
_LINE_WORDS = ("emission", "planetary", "supernova remnant", "h ii", "hii", "ionised", "ionized", "nova")
_CONTINUUM_WORDS = ("galax", "cluster", "reflection", "dark", "star", "association")


@dataclass(frozen=True, kw_only=True)
class Need(Model):
    """What is wanted through one filter: hours, or a signal-to-noise ratio on 25 arcsec² of the target's mean surface.

    Hours are *equivalent hours* (see `planner.session.night_plan`): an hour under a bright Moon or low in the sky
    counts for less.
    """

    band: Filter = plain("other")
    hours: u.Quantity[u.h] | None = quantity("h", default=None, at_least=0, at_most=10000,
                                             remedy="Give the hours wanted, e.g. 3 h.")
    signal_to_noise: float | None = plain("number", default=None, more_than=0, at_most=1e6,
                                          remedy="Give a ratio, e.g. 10.")
    done: u.Quantity[u.h] = quantity("h", default="0 h", at_least=0, at_most=10000, remedy="Give the hours done.")

    def __post_init__(self) -> None:
        super().__post_init__()
        if (self.hours is None) == (self.signal_to_noise is None):
            raise InvalidInputError("need", self.band.name, "must be either hours or a signal-to-noise ratio",
                                    "Give one of the two for each filter.")


@dataclass(frozen=True, kw_only=True)
class Request(Model):
    """A target, how much it matters (1 usual, 2 twice as much), and what is wanted of it."""

    target: Target = plain("other")
    priority: float = plain("number", default=1.0, more_than=0, at_most=1000, remedy="Give 1 for a usual target.")
    needs: tuple[Need, ...] = plain("other", default=())

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "needs", tuple(self.needs))
        names = [need.band.name for need in self.needs]
        if not names or len(set(names)) < len(names):
            raise InvalidInputError(f"filters of {self.target.name}", ", ".join(names) or "none",
                                    "must name at least one filter, each once", "Name filters of the rig.")


def default_request(target: Target, rig: Rig, *, priority: float = 1.0) -> Request:
    """Return what one would want of a target with a rig's filters, by what kind of thing it is (`HOURS`)."""
    kind = kind_of_light(target)
    hours = [_default_hours(kind, target, band) for band in rig.filters]
    if not any(hours):
        hours = [HOURS["unknown"][2]] * len(rig.filters)  # no filter fits; use what there is
    return Request(target=target, priority=priority, needs=tuple(
        Need(band=band, hours=wanted * u.h) for band, wanted in zip(rig.filters, hours, strict=True) if wanted > 0))


def kind_of_light(target: Target) -> str:
    """Return lines, continuum or unknown, from the words of the target's kind."""
    kind = target.kind.lower()
    if any(word in kind for word in _LINE_WORDS) or kind in ("nebula", "cluster with nebula", "bright nebula"):
        return "lines"
    return "continuum" if any(word in kind for word in _CONTINUUM_WORDS) else "unknown"


def _default_hours(kind: str, target: Target, band: Filter) -> float:
    luminance, colour, narrow = HOURS[kind]
    if band.width >= LUMINANCE_WIDTH:
        return luminance
    if band.width >= COLOUR_WIDTH:
        return colour
    holds_hydrogen = 2 * np.abs(band.centre - HYDROGEN) <= band.width
    return GALAXY_HYDROGEN if "galax" in target.kind.lower() and holds_hydrogen else narrow
