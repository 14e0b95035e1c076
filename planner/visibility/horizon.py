"""What stands in the way: the observer's skyline, lowest altitude, airmass, zenith keep-out and the mount's sides.

A German mount with the telescope west of the pier looks east, up to `tracks_past_meridian` beyond the meridian; with
the telescope east of the pier it looks west, from `starts_before_meridian` before it. The same holds half a turn on,
at the lower transit. Where the two sides do not meet there is a gap that no window crosses.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from astropy import units as u

from planner.checks import Rule, check
from planner.errors import InvalidInputError
from planner.rig import HorizonProfile, Mount, Site
from planner.visibility.kernels.air import Air, air_at

FINEST = 0.5  # deg between the nodes of a skyline in true altitude
_ALTITUDE = Rule(unit=u.deg, at_least=0, less_than=90,
                 remedy="Give the lowest apparent altitude to observe at, e.g. 30 deg.")


@u.quantity_input
def skyline(profile: HorizonProfile, azimuth: u.Quantity[u.deg]) -> u.Quantity[u.deg]:
    """Return the apparent altitude of the skyline.

    `profile`: straight between points, a step where two points share an azimuth, closed over north. `azimuth` (any
    shape): any value; whole turns are dropped.
    Returns (same shape): exactly on a wall: the higher side.
    """
    nodes, altitudes = _closed(profile)
    wanted = np.mod(azimuth.to_value(u.deg), 360)
    return np.maximum(_interpolated(nodes, altitudes, wanted, "left"),
                      _interpolated(nodes, altitudes, wanted, "right")) * u.deg


def _closed(profile: HorizonProfile) -> tuple[np.ndarray, np.ndarray]:
    """Return azimuths from below 0 to above 360 deg, and altitudes, so that every azimuth lies between two."""
    azimuth, altitude = profile.azimuth.value, profile.altitude.value
    return (np.concatenate([[azimuth[-1] - 360], azimuth, [azimuth[0] + 360]]),
            np.concatenate([altitude[-1:], altitude, altitude[:1]]))


def _interpolated(nodes: np.ndarray, values: np.ndarray, wanted: np.ndarray, side: Literal["left", "right"]
                  ) -> np.ndarray:
    """Interpolate between nodes that may coincide; `side` says which part of a step counts on it."""
    after = np.clip(np.searchsorted(nodes, wanted, side=side), 1, len(nodes) - 1)
    width = nodes[after] - nodes[after - 1]
    share = np.where(width > 0, (wanted - nodes[after - 1]) / np.where(width > 0, width, 1), 1.0)
    return values[after - 1] + share * (values[after] - values[after - 1])


@dataclass(frozen=True)
class Limits:
    """Where a target may be observed, on plain floats: true altitudes and hour angles in radians."""

    floor_deg: float  # lowest apparent altitude [deg], the stricter of altitude and airmass
    floor: float  # true altitude; the ceiling is π/2 without keep-out
    ceiling: float
    nodes: np.ndarray | None  # (k,), azimuth and true altitude of the skyline, dense enough for straight lines
    skyline: np.ndarray | None
    # last hour angle with the telescope west of the pier, first with it east; None if the mount has no sides
    west_until: float | None
    east_from: float | None

    @property
    def gap(self) -> bool:
        """Is there a stretch around the meridian that neither side reaches?"""
        return self.west_until is not None and self.east_from is not None and self.west_until < self.east_from

    def clear(self, altitude: np.ndarray, azimuth: np.ndarray) -> np.ndarray:
        """Say whether directions are above floor and skyline and below the ceiling."""
        lowest = self.floor
        if self.nodes is not None and self.skyline is not None:
            lowest = np.maximum(lowest, _interpolated(self.nodes, self.skyline, azimuth, "right"))
        return (altitude >= lowest) & (altitude <= self.ceiling)


def limits_of(site: Site, *, minimum_altitude: u.Quantity, mount: Mount | None) -> Limits:
    """Gather the limits of a site, an observer and a mount.

    Raises InvalidInputError for an altitude outside 0 to 90 deg, or a keep-out that leaves nothing.
    """
    lowest = check("minimum_altitude", minimum_altitude, _ALTITUDE).value
    air = air_at(site)
    keep_out = 0.0 if mount is None else mount.zenith_keep_out.to_value(u.deg)
    if lowest > 90 - keep_out:
        raise InvalidInputError("minimum_altitude", f"{lowest:.1f} deg", "must be below the zenith keep-out",
                                f"The mount avoids {keep_out:g} deg around the zenith; lower the altitude.")
    nodes = heights = None
    if site.horizon is not None:
        nodes, heights = _true_skyline(site.horizon, air)
        if heights.max() <= np.radians(air.true(lowest)):
            nodes = heights = None
    sides = mount is not None and mount.design == "german equatorial"
    return Limits(floor_deg=lowest, floor=float(np.radians(air.true(lowest))), ceiling=np.radians(90 - keep_out),
                  nodes=nodes, skyline=heights,
                  west_until=mount.tracks_past_meridian.to_value(u.rad) if sides and mount else None,
                  east_from=-mount.starts_before_meridian.to_value(u.rad) if sides and mount else None)


def _true_skyline(profile: HorizonProfile, air: Air) -> tuple[np.ndarray, np.ndarray]:
    """Return azimuth and true altitude [rad] of the skyline at nodes at most `FINEST` apart; walls stay steps."""
    azimuth, altitude = _closed(profile)
    parts = []
    for (a0, h0), (a1, h1) in zip(zip(azimuth, altitude, strict=True), zip(azimuth[1:], altitude[1:], strict=True),
                                  strict=False):
        count = 1 if a1 == a0 else max(1, int(np.ceil(max(a1 - a0, abs(h1 - h0)) / FINEST)))
        share = np.arange(count) / count
        parts.append((a0 + share * (a1 - a0), h0 + share * (h1 - h0)))
    parts.append((azimuth[-1:], altitude[-1:]))
    nodes, heights = (np.concatenate([part[side] for part in parts]) for side in (0, 1))
    return np.radians(nodes), np.radians(air.true(heights))
