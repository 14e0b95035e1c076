"""What tonight is for, with all nights that are left in view, and what becomes of each project.

Every need has its useful hours in every coming night: Moon, season, airmass, skyline. The season as a linear program
(`planner.session.optimum.season`) deals out tonight, which is certain, together with later nights, which are clear with
a probability; what it gives tonight is what to do. Beside the roots of their shares the hours count themselves: roots
alone give too little to needs that are large. So lines go under the Moon, luminance into the dark, and what sets
for the season comes first, without a rule that says so.
"""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.checks import Rule, check
from planner.fields import Key, told
from planner.rig import Filter, Rig, Site
from planner.session.advice.answer import LOWEST_ALTITUDE, depression_for
from planner.session.campaign.weather import Outcome, simulated
from planner.session.night.motion import MountMotion, mount_motions, stand_ins
from planner.session.night.slots.slot_worth import kept_of_useful, zenith_speed
from planner.session.optimum.problem import Worth
from planner.session.optimum.season import Expected, SeasonPlan, expected, season_plan, windows
from planner.session.projects.neighbours import one_job
from planner.session.projects.project_requests import mosaic_of
from planner.session.projects.request import Need, Request
from planner.session.projects.weights import need_weights
from planner.session.worth.times import MINIMUM_RUN, times_of
from planner.session.worth.useful_hours import UsefulHours, useful_hours_of
from planner.session.worth.usefulness import usefulness
from planner.session.year.season import why_never, widest_hour_angle
from planner.visibility import Target
from planner.visibility.moving_targets import placed

# What all hours wanted are worth by themselves, beside the roots of their shares: see COMPLETION of a request.
HOURS = 0.3
CLEAR = 0.4  # share of nights that are clear, unless the observer says (no source)
NIGHTS = 120
WATCHES = 4  # of a night, told apart
SEASONS = 200  # of simulated weather
CLEAR_RULE = Rule(kind="number", more_than=0, at_most=1, remedy="Give the share of clear nights, e.g. 0.4.")
NIGHTS_RULE = Rule(kind="whole", at_least=1, at_most=366, remedy="Count the nights, 1 to 366.")
STAY = float(MINIMUM_RUN.to_value("h"))  # h
NEARLY = 0.5  # of a stay: from here on it is made whole, at the cost of a later night's
LEAST = 0.1  # h: less is no visit
POOR = 0.3  # of what an hour brings on average: for less nobody comes


@dataclass(frozen=True, kw_only=True)
class Watches:
    """What each need can get in each watch (quarter of the dark) of each night."""

    # (needs, nights, watches), equivalent hours per hour of the clock; hours above the limits in the dark
    rate: np.ndarray
    up: np.ndarray
    # (nights, watches), hours in which frames can be taken: what focus and changes of target usually cost is left out
    dark: np.ndarray
    whole: np.ndarray  # (nights,), hours of dark
    moon: np.ndarray  # (nights,), lit share of the Moon in the middle of the dark
    dates: tuple[datetime.date, ...]

    @cached_property
    def night_rate(self) -> np.ndarray:
        """Equivalent hours per hour of the clock over a whole night, (needs, nights)."""
        clock = self.up.sum(axis=2)
        return np.divide((self.rate * self.up).sum(axis=2), clock, out=np.zeros_like(clock), where=clock > 0)


@dataclass(frozen=True, kw_only=True)
class Campaign:
    """All needs over the nights; arrays are (needs,) or (needs, nights). The panels of a mosaic are one project."""

    requests: tuple[Request, ...]
    needs: tuple[tuple[int, Need], ...]  # with the number of their request
    rig: Annotated[Rig, "that works on them"]
    site: Annotated[Site, "where"]
    clear: Annotated[float, "probability that a later night is clear", Key("clear_probability")]
    worth: Worth
    projects: tuple[str, ...]  # their names
    owner: np.ndarray  # the number of each need's project, (needs,)
    finish: np.ndarray  # (projects,), what each is worth when all of it is there, beside its hours
    watch: Watches
    main: dict[str, str]  # by neighbour: in whose field it lies; it is no request of its own
    never: dict[str, str]  # by project that no night has an hour of: why
    plan: SeasonPlan  # tonight is the first night
    tonight: np.ndarray | None = None  # equivalent hours that the plan of the first night brings; as `plan` if absent
    first_night = told(datetime.date, "its evening", lambda found: found.dates[0])
    last_night = told(datetime.date, "its evening", lambda found: found.dates[-1])
    simulated_seasons = told(int, "that the odds are shares of", lambda _: SEASONS)

    @property
    def dates(self) -> tuple[datetime.date, ...]:
        """The nights."""
        return self.watch.dates

    @property
    def chance(self) -> np.ndarray:
        """The probability that each night is clear, (nights,)."""
        return np.append(1.0, np.full(len(self.dates) - 1, self.clear))

    @cached_property
    def outcome(self) -> Outcome:
        """What becomes of the needs in seasons of simulated weather."""
        return simulated(self.worth, self.plan.clock_in_watch, self.watch.rate, self.watch.up, self.watch.dark,
                         self.chance, owner=self.owner, finish=self.finish, seasons=SEASONS, tonight=self.tonight)

    def finish_night(self, project: int) -> datetime.date | None:
        """Return the night by which a project is finished with a probability of half; None if it is less."""
        night = self.outcome.median_night(self.rows(project))
        return None if night is None else self.dates[night]

    @cached_property
    def visits(self) -> np.ndarray:
        """Hours on the clock in whole visits if the night is clear, from the seasons of the odds, as `watch.up`."""
        gain = self.watch.rate * self.outcome.clear[:, np.newaxis]
        return visits(self.outcome.clock, gain, self.watch.up, self.watch.dark, self.owner)

    @property
    def expected(self) -> dict[tuple[str, str], Expected]:
        """What the nights after tonight are expected to bring, by target and filter."""
        found = expected(self.worth, self.plan, self.owner, self.finish)
        return {(self.requests[row].target.name, need.band.name): one
                for (row, need), one in zip(self.needs, found, strict=True)}

    def rows(self, project: int) -> np.ndarray:
        """Return the numbers of a project's needs."""
        return np.flatnonzero(self.owner == project)


