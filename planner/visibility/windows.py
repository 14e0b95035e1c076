"""When targets are up in the dark: windows, transit, highest altitude, and why there is none.

Apparent place once, for the middle of the night; hour angle at the limits in closed form; refraction as one value at
the limit altitude (at each node of a skyline). Edges are within 0.2 s of a full calculation where the target changes
altitude by more than 3 deg per hour.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Annotated

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.errors import InvalidInputError
from planner.fields import Key
from planner.rig import Mount, Site
from planner.visibility.clock import clock_of
from planner.visibility.darkness import Night
from planner.visibility.earth_rotation import shown_as_time, utc_time
from planner.visibility.horizon import Limits, limits_of
from planner.visibility.kernels.air import air_at
from planner.visibility.kernels.ephemeris import apparent_directions, unit_vectors
from planner.visibility.kernels.local_frame import RADIANS_PER_DAY, STELLAR_DAY, LocalFrame, local_frame
from planner.visibility.kernels.pieces import TURN, Pieces, horizontal, pieces_of
from planner.visibility.target import Target

ABUT = 1e-8  # days: two windows this close are one


@dataclass(frozen=True)
class TargetWindow:
    """When one target may be observed in one night."""

    target: Target
    spans: tuple[tuple[float, float], ...]  # the windows as MJD in TT, in order of time; empty when there is none
    # at the start and end of each window, west positive; the end is after the start and may pass 180 deg
    angles_deg: tuple[tuple[float, float], ...]
    transit_tt: float  # MJD of the upper transit nearest to the middle of the night, in the dark or not
    maximum_altitude: Annotated[u.Quantity[u.deg], "apparent, within the windows; at the upper transit without one",
                                Key("max_altitude_deg")]
    reason: Annotated[str, "why there is no window; empty if there is one"]
    never: bool = False  # whether no night of this site has one

    transit = shown_as_time("transit_tt")

    @cached_property
    def windows(self) -> tuple[tuple[Time, Time], ...]:
        """From when to when, in order of time; empty when there is no window."""
        return tuple((utc_time(start), utc_time(end)) for start, end in self.spans)

    @property
    def absence(self) -> str:
        """Why there is no window, ``Not tonight: ...`` or ``Never here: ...``; empty if there is one."""
        return self.reason and f"{'Never here' if self.never else 'Not tonight'}: {self.reason}"

    @property
    def hour_angle(self) -> tuple[tuple[u.Quantity[u.deg], u.Quantity[u.deg]], ...]:
        """Hour angle at the start and end of each window."""
        return tuple((first * u.deg, last * u.deg) for first, last in self.angles_deg)

    @property
    def hours(self) -> Annotated[u.Quantity[u.h], "all windows together", Key("hours")]:
        """All windows together."""
        return sum((end - start for start, end in self.spans), 0.0) * 24 * u.h


@dataclass(frozen=True)
class NightWindows:
    """When many targets may be observed in one night: a flat list of windows, sorted by target and time."""

    night: Night
    index: np.ndarray  # (m,), the target of each window
    hours: u.Quantity[u.h]  # (n,)
    maximum_altitude: u.Quantity[u.deg]  # (n,), apparent, within the windows; at the upper transit if there is none
    _start: np.ndarray = field(repr=False)  # MJD in TT, (m,)
    _end: np.ndarray = field(repr=False)
    _transit: np.ndarray = field(repr=False)  # MJD in TT, (n,)
    _declination: np.ndarray = field(repr=False)  # rad, of date, (n,)
    _latitude: float = field(repr=False)
    _limits: Limits = field(repr=False)
    _pieces: Pieces = field(repr=False)

    @property
    def start(self) -> Time:
        """Start of each window, (m,)."""
        return utc_time(self._start)

    @property
    def end(self) -> Time:
        """End of each window, (m,)."""
        return utc_time(self._end)

    @property
    def transit(self) -> Time:
        """Upper transit nearest to the middle of the night, (n,)."""
        return utc_time(self._transit)

    def reason(self, target: int) -> str:
        """Say why a target has no window; empty if it has one."""
        return "" if np.any(self.index == target) else _no_window(self, target)

    def of(self, target: int) -> tuple[tuple[float, float], ...]:
        """Return the windows of one target as MJD in TT."""
        mine = self.index == target
        return tuple(zip(self._start[mine].tolist(), self._end[mine].tolist(), strict=True))


def target_window(
    target: Target, site: Site, night: Night, *, minimum_altitude: u.Quantity[u.deg] = 0 * u.deg,
    mount: Mount | None = None,
) -> TargetWindow:
    """Return when one target is up in the dark; see `night_windows`."""
    return target_windows([target], site, night, minimum_altitude=minimum_altitude, mount=mount)[0]


def target_windows(
    targets: Sequence[Target], site: Site, night: Night, *, minimum_altitude: u.Quantity[u.deg] = 0 * u.deg,
    mount: Mount | None = None,
) -> tuple[TargetWindow, ...]:
    """Return when each target is up in the dark, all in one pass; see `night_windows`."""
    found = night_windows(u.Quantity([target.ra for target in targets]), u.Quantity([target.dec for target in targets]),
                          site, night, minimum_altitude=minimum_altitude, mount=mount)
    return tuple(_of_target(found, number, target) for number, target in enumerate(targets))


def _of_target(found: NightWindows, number: int, target: Target) -> TargetWindow:
    spans, transit = found.of(number), float(found._transit[number])
    angles = []
    for start, end in spans:
        first = ((start - transit) * RADIANS_PER_DAY + np.pi) % TURN - np.pi
        angles.append((math.degrees(first), math.degrees(first + (end - start) * RADIANS_PER_DAY)))
    stays = not target.motion.value.any()
    return TargetWindow(target=target, spans=spans, angles_deg=tuple(angles), transit_tt=transit,
                        maximum_altitude=found.maximum_altitude[number], reason=found.reason(number),
                        never=stays and not np.any(found._pieces.index == number))


def night_windows(
    ra: u.Quantity[u.deg], dec: u.Quantity[u.deg], site: Site, night: Night, *,
    minimum_altitude: u.Quantity[u.deg] = 0 * u.deg, mount: Mount | None = None,
) -> NightWindows:
    """Return when targets are up in the dark, above all that stands in the way.

    Parameters
    ----------
    ra, dec : Quantity [deg], (n,)
        ICRS.
    site : Site
        Its horizon profile counts.
    night : Night
        Its dark time counts.
    minimum_altitude : Quantity [deg]
        Apparent, 0 to 90 deg.
    mount : Mount, optional
        Its zenith keep-out and the reach of its two sides count.

    Returns
    -------
    NightWindows

    Raises
    ------
    InvalidInputError
        For a limit out of range, or right ascensions and declinations of different shape.
    """
    limits = limits_of(site, minimum_altitude=minimum_altitude, mount=mount)
    declination, transit, frame = _placed(ra, dec, site, night)
    pieces = pieces_of(declination, frame.latitude, limits)
    index, start, end = _in_the_dark(pieces, transit, night.below(4))
    hours = np.bincount(index, weights=(end - start) * 24, minlength=len(transit))
    nearest = _nearest_hour_angle(index, start, end, transit)
    highest = np.degrees(horizontal(nearest, np.sin(declination), np.cos(declination), frame.latitude)[0])
    return NightWindows(night=night, index=index, hours=hours * u.h,
                        maximum_altitude=air_at(site).apparent(highest) * u.deg, _start=start, _end=end,
                        _transit=transit, _declination=declination, _latitude=frame.latitude, _limits=limits,
                        _pieces=pieces)


def _placed(
    ra: u.Quantity, dec: u.Quantity, site: Site, night: Night
) -> tuple[np.ndarray, np.ndarray, LocalFrame]:
    """Return apparent declinations [rad], the transits nearest to the middle of the night (MJD in TT), the frame."""
    alpha, delta = ra.to_value(u.rad), dec.to_value(u.rad)
    if alpha.ndim != 1 or alpha.shape != delta.shape:
        raise InvalidInputError("dec", f"shape {delta.shape}", f"must match ra, a list of shape {alpha.shape}",
                                "Give one declination per right ascension.")
    noon, middle, next_noon = night.noons_tt
    frame = local_frame(site, noon, next_noon)
    place = apparent_directions(unit_vectors(alpha, delta), middle)
    at_middle = frame.angle(middle) + frame.longitude - np.arctan2(place[:, 1], place[:, 0])
    transit = middle - (np.mod(at_middle + np.pi, TURN) - np.pi) / RADIANS_PER_DAY
    return np.arcsin(np.clip(place[:, 2], -1, 1)), transit, frame


def _in_the_dark(
    pieces: Pieces, transit: np.ndarray, dark: tuple[float, float] | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Turn stretches of hour angle to times around each transit and keep what lies in the dark, (m,) each."""
    if dark is None:
        return np.empty(0, int), np.empty(0), np.empty(0)
    days = np.array([-STELLAR_DAY, 0.0, STELLAR_DAY])
    base = transit[pieces.index][:, np.newaxis] + days
    start = np.maximum(base + (pieces.start / RADIANS_PER_DAY)[:, np.newaxis], dark[0])
    end = np.minimum(base + (pieces.end / RADIANS_PER_DAY)[:, np.newaxis], dark[1])
    kept, _ = np.nonzero(end > start)
    index, start, end = pieces.index[kept], start[end > start], end[end > start]
    order = np.lexsort((start, index))
    index, start, end = index[order], start[order], end[order]
    joined = (index[1:] == index[:-1]) & (start[1:] - end[:-1] < ABUT)
    if joined.any():
        begins, ends = np.append(True, ~joined), np.append(~joined, True)
        return index[begins], start[begins], end[ends]
    return index, start, end


