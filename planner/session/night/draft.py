"""What a plan starts from: when each target can be worked on, what its hours are worth, and the states to plan with."""

import datetime
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from astropy import units as u

from planner.exposure.speed import SUB_LADDER
from planner.rig import Rig, Site
from planner.session.advice.guide_star import NearbyStars
from planner.session.night.calibration import Calibration
from planner.session.night.limits import NightLimits, away_from_moon
from planner.session.night.motion import MountMotion, mount_motion
from planner.session.night.slots.blocks import State
from planner.session.night.slots.slot_worth import (
    FilterWorth,
    SkyOverNight,
    area_growth,
    filter_worths,
    sky_over_night,
    zenith_speed,
)
from planner.session.night.slots.windows import (
    SIDES,
    Reach,
    Slots,
    Stretch,
    allowed,
    depth,
    nights_for,
    reach,
    within,
)
from planner.session.optimum.problem import Worth
from planner.session.optimum.season import Expected, beside
from planner.session.projects.request import Need, Request
from planner.session.projects.weights import need_weights
from planner.visibility import Target, TargetWindow, target_windows, utc_time

NOTHING = 1 / 60  # h: what is left of a need is not worth a block


class NightDraft:
    """What is found on the way to a plan."""

    def __init__(self, requests: tuple[Request, ...], rig: Rig, site: Site, date: datetime.date,
                 lowest: u.Quantity[u.deg], stars_around: Callable[[Target], NearbyStars | None] | None,
                 margin: u.Quantity[u.min], limits: NightLimits,
                 season: Mapping[tuple[str, str], Expected], constraints: Sequence[Any],
                 calibration: Calibration) -> None:
        self.requests, self.rig, self.site, self.date, self.lowest = requests, rig, site, date, lowest
        self.stars_around, self.season, self.limits = stars_around, season, limits
        self.calibration = calibration
        self.nights = nights_for(requests, site, date)
        self.needs = [(row, need) for row, request in enumerate(requests) for need in request.needs]
        nothing = np.zeros(len(self.needs))
        self.worth = Worth(weight=nothing, wanted=nothing + 1, done=nothing, left=nothing)
        self.weight = nothing + 1
        self.zenith = nothing  # what an hour counts for there without Moon, by need
        self.sky: SkyOverNight | None = None
        self.reaches = {(row, at): within(found, (limits.begin, limits.until)) for at in self.nights
                        for row, found in self._reaches(at, margin, constraints)}

    def _reaches(self, at: float, margin: u.Quantity[u.min], constraints: Sequence[Any]) -> list[tuple[int, Reach]]:
        """Return the rows of the targets that want a depth of the Sun, and their reaches then."""
        rows = [row for row, request in enumerate(self.requests) if at in {depth(need.band) for need in request.needs}]
        windows = target_windows([self.requests[row].target for row in rows], self.site, self.nights[at],
                                 minimum_altitude=self.lowest, mount=self.rig.mount)
        return [(row, self._reach(window, at, margin, constraints)) for row, window in zip(rows, windows, strict=True)]

    def _reach(self, window: TargetWindow, at: float, margin: u.Quantity[u.min], constraints: Sequence[Any]) -> Reach:
        found = reach(window, self.rig, margin)
        dark = self.nights[at].dark
        if not constraints or dark is None:
            return found
        from planner.visibility.own_constraints import allowed_times

        return allowed(found, allowed_times(constraints, window.target, self.site, *dark))

    def first_reach(self, row: int) -> Reach:
        """Return the reach of a request at the least dark sky that one of its filters accepts."""
        return self.reaches[row, min(depth(need.band) for need in self.requests[row].needs)]

    def states(self, slots: Slots) -> list[State]:
        """Return the states in which something is left to do, sides of a target next to each other."""
        worths, motions = self._worths(slots)
        self.worth = self._worth([self._wanted(need, worth)
                                  for (_, need), worth in zip(self.needs, worths, strict=True)])
        self.zenith = np.array([0.0 if motion is None else zenith_speed(self.rig, self.site, need.band, motion)
                                for (_, need), motion in ((one, motions[one[0]]) for one in self.needs)])
        states = []
        for number, ((row, need), worth) in enumerate(zip(self.needs, worths, strict=True)):
            motion = motions[row]
            if worth is None or motion is None or not self.worth.most[number] > NOTHING:
                continue
            stretches = self.stretches(row, need)
            states += [State(target=row, need=number, side=side, stretches=stretches, worth=worth,
                             overhead_s=motion.scene.rig.overhead(SUB_LADDER).to_value(u.s))
                       for side in range(len(SIDES)) if any(part.side == side for part in stretches)]
        return states

    def stretches(self, row: int, need: Need) -> tuple[Stretch, ...]:
        """Return when a need can be worked on, as far from the Moon as the observer wants it."""
        parts, distance = self.reaches[row, depth(need.band)].stretches, self.limits.moon.get(need.band.name)
        return parts if distance is None else away_from_moon(parts, self.requests[row].target, self.site, distance)

    def _worths(self, slots: Slots) -> tuple[list[FilterWorth | None], list[MountMotion | None]]:
        """Return the worth of each need, and the motion of each target."""
        targets = [request.target for request in self.requests]
        self.sky = sky = sky_over_night(targets, self.site, utc_time(slots.middles))
        growth = area_growth(self.rig, self.site, sky)
        motions = [self._motion(row) for row in range(len(targets))]
        bands = {need.band.name: need.band for _, need in self.needs}
        tables = {name: filter_worths(targets, motions, self.rig, self.site, band, sky, growth)
                  for name, band in bands.items()}
        return [tables[need.band.name][row] for row, need in self.needs], motions

    def _motion(self, row: int) -> MountMotion | None:
        window, target = self.first_reach(row).window, self.requests[row].target
        if not window.windows:
            return None
        stars = None if self.stars_around is None else self.stars_around(target)
        return mount_motion(target, self.rig, self.site, window.span, stars)

    @staticmethod
    def _wanted(need: Need, worth: FilterWorth | None) -> float:
        """Return the equivalent hours wanted in all, those done included."""
        if need.hours is not None:
            return float(need.hours.to_value(u.h))
        return 0.0 if worth is None or need.signal_to_noise is None else need.signal_to_noise**2 * worth.hours_for

    def _worth(self, wanted: list[float]) -> Worth:
        """Return what hours are worth, from those wanted by need."""
        hours = np.array(wanted)
        done = np.minimum([need.done.to_value(u.h) for _, need in self.needs], hours)
        self.weight = need_weights(self.needs, hours)
        alone = Worth(weight=self.weight * [self.requests[row].priority for row, _ in self.needs],
                      wanted=np.where(hours > 0, hours, 1.0), done=done, left=hours - done)
        return beside(alone, [self.season.get((self.requests[row].target.name, need.band.name), Expected())
                              for row, need in self.needs]) if self.season else alone
