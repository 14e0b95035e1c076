"""Our sites and targets as the objects of astropy and astroplan, and an observer's own constraints asked of them.

Imported on its own (`planner.visibility.adapters`): it loads astropy.coordinates and astroplan, which the rest of the
room does without. The offline Earth-rotation settings are applied first.
"""

import warnings
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from astropy import units as u

from planner.rig import Site
from planner.visibility import earth_rotation  # noqa: F401  (first: the offline settings)
from planner.visibility.target import Target

from astroplan import Constraint, FixedTarget, ObservingBlock, Observer, Schedule, TransitionBlock  # isort: skip
from astropy.coordinates import EarthLocation, SkyCoord  # isort: skip
from astropy.time import Time  # isort: skip
from astropy.utils.exceptions import AstropyWarning  # isort: skip

STEP = 1 * u.min  # between the moments that are asked: edges are that exact


def earth_location(site: Site) -> EarthLocation:
    """Return a site as an astropy EarthLocation (WGS 84)."""
    return EarthLocation.from_geodetic(site.longitude, site.latitude, site.height)


def observer(site: Site) -> Observer:
    """Return a site as an astroplan Observer, without refraction: pass a horizon of −0.8333 deg for sunset."""
    return Observer(location=earth_location(site), name=site.name, timezone=site.time_zone)


def fixed_target(target: Target) -> FixedTarget:
    """Return a target as an astroplan FixedTarget."""
    return FixedTarget(name=target.name, coord=sky_coord(target))


def sky_coord(target: Target) -> SkyCoord:
    """Return a target as an astropy SkyCoord, ICRS."""
    return SkyCoord(ra=target.ra, dec=target.dec, frame="icrs")


def schedule(site: Site, start: Time, end: Time, blocks: Iterable[tuple[Target, Time, Time, Mapping[str, Any]]],
             transitions: Iterable[tuple[str, Time, Time]]) -> Schedule:
    """Return what is observed when as an astroplan Schedule.

    `start` and `end`: of the whole. `blocks`: target, start, end, and the configuration as the table of the schedule
    shows it. They become ObservingBlocks, the first in time with the highest priority. `transitions`: what is done
    between them, and when. They become TransitionBlocks.
    Times as given, to the second.
    """
    found = Schedule(start, end)
    found.observer = observer(site)
    for place, (target, first, last, configuration) in enumerate(blocks, start=1):
        block = ObservingBlock(fixed_target(target), (last - first).to(u.min), place, dict(configuration))
        block.observer = found.observer
        found.insert_slot(first, block)
    for what, first, last in transitions:
        found.insert_slot(first, TransitionBlock({what: (last - first).to(u.min)}))
    return found


def allowed_times(constraints: Sequence[Constraint], target: Target, site: Site, start: Time, end: Time
                  ) -> tuple[tuple[Time, Time], ...]:
    """Return the stretches between two moments in which every constraint holds.

    `constraints`: a score counts as held where it is more than 0.
    In the order of time, from the first to the last minute that is allowed; empty if there is none.
    """
    count = max(2, int(np.ceil(((end - start) / STEP).to_value(u.one))) + 1)
    times = start + (end - start) * np.linspace(0, 1, count)
    # A new observer each time: astroplan keeps altitudes by right ascension alone, which two targets may share.
    place, star = observer(site), fixed_target(target)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", AstropyWarning)  # of astroplan's own separations: their error is below a degree
        held = np.all([np.ravel(one(place, star, times=times)) > 0 for one in constraints], axis=0)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], held, [False]]).astype(int)))
    return tuple((times[first], times[last - 1]) for first, last in edges.reshape(-1, 2) if last - 1 > first)
