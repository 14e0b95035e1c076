"""The figures that set-ups can be ranked on."""

from collections.abc import Callable, Mapping
from typing import NamedTuple

from astropy import units as u

from planner.session.match.combination import Combination
from planner.session.projects.default_request import kind_of_object
from planner.visibility.target import Target


class Ranking(NamedTuple):
    """What is ranked on: its meaning with a target and without, and for what no mount changes the figure itself."""

    meaning: str
    meaning_without_target: str
    figure: Callable[[Combination, bool], float] | None = None  # less is better; None: a time on the mount
    most_first: bool = False


RANKINGS: Mapping[str, Ranking] = {
    "detail": Ranking("hours for fine detail over the whole target", "hours for fine detail per square degree"),
    "surface": Ranking("hours for the faint surface over the whole target",
                       "hours for the faint surface per square degree"),
    "sharpness": Ranking("the width of a star in a picture", "the width of a star in a picture",
                         lambda choice, _: float(choice.picture_fwhm.to_value(u.arcsec))),
    "field": Ranking("the share of the target in one frame", "the sky in one frame",
                     lambda choice, has_target: -(choice.framing.share if has_target
                                                  else float(choice.field_area.to_value(u.deg**2))), most_first=True),
    "stars": Ranking("hours for faint stars over the whole target", "hours for faint stars per square degree"),
}


def usual_ranking(target: Target | None) -> str:
    """Return the figure that counts unless the observer says otherwise: stars of a cluster, else fine detail."""
    return "stars" if target is not None and kind_of_object(target) == "cluster" else "detail"
