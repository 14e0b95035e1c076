"""What the observer wants of a target: how much through which filter, and how much it matters."""

from dataclasses import dataclass

from astropy import units as u

from planner.checks import Model, plain, quantity
from planner.errors import InvalidInputError
from planner.rig import Filter
from planner.visibility.target import Target

# Of what the roots of its hours are worth; with `campaign.HOURS` and `optimum.season.SURE` it sets how the season
# trades hours, mean root of each need's share, and projects finished. In simulated seasons
# (tests/session/campaign/seasons.py):
# - All three are not largest at once. With the weather known beforehand, three seasons had a root of 0.74, 0.85, 0.85
#   at most, but 0.70, 0.78, 0.73 with most projects finished. In three others 0.56 / 0.79 / 0.53 could be had against
#   0.53 / 0.75 / 0.36 of the best of five ways without a season, by each measure another one.
# - With the weather unknown, 54 fresh seasons at three sites: 0.60 / 0.81 / 0.50. Ahead of nights by themselves (0.56 /
#   0.81 / 0.33), or within 1 %, in 100 / 72 / 98 % of seasons, of the highest target first (0.57 / 0.67 / 0.46) in 89 /
#   100 / 91 %, of targets by transit (0.55 / 0.70 / 0.36) in 98 / 100 / 100 %. Where behind, by 0.020 of the root on
#   the mean (0.034 at most), where it finished 0.26 more of the projects (0.13 elsewhere), and by 0.017 of the hours
#   (0.042 at most).
# - HOURS of 0.2 and 0.35 in six seasons: hours 0.568 and 0.573, root 0.817 and 0.813, finished 0.47 and 0.50.
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

    usual: bool = plain("other", default=False)  # nobody said how much: hours are shares of what there is

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "needs", tuple(self.needs))
        names = [need.band.name for need in self.needs]
        if not names or len(set(names)) < len(names):
            raise InvalidInputError(f"filters of {self.target.name}", ", ".join(names) or "none",
                                    "must name at least one filter, each once", "Name filters of the rig.")