def campaign(requests: Sequence[Request], rig: Rig, site: Site, date: datetime.date, *, nights: int = NIGHTS,
             clear: float = CLEAR, lowest_altitude: u.Quantity[u.deg] = LOWEST_ALTITUDE) -> Campaign:
    """Return the campaign from one night on; signal-to-noise wishes are left aside.

    Parameters
    ----------
    requests : sequence of Request
        Each target once, wanted in equivalent hours; neighbours in one field are one job.
    date : datetime.date
        Tonight, which is clear.
    nights : int
        Tonight and later ones, 1 to 366.
    clear : float
        Probability that a later night is clear.
    lowest_altitude : Quantity [deg], scalar
        Apparent.

    Raises
    ------
    InvalidInputError
        For a number of nights or a probability out of range.
    """
    count, share = check("nights", nights, NIGHTS_RULE), check("clear", clear, CLEAR_RULE)
    joint, main = one_job(requests, rig)
    requests = [request for request in joint if request.target.name not in main]
    needs = tuple((row, need) for row, request in enumerate(requests) for need in request.needs
                  if need.hours is not None and need.hours > 0)
    hours = np.array([need.hours.to_value(u.h) for _, need in needs if need.hours is not None])
    done = np.minimum([need.done.to_value(u.h) for _, need in needs], hours)
    priority = np.array([requests[row].priority for row, _ in needs])
    weight = need_weights(needs, hours) * priority
    worth = Worth(weight=weight, wanted=hours, done=done, left=hours - done,
                  hourly=HOURS * priority * len(hours) / max(hours.sum(), 1e-9))
    targets = [request.target for request in requests]
    watch = _season(needs, targets, rig, site, date, count, lowest_altitude)
    names = [mosaic_of(target) or target.name for target in targets]
    projects = list(dict.fromkeys(names))
    owner = np.array([projects.index(names[row]) for row, _ in needs], int)
    finish = np.array([requests[names.index(name)].completion for name in projects]) * np.bincount(
        owner, weight, len(projects))
    chance = np.append(1.0, np.full(count - 1, share))
    plan = season_plan(worth, watch.rate, watch.up, watch.dark, chance, owner=owner, finish=finish)
    never = {name: why_never(targets[names.index(name)], rig, site, watch.dates, watch.dark.sum(axis=1),
                             lowest_altitude)
             for row, name in enumerate(projects) if (owner == row).any() and not watch.up[owner == row].any()}
    return Campaign(
        requests=tuple(requests), needs=needs, rig=rig, site=site, clear=share, worth=worth, finish=finish, main=main,
        plan=plan, watch=watch, never=never, projects=tuple(projects), owner=owner)


def _season(needs: Sequence[tuple[int, Need]], targets: Sequence[Target], rig: Rig, site: Site, date: datetime.date,
            nights: int, lowest: u.Quantity) -> Watches:
    """Return what each need can get in each watch of each night."""
    useful, up, dark = *np.zeros((2, len(needs), nights, WATCHES)), np.zeros((nights, WATCHES))
    moon, dates = np.zeros(nights), tuple(date + datetime.timedelta(days=day) for day in range(nights))
    for band in {need.band.name: need.band for _, need in needs}.values():
        rows = [number for number, (_, need) in enumerate(needs) if need.band.name == band.name]
        found = _hours(band, [targets[needs[number][0]] for number in rows], rig, site, date, nights, lowest)
        useful[rows], up[rows] = found.useful_in_watch.to_value(u.h), found.up_in_watch.to_value(u.h)
        dark = np.maximum(dark, found.cells.watch_hours(WATCHES).to_value(u.h))
        moon, dates = found.cells.moon_illumination.value, found.cells.dates
    rate = np.divide(useful, up, out=np.zeros_like(useful), where=up > 0)
    speeds = _speeds(needs, targets, rig, site, up.sum(axis=2), dates, lowest)
    return Watches(rate=rate * speeds[:, np.newaxis, np.newaxis], up=up, dark=dark * _collecting(rig, site),
                   whole=dark.sum(axis=1), moon=moon, dates=dates)


