"""Seasons under a real sky and random weather: the season's program against three ways without it.

    python tests/session/campaign/seasons.py [SEASONS [NIGHTS]] [--first SEED] [--scheduler ADDRESS] [--results FILE]

prints for three sites the share of the wanted hours reached, the mean root of each need's share (its signal-to-noise
over that wanted), and the projects finished, for each way; in how many seasons ours is ahead; and what became of its
odds.

Sun, Moon, air, moonlight, weather, the three other ways and the count of what is reached are written here and share
nothing with the planner. Each way pays for its changes of target and filter; night by night for the fewest that there
can be, but for the last, which the planner's own solver plans without a season. What an hour counts for is known to all
alike.
"""

import argparse
import itertools
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import linprog

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[3])]

from planner.session.campaign.campaign import HOURS
from planner.session.campaign.weather import simulated
from planner.session.optimum.problem import FlowProblem, Worth
from planner.session.optimum.season import beside, expected, season_plan
from planner.session.optimum.solve import solve_flow
from planner.session.projects.request import COMPLETION

SITES = {"47 N, clear 0.30": (47.0, 0.30), "35 N, clear 0.55": (35.0, 0.55), "30 S, clear 0.45": (-30.0, 0.45)}
SLOT, LOWEST, PROJECTS = 0.5, 30.0, 12  # h, deg
TARGET, FILTER = 5 / 60, 1 / 60  # h, to change
PERSISTENCE = 0.3  # correlation of one night's weather with the next
WANTED = {"galaxy": {"L": 3.0, "R": 1.0, "G": 1.0, "B": 1.0}, "ionised": {"Ha": 3.0, "OIII": 6.5, "SII": 9.0},
          "dust": {"L": 4.0, "R": 1.5, "G": 1.5, "B": 1.5}}
LINES = ("Ha", "OIII", "SII")
EFFICIENT = 1 - TARGET / 2  # of the clock that changes of target leave, in stays of two hours: as a campaign counts
ENOUGH = 0.98  # of what is wanted is finished


@dataclass(frozen=True)
class World:
    """Equivalent hours of each need in a slot of each night, (needs, nights, slots); 0 where it is down or light."""

    gain: np.ndarray
    altitude: np.ndarray  # of its target
    hour_angle: np.ndarray
    wanted: np.ndarray
    owner: np.ndarray
    clear: np.ndarray  # what the weather does
    share: float  # of nights that are clear, as the observer knows it


def sun_and_moon(day):
    """Return RA, Dec of Sun and Moon [deg] and the Moon's phase angle at days from J2000.0.

    Low-precision formulae of The Astronomical Almanac, pages C5 and D22, from memory: 0.01 and 0.3 deg.
    """
    def sine(angle):
        return np.sin(np.radians(angle))

    anomaly, century = 357.528 + 0.9856003 * day, day / 36525
    sun = 280.460 + 0.9856474 * day + 1.915 * sine(anomaly) + 0.020 * sine(2 * anomaly)
    moon = (218.32 + 481267.881 * century + 6.29 * sine(135.0 + 477198.87 * century)
            - 1.27 * sine(259.3 - 413335.36 * century) + 0.66 * sine(235.7 + 890534.22 * century)
            + 0.21 * sine(269.9 + 954397.74 * century) - 0.19 * sine(357.5 + 35999.05 * century)
            - 0.11 * sine(186.5 + 966404.03 * century))
    north = (5.13 * sine(93.3 + 483202.02 * century) + 0.28 * sine(228.2 + 960400.89 * century)
             - 0.28 * sine(318.3 + 6003.15 * century) - 0.17 * sine(217.6 - 407332.21 * century))
    apart = np.degrees(np.arccos(np.cos(np.radians(north)) * np.cos(np.radians(moon - sun))))
    return equatorial(sun, 0 * sun), equatorial(moon, north), 180 - apart


def equatorial(longitude, latitude):
    """Return RA and Dec of ecliptic coordinates [deg]."""
    along, up, tilt = np.radians(longitude), np.radians(latitude), np.radians(23.439)
    x, y = np.cos(up) * np.cos(along), np.cos(up) * np.sin(along)
    y, z = np.cos(tilt) * y - np.sin(tilt) * np.sin(up), np.sin(tilt) * y + np.cos(tilt) * np.sin(up)
    return np.degrees(np.arctan2(y, x)), np.degrees(np.arcsin(z))


