"""Colour against mono, one after another or at once; and two rigs that share a picture of two parts."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.exposure.depth import Goal, goal_for
from planner.fields import Key
from planner.rig import Filter
from planner.session.advice.answer import judge
from planner.session.match.combination import rig_with
from planner.session.match.combinations import Combinations
from planner.session.match.set_ups import SetUp, whole

# What a picture is made of (common practice, no source); under a colour-filter array one frame holds it all.
COLOURS = tuple(Filter(name=name, centre=centre * u.nm, width=90 * u.nm)
                for name, centre in (("blue", 450), ("green", 545), ("red", 640)))
LINES = tuple(Filter(name=name, centre=centre * u.nm, width=6 * u.nm)
              for name, centre in (("OIII", 500.7), ("Hα", 656.3)))
LUMINANCE = Filter(name="luminance", centre=550 * u.nm, width=300 * u.nm)
COLOUR_RATIO = 0.5  # of the luminance's signal-to-noise is enough for its colour (common practice, no source)
NEVER_H = 1e9


@dataclass(frozen=True, kw_only=True)
class Shared:
    """How two rigs best share the two parts of a picture."""

    parts: Annotated[tuple[str, str], "of the picture: luminance and colour, or two lines"]
    alone: Annotated[tuple[float, float], "hours of each rig for both parts", Key("alone_h")]
    crossed: Annotated[tuple[float, float], "hours with the first part on this rig and the second on the other",
                       Key("crossed_h")]
    hours: Annotated[float, "hours, shared best; null for never", Key("shared_h")]  # infinite for never
    by_first: Annotated[tuple[float, float], "share of each part that the first rig takes", Key("first_takes_fraction")]


def are_two_rigs(first: SetUp, second: SetUp) -> bool:
    """Return whether two set-ups can stand beside each other: neither telescope nor camera is in both."""
    one, other = first.choice, second.choice
    return one.telescope.name != other.telescope.name and one.camera.name != other.camera.name


def shared_picture(asked: Combinations, first: SetUp, second: SetUp) -> Shared:
    """Return how two set-ups, each on such a mount, share luminance and colour, or two lines."""
    rigs, ratio = (first, second), asked.goal.ratio
    parts: list[tuple[tuple[Filter, ...], float]]
    if asked.band.narrow:
        names, parts = ("Hα", "OIII"), [((band,), ratio) for band in LINES[::-1]]
    else:
        names, parts = ("luminance", "colour"), [((LUMINANCE,), ratio),
                                                 (COLOURS, COLOUR_RATIO * ratio)]
    times = [[float(picture_time(asked, one, bands, ratio=wanted).to_value(u.h)) for one in rigs]
             for bands, wanted in parts]
    hours, by_first = best_shares(*times)
    return Shared(parts=names, alone=(times[0][0] + times[1][0], times[0][1] + times[1][1]), hours=hours,
                  crossed=(max(times[0][0], times[1][1]), max(times[0][1], times[1][0])), by_first=by_first)


def best_shares(one: Sequence[float], other: Sequence[float]) -> tuple[float, tuple[float, float]]:
    """Return the least hours in which two rigs finish two parts, and the share of each part that the first rig takes.

    Squared signal-to-noise ratios add, so that a part may be divided. `one` and `other` are the hours of either rig for
    the whole of a part; infinite where it cannot. Each rig begins with the part in which it has the advantage over the
    other, and who is done first helps.
    """
    (a, b), (c, d) = np.minimum(one, NEVER_H), np.minimum(other, NEVER_H)
    if a * d > b * c:
        hours, (first, second) = best_shares(one[::-1], other[::-1])
        return hours, (1 - first, 1 - second)
    helps = (d - a) / (c + d)
    shares = (1.0, helps) if helps >= 0 else ((b + d) / (a + b), 0.0)
    hours = a * shares[0] + c * shares[1]
    return (hours if hours < NEVER_H / 10 else np.inf), shares


def picture_time(asked: Combinations, one: SetUp, bands: tuple[Filter, ...], *, ratio: float) -> u.Quantity[u.h]:
    """Return the time for the whole target until every band reaches the goal's surface or line at a ratio.

    What the goal leaves open is the usual one of a band.
    A mono sensor takes the bands one after another, a colour-filter array all at once: the slowest counts.
    """
    rig = rig_with(asked.rig, one.choice.train, one.choice.camera, binning=one.choice.binning)
    stars = None
    if asked.target is not None and asked.stars_around is not None:
        stars = asked.stars_around(asked.target, rig)
    times = []
    for band in bands:
        own = {"line": asked.goal.line} if band.narrow else {"brightness": asked.goal.brightness}
        goal = goal_for(band, Goal(signal_to_noise=ratio, area=asked.goal.area, **own))
        total = judge(rig, asked.site, band, goal, asked.hours, declination=asked.declination, target=asked.target,
                      stars=stars, with_reasons=False).total
        times.append(np.inf * u.h if total is None else whole(asked, one.choice, total.clock_time))
    return max(times) if one.choice.camera.colour == "bayer" else sum(times, 0 * u.h)