def _nearest_hour_angle(index: np.ndarray, start: np.ndarray, end: np.ndarray, transit: np.ndarray) -> np.ndarray:
    """Return, per target, the hour angle nearest to the upper transit within its windows; 0 without a window."""
    nearest = np.zeros(len(transit))
    if not len(index):
        return nearest
    first = np.mod((start - transit[index]) * RADIANS_PER_DAY + np.pi, TURN) - np.pi
    last = first + (end - start) * RADIANS_PER_DAY
    over = (first <= 0) & (last >= 0) | (last >= TURN)
    least = np.where(over, 0.0, np.minimum(np.abs(first), np.minimum(np.abs(last), np.abs(TURN - last))))
    nearest[index] = np.inf
    np.minimum.at(nearest, index, least)
    return nearest


def _no_window(found: NightWindows, target: int) -> str:
    """Say in plain words why a target has no window."""
    night, limits = found.night, found._limits
    highest = found.maximum_altitude[target].to_value(u.deg)
    if highest < 0:
        return "Never rises at this site."
    if highest < limits.floor_deg:
        return (f"Never gets above {limits.floor_deg:.1f}°: its highest apparent altitude here is "
                f"{highest:.1f}°.")
    mine = found._pieces.index == target
    if not mine.any():
        return _never_clear(found, target)
    if night.below(4) is None:
        return night.reason
    stretches = [(found._transit[target] + found._pieces.start[at] / RADIANS_PER_DAY,
                  found._transit[target] + found._pieces.end[at] / RADIANS_PER_DAY) for at in np.flatnonzero(mine)]
    texts = [f"from {clock_of(start, night.site)} to {clock_of(end, night.site)}" for start, end in stretches]
    return f"Within the limits only when it is not dark: {' and '.join(texts)}."


def _never_clear(found: NightWindows, target: int) -> str:
    """Say what keeps a target that gets high enough from ever being clear."""
    limits, declination = found._limits, found._declination[target]
    angles = np.linspace(-np.pi, np.pi, 1441)
    altitude, _ = horizontal(angles, np.sin(declination), np.cos(declination), found._latitude)
    if np.all(altitude[altitude >= limits.floor] > limits.ceiling):
        return "Never leaves the mount's zenith keep-out while it is high enough."
    if limits.nodes is not None:
        return "Stands behind the skyline all the time."
    return "Is above the limits only where neither side of the pier reaches."
