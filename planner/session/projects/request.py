"""What the observer wants of a target: how much through which filter, and how much it matters."""

from dataclasses import dataclass

from astropy import units as u

from planner.checks import Model, plain, quantity
from planner.errors import InvalidInputError
from planner.rig import Filter
from planner.visibility.target import Target

# Of what the roots of its hours are worth. In simulated seasons 0.5 finished more and left hours and depth behind those
# of nights planned by themselves, 0.1 finished fewer.
COMPLETION = 0.3


@dataclass(frozen=True, kw_only=True)
class Need(Model):
    """What is wanted through one filter: hours, or a signal-to-noise ratio on 25 arcsec² of the target's mean surface.

    Hours are *equivalent hours* (see `planner.session.night.plan`): an hour under a bright Moon or low in the sky
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
    """A target, how much it matters (1 usual, 2 twice as much), and what is wanted of it.

    `completion` is what having all of it is worth, beside all of its hours.
    """

    target: Target = plain("other")
    priority: float = plain("number", default=1.0, more_than=0, at_most=1000, remedy="Give 1 for a usual target.")
    needs: tuple[Need, ...] = plain("other", default=())
    completion: float = plain("number", default=COMPLETION, at_least=0, at_most=1000,
                              remedy="Give 0 if a part is worth as much as its hours, 1 if the whole is worth twice.")

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "needs", tuple(self.needs))
        names = [need.band.name for need in self.needs]
        if not names or len(set(names)) < len(names):
            raise InvalidInputError(f"filters of {self.target.name}", ", ".join(names) or "none",
                                    "must name at least one filter, each once", "Name filters of the rig.")
