"""Our sites and targets as the objects of astropy and astroplan, for those who work with these.

Imported on its own (`planner.visibility.adapters`): it loads astropy.coordinates and astroplan, which the rest of the
room does without. The offline Earth-rotation settings are applied first.
"""

from collections.abc import Iterable

from astropy import units as u

from planner.rig import Site
from planner.visibility import earth_rotation  # noqa: F401  (first: the offline settings)
from planner.visibility.target import Target

from astroplan import FixedTarget, Observer  # isort: skip
from astropy.coordinates import AltAz, EarthLocation, SkyCoord  # isort: skip
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


def fixed_targets(targets: Iterable[Target]) -> list[FixedTarget]:
    """Return targets as a list of astroplan FixedTargets."""
    return [fixed_target(target) for target in targets]


def sky_coord(target: Target) -> SkyCoord:
    """Return a target as an astropy SkyCoord, ICRS."""
    return SkyCoord(ra=target.ra, dec=target.dec, frame="icrs")


def alt_az(site: Site, times: Time) -> AltAz:
    """Return the airless alt-az frame of a site at some times."""
    return AltAz(obstime=times, location=earth_location(site), pressure=0 * u.hPa)
