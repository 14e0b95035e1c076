"""Around the meridian: on which side of the pier the telescope works, and when it has to change over.

The side is named by where the telescope is while the target is above the pole; below it, more than six hours from the
meridian, the same position of the axes has the telescope on the other side (`seen_side`). With the telescope *west*
of the pier it looks east: hour angles from half a turn before the meridian to `tracks_past_meridian` after it. With
the telescope *east* of the pier it looks west: from `starts_before_meridian` before the meridian to half a turn after
it. At the lower transit of a target that never sets the sides change the other way, with the same over-travel.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from astropy import units as u

from planner.checks import Rule, check
from planner.rig import Mount
from planner.rig.choices import PIER_SIDES, PierSide, Side
from planner.visibility.earth_rotation import shown_as_time
from planner.visibility.kernels.local_frame import RADIANS_PER_DAY
from planner.visibility.windows import TargetWindow

WEST: Final = "west"
EAST: Final = "east"
SAME_ANGLE = 0.01  # deg: windows end so near to a limit of the mount that they end at it
DEGREES_PER_DAY = float(np.degrees(RADIANS_PER_DAY))
_SUB = Rule(unit=u.s, more_than=0, optional=True, remedy="Give the length of one sub-exposure.")
_OVERHEAD = Rule(unit=u.s, at_least=0, remedy="Give the time between two sub-exposures.")


@dataclass(frozen=True)
class PierStretch:
    """A stretch of time one side of the pier can follow the target; side is "" for a mount without sides."""

    side: Side
    start_tt: float  # MJD
    end_tt: float
    opens: bool = False  # it begins where the mount may first turn to this side, not where the target comes into view

    start, end = shown_as_time("start_tt"), shown_as_time("end_tt")

    @property
    def hours(self) -> u.Quantity[u.h]:
        """Its length."""
        return (self.end_tt - self.start_tt) * 24 * u.h


@dataclass(frozen=True)
class Flip:
    """One change of the pier side."""

    side: Side  # where the telescope is afterwards
    # MJD. The other side can begin; the first side must stop, which is before `earliest` where the sides do not meet.
    earliest_tt: float
    latest_tt: float
    planned_tt: float  # the telescope turns: at the end of a sub-exposure, as near the meridian as the limits allow
    last_sub_ends_tt: float  # the telescope waits from then until `planned`, if it has to
    # from the end of the last sub-exposure to the first one after, the flip's own time included
    lost: u.Quantity[u.min]

    earliest, latest = shown_as_time("earliest_tt"), shown_as_time("latest_tt")
    planned, last_sub_ends = shown_as_time("planned_tt"), shown_as_time("last_sub_ends_tt")


@dataclass(frozen=True)
class MeridianPlan:
    """What the meridian means for one target in one night."""

    needed: bool  # using all of the windows takes a flip
    flips: tuple[Flip, ...]  # to use all of the windows; rarely more than one
    stretches: tuple[PierStretch, ...]  # what each side alone can do; they overlap where both can
    transit_tt: float  # MJD
    reason: str  # in plain words

    transit = shown_as_time("transit_tt")


def seen_side(side: PierSide, hour_angle: u.Quantity[u.deg]) -> PierSide:
    """Return where the telescope is, west or east of the pier, at an hour angle [deg], scalar.

    The declination axis carries it. Turned about the polar axis, that axis is level towards west or east at a transit
    and upright six hours from it: there, without a flip, the telescope goes over to the other side.
    """
    below = np.cos(hour_angle.to_value(u.rad)) < 0
    return side if not below else EAST if side == WEST else WEST


def meridian_plan(
    window: TargetWindow, mount: Mount, *, sub_exposure: u.Quantity[u.s] | None = None,
    overhead: u.Quantity[u.s] = 0 * u.s,
) -> MeridianPlan:
    """Return whether, and when, the telescope has to change sides.

    `window`: found with the same mount. `sub_exposure` and `overhead`: the flip is planned at a boundary of subs that
    start with the window, one every `sub_exposure + overhead`; without a sub-exposure, as near the meridian as the
    limits allow.
    Without flips for a mount without sides, or when one side reaches through every window.
    """
    sub = check("sub_exposure", sub_exposure, _SUB)
    cadence = None if sub is None else (sub + check("overhead", overhead, _OVERHEAD)).to_value(u.day)
    stretches = tuple(stretch for times, angles in _spans(window) for stretch in _stretches(times, angles, mount))
    flips = () if mount.design == "fork" else tuple(_flips(window, mount, cadence))
    return MeridianPlan(needed=bool(flips), flips=flips, stretches=stretches, transit_tt=window.transit_tt,
                        reason=_reason(window, mount, flips, stretches))


def _reach(side: Side, mount: Mount) -> tuple[float, float]:
    """Return the first and last hour angle [deg] of a side."""
    past, before = mount.tracks_past_meridian.to_value(u.deg), mount.starts_before_meridian.to_value(u.deg)
    return (-180 - before, past) if side == WEST else (-before, 180 + past)


def _spans(window: TargetWindow) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Return the windows as MJD in TT, and hour angles [deg]."""
    return list(zip(window.spans, window.angles_deg, strict=True))