def _collecting(rig: Rig, site: Site) -> float:
    """Return the share of the clock that focus and changes of target leave, in stays twice the least."""
    times = times_of(rig, site)
    return float(times.collecting * (1 - times.change / (2 * times.minimum_block)))


def _speeds(needs: Sequence[tuple[int, Need]], targets: Sequence[Target], rig: Rig, site: Site, up: np.ndarray,
            dates: Sequence[datetime.date], lowest: u.Quantity) -> np.ndarray:
    """Return what an hour in the moonless zenith counts for, mount included, (needs,); 0 where nothing is ever up."""
    ever = {row: placed(targets[row], site, dates[int(np.argmax(hours))])
            for (row, _), hours in zip(needs, up, strict=True) if hours.max() > 0}
    through, motions = stand_ins(rig, site), dict[tuple[int, str], MountMotion]()
    for row, target in ever.items():
        found = mount_motions(target, rig, site, through, [need.band for owner, need in needs if owner == row],
                              widest_hour_angle(target, site, lowest))
        motions |= {(row, name): motion for name, motion in found.items()}
    shares = kept_of_useful(usefulness(rig, site, rig.middle_filter), list(motions.values())) if motions else []
    kept = dict(zip(motions, shares, strict=True))
    keys = [(row, need.band.name) for row, need in needs]
    return np.array([kept[key] * zenith_speed(rig, site, need.band, motions[key]) if key in motions else 0.0
                     for key, (_, need) in zip(keys, needs, strict=True)])


def _hours(band: Filter, targets: Sequence[Target], rig: Rig, site: Site, date: datetime.date, nights: int,
           lowest: u.Quantity) -> UsefulHours:
    return useful_hours_of(targets, usefulness(rig, site, band), date, nights, depression=depression_for(band),
                           minimum_altitude=lowest, mount=rig.mount, watches=WATCHES)


def visits(clock: np.ndarray, gain: np.ndarray, up: np.ndarray, room: np.ndarray, owner: np.ndarray) -> np.ndarray:
    """Return the hours of each visit, (needs, nights, watches): a stay or more, or all that is left of a need.

    They bring a need as much in all as its pieces, where there is room.

    Parameters
    ----------
    clock, gain, up : ndarray, (needs, nights, watches)
        Hours that each night gives on average, what an hour brings, and hours above the limits.
    room : ndarray, (nights, watches)
        Hours that can be used.
    owner : ndarray of int, (needs,)
        The project of each need: its needs share the hours in which it is up.
    """
    window = windows(up, owner)
    given, hours, brought = np.zeros_like(clock), clock.sum(axis=2), (clock * gain).sum(axis=2)
    rate = np.divide(brought, hours, out=np.full_like(hours, np.inf), where=brought > 0)
    owed, later = np.zeros(len(clock)), brought.sum(axis=1)
    poor = POOR * later / np.maximum(hours.sum(axis=1), LEAST)
    for night, free in enumerate(room.copy()):
        owed, later = owed + brought[:, night], later - brought[:, night]
        due, rest = owed / rate[:, night], (owed + later) / rate[:, night]
        least = np.minimum(STAY, rest)
        some = np.flatnonzero((least >= LEAST) & (due >= NEARLY * least) & (rate[:, night] >= poor))
        for most in (np.maximum(due, least), rest):  # who is there stays for as long as nobody else comes
            for need in some[np.argsort(-due[some], kind="stable")]:
                there = given[need, night]
                more = _taken(max(most[need] - there.sum(), 0.0), clock[need, night],
                              np.minimum.reduce([up[need, night] - there, window[owner[need], night], free]))
                if there.sum() + more.sum() >= 0.999 * least[need]:
                    there += more
                    free -= more
                    window[owner[need], night] -= more
                    owed[need] -= more @ gain[need, night] if least[need] == STAY else owed[need] + later[need]
    return given


def _taken(hours: float, wished: np.ndarray, most: np.ndarray) -> np.ndarray:
    """Return hours of a visit by watch, from those with the most hours on."""
    taken = np.zeros_like(most)
    for watch in np.lexsort((-most, -wished)):
        taken[watch] = min(most[watch], hours - taken.sum())
    return taken