def horizontal(ra, dec, sidereal, latitude):
    """Return altitude and hour angle [deg]."""
    hour = (sidereal - ra + 180) % 360 - 180
    dec, lat = np.radians(dec), np.radians(latitude)
    sine = np.sin(lat) * np.sin(dec) + np.cos(lat) * np.cos(dec) * np.cos(np.radians(hour))
    return np.degrees(np.arcsin(sine)), hour


def moonlight(altitude, phase, apart, target_altitude, extinction=0.172):
    """Return the moonlight over a dark sky of 21.6 mag/arcsec2 (Krisciunas & Schaefer 1991, PASP 103, 1033, eq. 15-21).

    Their formulae from memory.
    """
    def air(height):
        return (1 - 0.96 * np.cos(np.radians(np.maximum(height, 0.0))) ** 2) ** -0.5

    light = 10 ** (-0.4 * (3.84 + 0.026 * phase + 4e-9 * phase**4))
    scatter = 10**5.36 * (1.06 + np.cos(np.radians(apart)) ** 2) + 10 ** (6.15 - apart / 40)
    glow = scatter * light * 10 ** (-0.4 * extinction * air(altitude)) * (
        1 - 10 ** (-0.4 * extinction * air(target_altitude)))
    return np.where(altitude > 0, glow, 0.0) / (34.08 * np.exp(20.7233 - 0.92104 * 21.6))


def world(seed, latitude, share, nights=180, crowded=1.2):
    """Return a season: `crowded` times as much is wanted as clear nights hold at 0.55 an hour."""
    rng = np.random.default_rng(seed)
    evening = np.floor(rng.uniform(9000, 9365)) + np.arange(nights) + 0.5  # midnight at longitude 0
    time = evening[:, np.newaxis] + np.arange(-8, 8, SLOT) / 24
    sun, moon, phase = sun_and_moon(time)
    sidereal = (280.46062 + 360.98564737 * time) % 360
    night = horizontal(*sun, sidereal, latitude)[0] < -15
    moon_altitude = horizontal(*moon, sidereal, latitude)[0]
    gain, altitudes, hours, wanted, owner = [], [], [], [], []
    while len(set(owner)) < PROJECTS:
        ra, dec = rng.uniform(0, 360), np.degrees(np.arcsin(rng.uniform(-1, 1)))
        altitude, hour = horizontal(ra, dec, sidereal, latitude)
        if (night & (altitude > LOWEST)).sum() * SLOT < 60:
            continue
        apart = np.degrees(np.arccos(np.clip(np.sin(np.radians(dec)) * np.sin(np.radians(moon[1])) + np.cos(
            np.radians(dec)) * np.cos(np.radians(moon[1])) * np.cos(np.radians(ra - moon[0])), -1, 1)))
        light = moonlight(moon_altitude, phase, apart, altitude)
        project = len(set(owner))
        for band, hours_wanted in WANTED[rng.choice(list(WANTED))].items():
            high = np.radians(np.maximum(altitude, 5))
            air = 1 / np.sin(high)
            lost = 10 ** (-0.8 * (0.25 if band in ("B", "OIII") else 0.12) * (air - 1)) / air**1.2
            glow = 1 + light * (0.25 if band in LINES else 1.0)  # a line's sky is a quarter of its noise
            gain.append(np.where(night & (altitude > LOWEST), 0.85 * SLOT * lost / glow, 0.0))
            altitudes.append(altitude)
            hours.append(hour)
            wanted.append(hours_wanted * rng.uniform(0.7, 1.4))
            owner.append(project)
    wanted = np.array(wanted) * crowded * share * night.sum() * SLOT * 0.55 / np.sum(wanted)
    return World(np.array(gain), np.array(altitudes), np.array(hours), wanted, np.array(owner),
                 weather(rng, share, nights), share)


def weather(rng, share, nights):
    """Return which nights are clear: as the night before with PERSISTENCE, else by chance."""
    clear = np.zeros(nights, bool)
    for night in range(nights):
        kept = night and rng.random() < PERSISTENCE
        clear[night] = clear[night - 1] if kept else rng.random() < share
    return clear


def program(world, night, done, completion):
    """Return the season from a night on as its program takes it: worth; rate, hours up, dark; worth of finishing."""
    gain = world.gain[:, night:]
    edges = np.arange(0, gain.shape[2], 8)  # four hours each
    up = np.add.reduceat(gain > 0, edges, axis=2) * SLOT
    rate = np.divide(np.add.reduceat(gain, edges, axis=2), up, out=np.zeros(up.shape), where=up > 0)
    dark = np.add.reduceat((gain > 0).any(axis=0), edges, axis=1) * SLOT * EFFICIENT
    worth = Worth(weight=np.ones(len(done)), wanted=world.wanted, done=done, left=world.wanted - done,
                  hourly=np.full(len(done), HOURS / world.wanted.mean()))
    return worth, (rate, up, dark), completion * np.bincount(world.owner).astype(float)