def _stretches(times: tuple[float, float], angles: tuple[float, float], mount: Mount) -> list[PierStretch]:
    """Return what each side can do within one window, in order of time."""
    if mount.design == "fork":
        return [PierStretch("", *times)]
    found = []
    for side in PIER_SIDES:
        low, high = _reach(side, mount)
        for turn in (-360, 0, 360):
            first, last = max(angles[0], low + turn), min(angles[1], high + turn)
            if last > first:
                found.append((first, last, side, first < low + turn + SAME_ANGLE))
    start = times[0]
    return [PierStretch(side, start + (first - angles[0]) / DEGREES_PER_DAY,
                        start + (last - angles[0]) / DEGREES_PER_DAY, opens)
            for first, last, side, opens in sorted(found) if last - first > 1e-9]


def _farthest(angle: float, mount: Mount) -> tuple[float, Side]:
    """Return how far [deg] the better side reaches from an hour angle, and that side."""
    choices: list[tuple[float, Side]] = []
    for side in PIER_SIDES:
        low, high = _reach(side, mount)
        choices += [(high + turn, side) for turn in (-360, 0, 360)
                    if low + turn <= angle + 1e-9 and high + turn > angle + 1e-9]
    return max(choices, default=(np.inf, ""))


def _other(side: Side, angle: float, mount: Mount) -> tuple[Side, float, float]:
    """Return the other side and from where to where [deg] it reaches, beyond an hour angle."""
    side = EAST if side == WEST else WEST
    low, high = _reach(side, mount)
    turns = 360 * np.floor((angle + 1e-9 - high) / 360 + 1)
    return side, low + turns, high + turns


def _flips(window: TargetWindow, mount: Mount, cadence: float | None) -> list[Flip]:
    """Walk through the windows, change sides only where the present one ends."""
    flips: list[Flip] = []
    side: Side = ""
    before_end = 0.0
    for (start, end), (first, last) in _spans(window):
        reach, new = _farthest(first, mount)
        if side and new != side:
            if _covers(side, first, last, mount):
                new, reach = side, last
            else:
                opens = _other(WEST if new == EAST else EAST, first + SAME_ANGLE, mount)[1] > first - SAME_ANGLE
                flips.append(_flip_in_pause(new, before_end, start, mount, opens))
        side, at = new, start
        while reach < last - 1e-6:
            side, began, following = _other(side, reach, mount)
            earliest = max(start + (began - first) / DEGREES_PER_DAY, at)
            latest = start + (reach - first) / DEGREES_PER_DAY
            meridian = start + (round(reach / 180) * 180 - first) / DEGREES_PER_DAY
            flips.append(_planned(side, at, earliest, latest, meridian, mount, cadence))
            at, reach = flips[-1].planned_tt + mount.flip.to_value(u.day), following
        before_end = end
    return flips


def _covers(side: Side, first: float, last: float, mount: Mount) -> bool:
    """Say whether one side reaches from one hour angle [deg] to another."""
    low, high = _reach(side, mount)
    return any(low + turn <= first + 1e-9 and last <= high + turn + 1e-9 for turn in (-360, 0, 360))


def _planned(side: Side, start: float, earliest: float, latest: float, meridian: float, mount: Mount,
             cadence: float | None) -> Flip:
    """Choose the moment of one flip: the sub boundary nearest the meridian within the limits, or the wait it takes."""
    wanted = min(max(meridian, earliest), latest)
    if cadence is None:
        stop = wanted
    else:
        count = np.floor((latest - start) / cadence + 1e-9)
        first = np.ceil((earliest - start) / cadence - 1e-9)
        stop = start + cadence * (min(max(round((wanted - start) / cadence), first), count) if first <= count
                                  else max(count, 0))
    planned = max(stop, earliest)
    return _flip(side, earliest, latest, planned, stop, (planned - stop) + mount.flip.to_value(u.day))


def _flip_in_pause(side: Side, before: float, after: float, mount: Mount, opens: bool) -> Flip:
    """Turn over between two windows: in the pause, or at its end where the mount may not turn over earlier."""
    took = mount.flip.to_value(u.day)
    if opens:
        return _flip(side, after, before, after, before, after - before + took)
    return _flip(side, before, before, before, before, max(0.0, took - (after - before)))


def _flip(side: Side, earliest: float, latest: float, planned: float, stop: float, lost_days: float) -> Flip:
    return Flip(side=side, earliest_tt=earliest, latest_tt=latest, planned_tt=planned,
                last_sub_ends_tt=stop, lost=(lost_days * u.day).to(u.min))


def _reason(window: TargetWindow, mount: Mount, flips: tuple[Flip, ...], stretches: tuple[PierStretch, ...]) -> str:
    """Say in plain words what the meridian means tonight."""
    if not window.spans:
        return "No window, so no flip."
    if mount.design == "fork":
        return "A fork mount follows through the meridian: no flip."
    if not flips:
        angles = [angle for pair in window.angles_deg for angle in pair]
        if max(angles) <= 0:
            return "All of it lies before the meridian: no flip, telescope west of the pier."
        if min(angles) >= 0 and max(angles) <= 180:
            return "All of it lies after the meridian: no flip, telescope east of the pier."
        return "The mount reaches far enough past the meridian: no flip."
    longest = {side: max((s.hours.value for s in stretches if s.side == side), default=0.0) for side in (WEST, EAST)}
    return (f"A flip is needed to use all of it; the picture turns by 180 deg. Without one: up to "
            f"{longest[WEST]:.1f} h with the telescope west of the pier, {longest[EAST]:.1f} h east of it.")
