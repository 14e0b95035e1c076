"""What a plan starts from: when each target can be worked on, what its hours are worth, and the states to plan with."""

import datetime
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import given
from planner.cores import over_cores
from planner.exposure.speed import SUB_LADDER
from planner.rig import Filter, Rig, Site
from planner.session.advice.answer import window_samples
from planner.session.advice.guide_star import NearbyStars
from planner.session.night.calibration import Calibration
from planner.session.night.limits import NightLimits, away_from_moon
from planner.session.night.motion import MountMotion, mount_motions, stand_ins
from planner.session.night.slots.blocks import State
from planner.session.night.slots.moonlit import moonlit_weights
from planner.session.night.slots.rows import best_cases
from planner.session.night.slots.shortlist import BestCases
from planner.session.night.slots.slot_worth import (
    FilterWorth,
    SkyOverNight,
    area_growth,
    filter_worths,
    moon_leaves,
    most_rates,
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
from planner.session.projects.default_request import filling
from planner.session.projects.request import Need, Request
from planner.session.projects.weights import need_weights
from planner.session.worth.times import Times
from planner.visibility import Target, TargetWindow, target_windows, utc_time

NOTHING = 1 / 60  # h: what is left of a need is not worth a block
# Of what an hour counts for in the moonless zenith: hours of less are not worth a frame (common practice, no source).
LEAST_RATE = 0.05
# Of what all hours of a target's weightiest filter are worth: what it costs to begin one that nothing is done of, in a
# night that is all there is. First hours are worth most, so that a night would be cut up among all targets that are up;
# with it a night has two to four (common practice, no source).
STAY = 0.35
# A picture needs all of its broad bands: a night that is all there is counts them by the one that lags most, in full
# from PART of the greatest of their shares on, as BROKEN at least (common practice, no source).
PART, BROKEN = 0.3, 0.1


class NightDraft:
    """What is found on the way to a plan."""

    def __init__(self, requests: tuple[Request, ...], rig: Rig, site: Site, date: datetime.date,
                 lowest: u.Quantity[u.deg], stars_around: Callable[[Target], NearbyStars | None] | None,
                 margin: u.Quantity[u.min], limits: NightLimits,
                 season: Mapping[tuple[str, str], Expected] | None, constraints: Sequence[Any],
                 calibration: Calibration, main: Mapping[str, str]) -> None:
        self.rig, self.site, self.date, self.lowest = rig, site, date, lowest
        self.stars_around, self.season, self.limits = stars_around, season, limits
        self.stay = STAY if season is None else 0.0  # other nights go on with what is begun
        self.begun: set[int] | None = None  # requests that are worth beginning; None: all
        self.calibration, self.main = calibration, main  # by neighbour: whose frames show it
        self.bands = {need.band.name: need.band for request in requests for need in request.needs}
        self.depths = {name: depth(band) for name, band in self.bands.items()}
        self.nights = nights_for(self.depths.values(), site, date)
        self.requests = requests if season is not None else filling(
            requests, max(one.dark_hours for one in self.nights.values()))
        self.needs = [(row, need) for row, request in enumerate(self.requests) for need in request.needs]
        ends = np.cumsum([len(request.needs) for request in requests]).tolist()
        self.numbers = [list(range(end - len(one.needs), end)) for one, end in zip(requests, ends, strict=True)]
        self.picture = np.array([number if need.band.narrow else len(self.needs) + row
                                 for number, (row, need) in enumerate(self.needs)], int)
        nothing = np.zeros(len(self.needs))
        self.worth = Worth(weight=nothing, wanted=nothing + 1, done=nothing, left=nothing)
        self.weight = nothing + 1
        self.moonlit = nothing + 1  # what is left of it under the Moon, where no other nights are looked at
        self.zenith = nothing.copy()  # what an hour counts for there without Moon, by need
        self.faint: set[int] = set()  # needs that have no hour worth a frame
        self.possible = np.zeros(len(self.needs), bool)  # needs that something can be gained of
        self.sky: SkyOverNight | None = None
        self.hours_for: dict[int, float] = {}  # of the needs looked at: for a signal-to-noise ratio of 1
        self.stand_ins = stand_ins(rig, site)  # filters through which stars are judged
        self.motions: dict[int, dict[str, MountMotion]] = {}  # of the requests looked at, by filter
        self.reaches = {(row, at): within(found, (limits.begin, limits.until)) for at in self.nights
                        for row, found in self._reaches(at, margin, constraints)}

    def _reaches(self, at: float, margin: u.Quantity[u.min], constraints: Sequence[Any]) -> list[tuple[int, Reach]]:
        """Return the rows of the targets that want a depth of the Sun, and their reaches then."""
        rows = [row for row, request in enumerate(self.requests)
                if any(self.depths[need.band.name] == at for need in request.needs)]
        windows = target_windows([self.requests[row].target for row in rows], self.site, self.nights[at],
                                 minimum_altitude=self.lowest, mount=self.rig.mount)
        return [(row, self._reach(window, at, margin, constraints)) for row, window in zip(rows, windows, strict=True)]

    def _reach(self, window: TargetWindow, at: float, margin: u.Quantity[u.min], constraints: Sequence[Any]) -> Reach:
        found = reach(window, self.rig, margin)
        if not constraints or (dark := self.nights[at].dark) is None:
            return found
        from planner.visibility.adapters import allowed_times

        return allowed(found, allowed_times(constraints, window.target, self.site, *dark))

    def first_reach(self, row: int) -> Reach:
        """Return the reach of a request at the least dark sky that one of its filters accepts."""
        return self.reaches[row, min(self.depths[need.band.name] for need in self.requests[row].needs)]

    def look(self, slots: Slots) -> None:
        """Find where all targets stand over the slots."""
        first, self.slots, targets = self.sky is None, slots, [request.target for request in self.requests]
        self.sky = sky_over_night(targets, self.site, utc_time(slots.middles))
        self.growth = area_growth(self.rig, self.site, self.sky)
        if first and self.season is None:  # what tonight is for hangs on no slot
            self.moonlit = self._moonlit()

    def _moonlit(self) -> np.ndarray:
        """Return what the worth of each need is multiplied by for what the Moon leaves of it, (needs,)."""
        sky, slots = given(self.sky), self.slots
        kept, clock = np.ones((2, len(self.needs), len(slots)))
        for band, numbers in self._by_band(range(len(self.requests))):
            here = [self.needs[number][0] for number in numbers]
            kept[numbers] = moon_leaves(self.rig, self.site, band, sky.of(here))
            for number in numbers:
                row, need = self.needs[number]
                parts = self.stretches(row, need) if need.hours is None or need.hours > need.done else ()
                clock[number] = np.maximum(*(slots.share(parts, side) for side in range(len(SIDES))))
        return moonlit_weights(kept, clock, self.picture)

    def best_cases(self, times: Times) -> BestCases:
        """Return the most that each need can gain in each slot, on a mount that moves no star."""
        self.worth = self._worth()
        rate = np.zeros((len(self.needs), len(self.slots)))
        shares: dict[tuple[Stretch, ...], np.ndarray] = {}
        for band, numbers in self._by_band(range(len(self.requests))):
            most = most_rates(self.rig, self.site, band, given(self.sky), self.growth)
            for number in numbers:
                row, need = self.needs[number]
                stretches = self.stretches(row, need)
                if stretches not in shares:
                    shares[stretches] = np.maximum(*(self.slots.share(stretches, side) for side in range(len(SIDES))))
                rate[number] = shares[stretches] * most[row]
        return best_cases(rate, np.array([row for row, _ in self.needs]), self.worth, self.slots, times,
                          len(self.requests))

    def states(self, rows: Collection[int]) -> list[State]:
        """Return the states of some requests in which something is left to do, sides of a target next to each other."""
        self._meet(rows)
        worths = self._worths(rows)
        self.hours_for |= {number: worth.hours_for for number, worth in worths.items()}
        self.worth = self._worth()
        states, overheads = [], dict[int, np.ndarray]()
        for number, worth in sorted(worths.items()):
            row, need = self.needs[number]
            motion = given(self._motion(number))
            if row not in overheads:
                overheads[row] = motion.scene.rig.overhead(SUB_LADDER).to_value(u.s)
            if not self.zenith[number] > 0:
                self.zenith[number] = zenith_speed(self.rig, self.site, need.band, motion, over=np.max)
            if not self.worth.most[number] > NOTHING:
                continue
            bright = worth.from_rate(LEAST_RATE * self.zenith[number])
            self.possible[number] = bright.best.any()
            if not self.possible[number]:
                self.faint.add(number)
            stretches = self.stretches(row, need)
            states += [State(target=row, need=number, side=side, stretches=stretches, worth=bright,
                             overhead_s=overheads[row])
                       for side in range(len(SIDES)) if any(part.side == side for part in stretches)]
        return states

    def stretches(self, row: int, need: Need) -> tuple[Stretch, ...]:
        """Return when a need can be worked on, as far from the Moon as the observer wants it."""
        parts, distance = self.reaches[row, self.depths[need.band.name]].stretches, self.limits.moon.get(need.band.name)
        return parts if distance is None else away_from_moon(parts, self.requests[row].target, self.site, distance)

    def _worths(self, rows: Collection[int]) -> dict[int, FilterWorth]:
        """Return the worths of the needs of some requests, by number, without those that are never up."""
        sky, found = given(self.sky), {}
        for band, numbers in self._by_band(rows):
            here = [self.needs[number][0] for number in numbers]
            tables = filter_worths([self.requests[row].target for row in here], list(map(self._motion, numbers)),
                                   self.rig, self.site, band, sky.of(here), self.growth[here])
            found.update({number: one for number, one in zip(numbers, tables, strict=True) if one is not None})
        return found

    def _by_band(self, rows: Collection[int]) -> Iterator[tuple[Filter, list[int]]]:
        """Yield each filter with the numbers of the needs of some requests that want it."""
        for name, band in self.bands.items():
            yield band, [number for row in sorted(rows) for number in self.numbers[row]
                         if self.needs[number][1].band.name == name]

    def _motion(self, number: int) -> MountMotion | None:
        """Return what the mount does to the stars of a need; None where its target is never up."""
        row, need = self.needs[number]
        return self.motions[row].get(need.band.name)

    def _meet(self, rows: Collection[int]) -> None:
        """Find what the mount does to the stars of some requests, by filter; of none that is never up."""
        fresh = [row for row in sorted(rows) if row not in self.motions]
        self.motions |= dict(zip(fresh, over_cores(self._motions, fresh), strict=True))

    def _motions(self, row: int) -> dict[str, MountMotion]:
        """Return what the mount does to the stars of a request, by filter."""
        request, window = self.requests[row], self.first_reach(row).window
        if not window.windows:
            return {}
        stars = None if self.stars_around is None else self.stars_around(request.target)
        return mount_motions(request.target, self.rig, self.site, self.stand_ins, [one.band for one in request.needs],
                             window_samples(window), stars)

    def _wanted(self, number: int) -> float:
        """Return the equivalent hours wanted of a need in all, those done included."""
        need = self.needs[number][1]
        if need.hours is not None:
            return float(need.hours.to_value(u.h))
        return 0.0 if need.signal_to_noise is None else need.signal_to_noise**2 * self.hours_for.get(number, 0.0)

    @property
    def stay_cost(self) -> np.ndarray:
        """What it costs to begin each request's target, (requests,): less of one the more of it is done."""
        owner, worth = [row for row, _ in self.needs], self.worth
        weight, done = np.zeros((2, len(self.requests)))
        np.maximum.at(weight, owner, worth.weight)
        np.maximum.at(done, owner, np.minimum(worth.done / worth.wanted, 1.0))
        return self.stay * weight * (1 - done)

    def whole(self, gained: np.ndarray) -> np.ndarray:
        """Return what hours of each need count for, (needs,), where hours are gained: 1 of a line, its own picture.

        Bands that nothing can be gained of are left aside; with other nights to come each counts in full.
        """
        if self.season is not None:
            return np.ones(len(self.needs))
        return np.concatenate([self.counts(row, gained[numbers]) for row, numbers in enumerate(self.numbers)])

    def counts(self, row: int, gained: np.ndarray) -> np.ndarray:
        """Return what hours of a request's needs count for where hours of them are gained, as `whole`, (…, needs)."""
        numbers = self.numbers[row]
        broad = np.array([not self.needs[number][1].band.narrow for number in numbers])
        share = (self.worth.done[numbers] + gained) / self.worth.wanted[numbers]
        least = share[..., broad & self.possible[numbers]].min(axis=-1, initial=np.inf)
        most = PART * share[..., broad].max(axis=-1, initial=0.0)
        lag = np.divide(least, most, out=np.ones_like(least), where=most > 0)
        return np.where(broad, np.clip(lag, BROKEN, 1.0)[..., np.newaxis], 1.0)

    def _worth(self) -> Worth:
        """Return what hours are worth, of those wanted; those of a signal-to-noise ratio once a need was looked at."""
        hours = np.array([self._wanted(number) for number in range(len(self.needs))])
        done = np.minimum([need.done.to_value(u.h) for _, need in self.needs], hours)
        self.weight = need_weights(self.needs, hours) * self.moonlit
        alone = Worth(weight=self.weight * [self.requests[row].priority for row, _ in self.needs],
                      wanted=np.where(hours > 0, hours, 1.0), done=done, left=hours - done)
        return beside(alone, [self.season.get((self.requests[row].target.name, need.band.name), Expected())
                              for row, need in self.needs]) if self.season else alone
