"""The catalogue stars around a target, as the advice wants them."""

from planner.files.targets.stars import field_stars
from planner.rig import Rig
from planner.session.advice.guide_star import NearbyStars, stars_reach
from planner.visibility.target import Target


def stars_around(target: Target, rig: Rig) -> NearbyStars | None:
    """Return the stars that a rig's camera and guider reach around a target; None if there is no catalogue."""
    found = field_stars(target.ra, target.dec, stars_reach(rig))
    return None if found is None else NearbyStars(east=found.east, north=found.north, magnitude=found.magnitude)
