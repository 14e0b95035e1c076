"""What one usually wants of a target, by what kind of object it is: which filters, and how much through each.

Emission nebulae shine in lines: the strongest line is wanted first, a weaker one for longer in proportion, for it takes
longer to the same depth; a line that hardly shines is not wanted. Reflecting and dark dust, galaxies and clusters send
a continuum, of which a narrow band takes next to nothing; the hydrogen of a galaxy's own nebulae is an option.
"""

from dataclasses import replace

import numpy as np
from astropy import units as u

from planner.rig import Filter, Rig
from planner.session.projects.request import Need, Request
from planner.visibility.target import Target

LUMINANCE_WIDTH = 200 * u.nm  # wider: luminance
LINES = {"Ha": 656.3 * u.nm, "OIII": 500.7 * u.nm, "NII": 658.4 * u.nm, "SII": 672.4 * u.nm}  # the first that passes

# Over H-alpha, as observed. H II region: mean of M 17 and NGC 3576 (Tsamis et al. 2003, MNRAS 338, 687); planetary:
# median of 23 (Wesson, Liu & Barlow 2005, MNRAS 362, 424; Wesson & Liu 2004, MNRAS 351, 1026; Tsamis et al. 2003, MNRAS
# 345, 186): slits on bright parts. Remnant: [S II] from 0.4 on tells one (as quoted in Kopsacheili et al. 2020, MNRAS
# 491, 889); its other lines are taken to be as strong as H-alpha, no source.
RATIOS = {
    "ionised": {"Ha": 1.0, "OIII": 0.455, "NII": 0.138, "SII": 0.044},
    "planetary": {"Ha": 1.0, "OIII": 2.345, "NII": 0.080, "SII": 0.016},
    "remnant": {"Ha": 1.0, "OIII": 1.0, "NII": 1.0, "SII": 0.4},
}
# Common practice, no source: hours of the strongest line; how many times as long a weak one at most; what is too weak.
LINE_HOURS, MOST_TIMES, LEAST_RATIO = 3.0, 3.0, 0.03
# Common practice, no source: hours of luminance and of each colour.
BROAD_HOURS = {"galaxy": (3.0, 1.0), "dust": (4.0, 1.5), "moving": (1.0, 0.5),
               "cluster": (1.0, 1.0), "unknown": (2.0, 1.0)}
GALAXY_HYDROGEN = 1.0  # h, where it is asked for
_WORDS = {  # of the target's kind, the first that fits
    "planetary": ("planetary",), "remnant": ("supernova remnant",), "dust": ("reflection", "dark"),
    "ionised": ("emission", "h ii", "hii", "ionised", "ionized", "nova", "with nebula"), "galaxy": ("galax",),
    "cluster": ("cluster", "star", "association"), "moving": ("comet", "minor planet"),
}


def default_request(target: Target, rig: Rig, *, hydrogen: bool = False) -> Request:
    """Return what one would want of a target with a rig's filters.

    `hydrogen` asks for the H-alpha of galaxies too. A rig without a filter that fits uses what it has.
    """
    return Request(target=target, needs=default_needs(kind_of_object(target), rig, hydrogen=hydrogen), usual=True)


def filling(requests: tuple[Request, ...], night: u.Quantity[u.h]) -> tuple[Request, ...]:
    """Return requests with what is only usual so many times larger, where all together want less than a night has."""
    wanted = {usual: sum(float((need.hours - need.done).to_value(u.h)) for request in requests
                         if request.usual == usual for need in request.needs if need.hours is not None)
              for usual in (True, False)}
    times = (night.to_value(u.h) - max(wanted[False], 0.0)) / wanted[True] if wanted[True] > 0 else 1.0
    if not times > 1:
        return requests

    def larger(need: Need) -> Need:
        return need if need.hours is None else replace(need, hours=need.hours * times)

    return tuple(replace(request, needs=tuple(map(larger, request.needs))) if request.usual else request
                 for request in requests)


def default_needs(kind: str, rig: Rig, *, hydrogen: bool = False) -> tuple[Need, ...]:
    """Return what one would want of a kind of object, as `default_request`."""
    lines = RATIOS.get(kind, {})
    hours = _line_hours(lines, rig) if lines else [0.0] * len(rig.filters)
    if not any(hours):
        luminance, colour = BROAD_HOURS.get(kind, BROAD_HOURS["unknown"])
        hours = [0.0 if band.narrow else luminance if band.width >= LUMINANCE_WIDTH else colour
                 for band in rig.filters]
    if kind == "unknown" or (kind == "galaxy" and hydrogen):
        hours = [GALAXY_HYDROGEN if line_of(band) == "Ha" else wanted
                 for band, wanted in zip(rig.filters, hours, strict=True)]
    if not any(hours):
        hours = [LINE_HOURS] * len(rig.filters)
    return tuple(Need(band=band, hours=wanted * u.h)
                 for band, wanted in zip(rig.filters, hours, strict=True) if wanted > 0)


def kind_of_object(target: Target) -> str:
    """Return a key of RATIOS or BROAD_HOURS, from the words of the target's kind; most nebulae without one shine."""
    kind = target.kind.lower()
    if kind in ("nebula", "bright nebula"):
        return "ionised"
    return next((name for name, words in _WORDS.items() if any(word in kind for word in words)), "unknown")


def line_of(band: Filter) -> str | None:
    """Return the first of LINES that a narrow band passes; None for a broad band, or another line."""
    if not band.narrow:
        return None
    return next((name for name, line in LINES.items() if band.passes(line)), None)


def _line_hours(ratios: dict[str, float], rig: Rig) -> list[float]:
    """Return the hours of each filter: LINE_HOURS for the strongest line that the rig has, others in proportion."""
    shine = np.array([ratios.get(line_of(band) or "", 0.0) for band in rig.filters])
    shine[shine < LEAST_RATIO] = 0
    times = np.minimum(shine.max(initial=0) / np.where(shine > 0, shine, np.inf), MOST_TIMES)
    return [float(hours) for hours in np.round(2 * LINE_HOURS * times) / 2]
