"""Rise, transit and set, and what either side of the pier reaches: the room's kernels with units."""

from types import SimpleNamespace

import numpy as np
from astropy import units as u
from astropy.coordinates import AltAz

from planner.visibility.adapters import earth_location
from planner.visibility.earth_rotation import utc_time
from planner.visibility.horizon import limits_of
from planner.visibility.kernels.local_frame import RADIANS_PER_DAY
from planner.visibility.kernels.pieces import hour_angle_at
from planner.visibility.meridian import EAST, WEST, _reach
from planner.visibility.windows import _placed


def rise_set(ra, dec, site, night, *, altitude=0 * u.deg):
    """Return the upper transit nearest to the middle of the night of targets (n,), the rise before and the set after.

    Where a target does neither, both are the lower transits before and after.
    """
    limits = limits_of(site, minimum_altitude=altitude, mount=None)
    declination, transit, frame = _placed(ra, dec, site, night)
    reach = hour_angle_at(limits.floor, np.sin(declination), np.cos(declination), frame.latitude)
    half = np.where(reach <= 0, np.pi, reach) / RADIANS_PER_DAY
    return SimpleNamespace(rise=utc_time(transit - half), transit=utc_time(transit), set=utc_time(transit + half),
                           always_up=reach >= np.pi, never_up=reach <= 0)


def pier_sides(hour_angle, mount):
    """Say at which hour angles the telescope can be west, and east, of the pier."""
    angle = np.asarray(hour_angle.to_value(u.deg))
    return tuple(np.mod(angle - low, 360) <= high - low for low, high in (_reach(side, mount) for side in (WEST, EAST)))


def alt_az(site, times):
    """Return the airless alt-az frame of a site at some times."""
    return AltAz(obstime=times, location=earth_location(site), pressure=0 * u.hPa)