def told(world, completion):
    """Return the odds of each project that the planner promises before the first night."""
    worth, tables, finish = program(world, 0, np.zeros(len(world.wanted)), completion)
    chance = np.full(world.gain.shape[1], world.share)
    plan = season_plan(worth, *tables, chance, owner=world.owner, finish=finish)
    outcome = simulated(worth, plan.clock_in_watch, *tables, chance, owner=world.owner, finish=finish, seasons=100)
    return [outcome.finished(np.flatnonzero(world.owner == project)) for project in range(PROJECTS)]


def ours(world, night, done, completion):
    """Return hours gained by need in a night planned toward the season's allotment, by the planner's own solver."""
    worth, tables, finish = program(world, night, done, completion)
    chance = np.append(1.0, np.full(len(tables[2]) - 1, world.share))
    plan = season_plan(worth, *tables, chance, owner=world.owner, finish=finish)
    return solved(world, night, beside(worth, expected(worth, plan, world.owner, finish)), worth.left)


def alone(world, night, done):
    """Return hours gained by need in a night planned by itself, by the planner's own solver."""
    left = world.wanted - done
    return solved(world, night, Worth(weight=np.ones(len(done)), wanted=world.wanted, done=done, left=left), left)


def solved(world, night, worth, left):
    """Return hours gained by need in a night whose hours are worth so much, in whole runs."""
    gain = world.gain[:, night]
    rows = np.flatnonzero((gain > 0).any(axis=1) & (left > 1e-3))
    if not len(rows):
        return np.zeros(len(left))
    least = np.clip(np.ceil(left[rows] / gain[rows].max(axis=1)), 1, 2).astype(int)  # 2, or all that is left
    problem = FlowProblem(gain=gain[rows], group=world.owner[rows], target=world.owner[rows], need_index=rows,
                          worth=worth, change_cost=TARGET / SLOT, filter_cost=FILTER / SLOT, minimum_block=2,
                          least_run=least)
    gained, before = np.zeros(len(left)), None
    for run in solve_flow(problem).runs:  # counted here
        brought = gain[rows[run.row], run.start:run.end].copy()
        other = before is None or world.owner[rows[before]] != world.owner[rows[run.row]]
        brought[0] *= 1 - (TARGET if other else FILTER) / SLOT
        gained[rows[run.row]] += brought.sum()
        before = run.row
    return gained


def by_night(world, night, done, *, root=True):
    """Return hours gained where each night is dealt out by itself: of the roots of shares, or of shares, the most."""
    gain = world.gain[:, night]
    left = world.wanted - done
    need, slot = np.nonzero((gain > 0) & (left > 1e-3)[:, np.newaxis])
    pieces = 8 if root else 1
    ends = (np.sqrt(done / world.wanted) + np.linspace(0, 1, pieces + 1)[:, np.newaxis]
            * (1 - np.sqrt(done / world.wanted))) ** (1 if root else 2)
    length = np.diff(ends ** 2 if root else ends, axis=0) * world.wanted
    slope = (np.diff(ends, axis=0) if root else length / world.wanted) / np.maximum(length, 1e-12)
    count, needs = len(need), len(done)
    rows = np.zeros((gain.shape[1] + needs, count + pieces * needs))
    rows[slot, np.arange(count)] = 1
    rows[gain.shape[1] + need, np.arange(count)] = -gain[need, slot]
    rows[gain.shape[1] + np.tile(np.arange(needs), pieces), count + np.arange(pieces * needs)] = 1
    found = linprog(np.concatenate([np.zeros(count), -slope.ravel()]), A_ub=rows,
                    b_ub=np.concatenate([np.ones(gain.shape[1]), np.zeros(needs)]),
                    bounds=[(0, 1)] * count + [(0, most) for most in np.maximum(length, 0).ravel()])
    used, gained = np.zeros((2, needs))
    np.add.at(used, need, found.x[:count] * SLOT)
    np.add.at(gained, need, found.x[:count] * gain[need, slot])
    entered = np.bincount(world.owner, used) > 1e-3  # each target and filter once, the fewest changes there can be
    lost = FILTER * (used > 1e-3) + (TARGET - FILTER) * (entered / np.maximum(np.bincount(
        world.owner, used > 1e-3), 1))[world.owner]
    return gained * np.clip(1 - lost / np.maximum(used, 1e-3), 0, 1)


