"""Our sites and targets as the objects of astropy and astroplan, for those who work with these.

Imported on its own (`planner.visibility.adapters`): it loads astropy.coordinates and astroplan, which the rest of the
room does without. The offline Earth-rotation settings are applied first.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from astropy import units as u

from planner.rig import Site
from planner.visibility import earth_rotation  # noqa: F401  (first: the offline settings)
from planner.visibility.target import Target

from astroplan import FixedTarget, ObservingBlock, Observer, Schedule, TransitionBlock  # isort: skip
from astropy.coordinates import EarthLocation, SkyCoord  # isort: skip
from astropy.time import Time  # isort: skip


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
