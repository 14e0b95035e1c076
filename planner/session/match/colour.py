"""Colour against mono: how long three colours, or two lines, take one after another and at once."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from astropy import units as u

from planner.exposure.depth import goal_for
from planner.rig import Filter
from planner.session.advice.answer import judge
from planner.session.match.combinations import Combinations
from planner.session.match.guiding_choice import rig_with
from planner.session.match.set_ups import SetUp, whole

# What a picture is made of (common practice, no source); under a colour-filter array one frame holds it all.
PICTURES: Mapping[str, tuple[Filter, ...]] = {
    "Three colours": tuple(Filter(name=name, centre=centre * u.nm, width=90 * u.nm)
                           for name, centre in (("blue", 450), ("green", 545), ("red", 640))),
    "Two lines, OIII and Hα": (Filter(name="OIII", centre=500.7 * u.nm, width=6 * u.nm),
                               Filter(name="Hα", centre=656.3 * u.nm, width=6 * u.nm)),
}


def picture_time(asked: Combinations, one: SetUp, bands: tuple[Filter, ...]) -> u.Quantity[u.h]:
    """Return the time for the whole target until the usual goal of every band is reached.

    A mono sensor takes the bands one after another, a colour-filter array all at once: the slowest counts.
    """
    rig = rig_with(asked.rig, one.choice.train, one.choice.camera, name=one.name, binning=one.choice.binning)
    stars = None
    if asked.target is not None and asked.stars_around is not None:
        stars = asked.stars_around(asked.target, rig)
    times = []
    for band in bands:
        goal = replace(goal_for(band), signal_to_noise=asked.goal.ratio, area=asked.goal.area)
        total = judge(rig, asked.site, band, goal, asked.hours, declination=asked.declination, target=asked.target,
                      stars=stars).total
        times.append(np.inf * u.h if total is None else whole(asked, one.choice, total.clock_time))
    return max(times) if one.choice.camera.colour == "bayer" else sum(times, 0 * u.h)
