"""A target that moves against the stars trails in every sub, whatever the mount does: a steady rate on top of the rest.

Subs are judged on the target; its stars trail where the target is followed instead.
"""

from dataclasses import replace

import numpy as np
from astropy import units as u

from planner.constants import SIDEREAL_RATE
from planner.rig.choices import AXES
from planner.tracking.budget import BudgetTerm
from planner.tracking.drift import SmoothTrack

OWN_MOTION = "the target's own motion"


def moving_on(track: SmoothTrack, motion: u.Quantity[u.arcsec / u.h]) -> SmoothTrack:
    """Return the track of a target that moves (2,), to the east and north, from that of a star."""
    if not motion.value.any():
        return track
    since = (track.hour_angle - track.hour_angle[0]) / SIDEREAL_RATE
    east, north = motion
    return replace(track, ra=track.ra + (east * since).to(u.arcsec), dec=track.dec + (north * since).to(u.arcsec))


def own_motion_budget(motion: u.Quantity[u.arcsec / u.h], duration: u.Quantity[u.s]) -> tuple[BudgetTerm, ...]:
    """Return the rms of the straight trail of one sub, by axis; nothing for a target at rest."""
    if not motion.value.any():
        return ()
    return tuple(BudgetTerm(OWN_MOTION, axis, (np.abs(part) * duration / np.sqrt(12)).to(u.arcsec))
                 for axis, part in zip(AXES, motion, strict=True))