def by_rank(world, night, done, rank):
    """Return hours gained where each slot goes to the target that ranks first, through the filter that lags most."""
    done = done.copy()
    start, before = done.copy(), None
    for slot in range(world.gain.shape[2]):
        open_to = (world.gain[:, night, slot] > 0) & (world.wanted - done > 1e-3)
        if open_to.any():
            best = np.max(rank[open_to, night, slot])
            mine = np.flatnonzero(open_to & (rank[:, night, slot] >= best - 1e-9))
            need = mine[np.argmin(done[mine] / world.wanted[mine])]
            other = before is None or world.owner[before] != world.owner[need]
            done[need] += world.gain[need, night, slot] * (1 - (TARGET if other else FILTER * (before != need)) / SLOT)
            before = need
    return done - start


def shares(world, way, completion=COMPLETION):
    """Return the share of each need that is done at the end of the season, followed one way."""
    done = np.zeros(len(world.wanted))
    ways = {"ours": lambda night: ours(world, night, done, completion),
            ALONE: lambda night: alone(world, night, done),
            "night by night, root of shares": lambda night: by_night(world, night, done),
            "night by night, shares": lambda night: by_night(world, night, done, root=False),
            "highest first": lambda night: by_rank(world, night, done, world.altitude),
            "by transit": lambda night: by_rank(world, night, done, -np.abs(world.hour_angle))}
    for night in np.flatnonzero(world.clear):
        done = np.minimum(done + ways[way](night), world.wanted)
    return done / world.wanted


def finished(world, share):
    """Say of each project whether it is finished."""
    return [bool(share[world.owner == project].min() >= ENOUGH) for project in range(PROJECTS)]


def reached(world, share):
    """Return the share of hours, the mean root of shares, and the share of projects finished."""
    return np.average(share, weights=world.wanted), np.sqrt(share).mean(), np.mean(finished(world, share))


def season(world, way, completion=COMPLETION):
    """Return what is reached, followed one way."""
    return reached(world, shares(world, way, completion))


ALONE = "night by night, whole runs"  # the others split hours as finely as they like
WAYS = ("ours", "night by night, root of shares", "night by night, shares", "highest first", "by transit")


def followed(case):
    """Return what each way brings in the season of a case: site, nights, what is wanted, completion and seed.

    Under "odds" what ours promises of each project before the first night, and whether it came true.
    """
    name, nights, crowded, completion, seed = case
    one = world(seed, *SITES[name], nights, crowded)
    found = {way: shares(one, way, completion) for way in (*WAYS, ALONE)}
    return {way: [float(part) for part in reached(one, share)] for way, share in found.items()} | {
        "odds": [list(pair) for pair in zip(told(one, completion), finished(one, found["ours"]), strict=True)]}


def main():
    """Print the comparison."""
    from session.campaign import seasons
    from worlds.spread import add_options, spread

    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("seasons", type=int, nargs="?", default=10)
    asked.add_argument("nights", type=int, nargs="?", default=180)
    asked.add_argument("--completion", type=float, default=COMPLETION)
    asked.add_argument("--first", type=int, default=0, help="seed of the first season")
    asked.add_argument("--crowded", type=float, default=1.2)
    add_options(asked)
    given = asked.parse_args()
    cases = [(name, given.nights, given.crowded, given.completion, seed) for name in SITES
             for seed in range(given.first, given.first + given.seasons)]
    rows = spread(seasons.followed, cases, "seasons", given)  # by the module's name, as workers know it
    odds = []
    for name in SITES:
        some = [next(rows) for _ in range(given.seasons)]
        odds += [pair for row in some for pair in row["odds"]]
        print(f"{name}: {given.seasons} seasons of {given.nights} nights, {given.crowded:g} x what fits is wanted")
        for way in (*WAYS, ALONE):
            values, mine = (np.array([row[which] for row in some]) for which in (way, "ours"))
            ahead = "" if way == "ours" else "  ours ahead in " + " / ".join(
                f"{part:.0%}" for part in (mine >= values - 1e-9).mean(axis=0))
            print(f"  {way:31s} hours {values[:, 0].mean():.3f}  root {values[:, 1].mean():.3f}  "
                  f"finished {values[:, 2].mean():.3f}{ahead}", flush=True)
    said, true = np.array(odds, float).T
    for low, high in itertools.pairwise((0, 0.05, 0.3, 0.5, 0.7, 0.9, 1.01)):
        some = (said >= low) & (said < high)
        if some.any():
            print(f"odds of {said[some].mean():.2f} came true in {true[some].mean():.2f} of {some.sum()} projects")


if __name__ == "__main__":
    main()
