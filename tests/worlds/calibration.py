"""Odds and worths against worlds: of the verdicts given with 70 to 90 %, how many are right, and what measuring brings.

An observer knows his drive's class and no more, or has a drift log of ten or sixty minutes beside it. His answer is
held against what every method and length brings in his world (`simulate`).

    python tests/worlds/calibration.py --worlds 300 --seed 1 --known class 10 60

`--prior` draws the mounts from the classes themselves, with the spread that the planner states; else the worlds' own
wide prior stands, and an observer names the class that comes nearest. `--floor` prints what no answer from the class
can avoid: the regret of the one length that is best on average over other mounts of the kind, simulated with the rig.
"""

import argparse
import itertools
import pickle
import sys
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from astropy import units as u

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from worlds.advice import followed, guided_by, rig_of, scene_of
from worlds.measured import CENTROID, class_mount, log_of, true_mount
from worlds.simulate import LADDER, Yield, guided_yield, method_yield, nights_of, round_of_first, simulate
from worlds.suggestions import without_motion
from worlds.world import World, draw_world

from planner.exposure.guide_need import GuideNeed, guide_need, verdict_of
from planner.exposure.uncertainty import Certainty, certainty
from planner.exposure.uncertainty.knowing import LOG
from planner.measure.drift.doubts import doubts_of
from planner.measure.drift.report import analyse_drift
from planner.measure.posterior.mount import measured_mount
from planner.rig import Mount, Rig

# The class that an observer of such a mount would name.
CLASSES = {"worm": "mid-range worm", "worn worm": "entry-level worm", "strain-wave": "strain-wave",
           "friction": "friction with encoder", "encoder": "worm with encoder"}
BINS = (0.25, 0.5, 0.7, 0.9, 1.0)
LENGTHS = {"average": "the length best on average", "looked": "the same, and the look at the first subs",
           "point": "the length at the mean"}
STAGES = ("class", "10", "60")


@dataclass(frozen=True)
class Told:
    """What one observer was told, and what it brings in his world."""

    seed: int
    known: str
    guider: bool
    odds: dict[str, float]
    truth: str
    average: float  # regret of the length that is best on average
    looked: float  # and of going on from it as the look at the first subs says, those paid for
    point: float  # regret of the length for the figures as they stand
    worth: float  # of the best measurement of the mount, as a share of the night


def from_class(world: World) -> World:
    """Return the same world on a mount drawn from its class."""
    draw = np.random.default_rng([world.seed, 14])
    true = true_mount(CLASSES[world.kind], draw)
    return replace(
        world, jitter=float(true.jitter.value), wander=float(true.wander.value),
        polar_alt_arcmin=float(true.polar_altitude_error.value), polar_az_arcmin=float(true.polar_azimuth_error.value),
        periodic=tuple((float(term.period.value), float(term.amplitude.value)) for term in true.periodic))


def known_mount(world: World, known: str) -> Mount:
    """Return the mount as its observer has it in his file."""
    begin = class_mount(CLASSES[world.kind])
    if known == "class":
        return begin
    true = rig_of(world).mount
    log = log_of(true, world.seed, world.latitude_deg, (int(known), 2, 1))
    report = analyse_drift(log)
    return measured_mount(begin, report, {}, doubts=doubts_of(report, begin), centroid_noise=CENTROID * u.arcsec).mount


def known_rig(world: World, known: str) -> Rig:
    """Return the rig as its observer has it: where the guider creeps to, no log of the mount tells."""
    rig = rig_of(world)
    guider = None if rig.guider is None else replace(rig.guider, differential_flexure_angle=None)
    return replace(rig, mount=known_mount(world, known), guider=guider)


def perfect_rate(world: World, nights: int = 10, subs: int = 120) -> float:
    """Return the best rate of a mount that moves no star, in the nights and at the moments of `simulate`."""
    still = without_motion(world)
    median, track, _ = nights_of(still, nights)
    return float(method_yield(still, 0 * track, median, np.array(LADDER[2:]), subs,
                              np.random.default_rng([world.seed, 13])).rate.max())


def tell(world: World, known: str, yields: dict[str, Yield], draws: int) -> Told:
    """Return what an observer is told, and what it brings."""
    scene = scene_of(world, known_rig(world, known))
    need = guide_need(scene, guide_star=guided_by(world), with_changes=False)
    sure = certainty(scene, need, draws=draws)
    guided = [float(one.rate.max()) for name, one in yields.items() if name != "unguided"]
    held = max(guided) if guided else None
    asked = {"average": (sure.method, float(sure.sub_exposure.value)), "point": followed(need)}
    rates = {name: _brought(world, need, yields["unguided"], *one) for name, one in asked.items()}
    rates["looked"] = _looked(world, need, sure, yields["unguided"])
    top = max(float(yields["unguided"].rate.max()), *guided, *rates.values())
    lost = {name: 1 - rate / top for name, rate in rates.items()}
    truth = verdict_of(float(yields["unguided"].rate.max()), held, perfect_rate(world))
    log = max((one.hours_per_night for one in sure.measure_next if one.measurement == LOG), default=0 * u.h)
    return Told(world.seed, known, bool(guided), sure.odds, truth, worth=float((log / scene.length).to_value("")),
                **lost)


def _loop(need: GuideNeed, method: str) -> tuple[float, float] | None:
    """Return the loop that the answer names; None for its unguided way."""
    return (float(need.loop.exposure.value), need.loop.gain) if method == "guided" else None


def _brought(world: World, need: GuideNeed, unguided: Yield, method: str, length: float) -> float:
    """Return what a method and length bring in a world, guided by the loop that the answer names."""
    loop = _loop(need, method)
    if loop:
        return float(guided_yield(world, loop, np.array([length])).rate[0])
    return float(unguided.rate[np.argmin(abs(unguided.length - length))])


def _looked(world: World, need: GuideNeed, sure: Certainty, unguided: Yield) -> float:
    """Return what the look at each night's first subs brings, then on as it says."""
    first = float(sure.sub_exposure.value)
    rate = _brought(world, need, unguided, sure.method, first)
    if sure.first_subs is None:
        return rate
    then, count = sure.first_subs.then.value, sure.first_subs.count
    rates = {length: _brought(world, need, unguided, sure.method, length) for length in set(then)}
    found = round_of_first(world, _loop(need, sure.method), first, count)
    if found.size == 0:
        return rate
    begin, end = world.hour_angles_h
    spent = min(count * (first + world.download) / (3600 * (end - begin)), 1.0)
    return spent * rate + (1 - spent) * float(np.mean([rates[then[one]] for one in found]))


def least_possible(world: World, unguided: Yield, others: int = 24) -> float:
    """Return the regret, without a guider, of the length that is best on average over mounts of the same kind."""
    total = 0.0
    for k in range(others):
        other = draw_world(len(CLASSES) * (1_000_000 + 97 * world.seed + k) + world.seed % len(CLASSES))
        mount = {name: getattr(other, name) for name in ("periodic", "wander", "jitter", "polar_alt_arcmin",
                                                         "polar_az_arcmin")}
        rate = simulate(replace(world, seed=other.seed, guider=None, **mount), nights=4, subs=96)["unguided"].rate
        total += rate / max(rate.max(), np.finfo(float).tiny)
    length = LADDER[int(np.argmax(total))]
    return 1 - float(unguided.rate[unguided.length == length][0] / unguided.rate.max())


def table(told: Iterable[Told]) -> str:
    """Return reliability by what is known, and regrets."""
    lines = []
    for known in STAGES:
        some = [one for one in told if one.known == known]
        if not some:
            continue
        lines.append(f"{known}: {len(some)} worlds")
        given = np.array([max(one.odds.values()) for one in some])
        right = np.array([max(one.odds, key=lambda name, one=one: one.odds[name]) == one.truth for one in some])
        for low, high in itertools.pairwise(BINS):
            inside = (given >= low) & (given < high + (high == 1))
            if inside.any():
                lines.append(f"  given {low:.0%} to {high:.0%}: {inside.sum():3d}, mean {given[inside].mean():4.0%}, "
                             f"right {right[inside].mean():4.0%}")
        for label, chosen in (("all", some), ("no guider", [one for one in some if not one.guider])):
            for name in LENGTHS:
                lost = 100 * np.array([getattr(one, name) for one in chosen])
                if lost.size:
                    lines.append(f"  {label}, regret of {LENGTHS[name]}: mean {lost.mean():.1f} %, "
                                 f"95th {np.percentile(lost, 95):.1f} %")
        lines.append(f"  a drift log is said to be worth {np.mean([one.worth for one in some]):.1%} of a night")
    return "\n".join(lines)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--worlds", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--draws", type=int, default=64)
    parser.add_argument("--known", nargs="+", choices=STAGES, default=STAGES)
    parser.add_argument("--prior", action="store_true", help="mounts drawn from their class")
    parser.add_argument("--floor", action="store_true", help="what no answer from the class can avoid, and no more")
    parser.add_argument("--truth", type=Path, help="pickled cases of `regret`, not to simulate worlds again")
    asked = parser.parse_args()
    if asked.truth:
        cases = pickle.loads(asked.truth.read_bytes())[:asked.worlds]
        worlds = ((case.world, case.yields) for case in cases)
    else:
        drawn = (draw_world(1000 * asked.seed + one) for one in range(asked.worlds))
        worlds = ((world, simulate(world)) for world in (from_class(one) if asked.prior else one for one in drawn))
    if asked.floor:
        lost = 100 * np.array([least_possible(world, yields["unguided"]) for world, yields in worlds
                               if not world.guider])
        print(f"no guider: {lost.size} worlds, mean {lost.mean():.1f} %, 95th {np.percentile(lost, 95):.1f} %")
        return
    told = []
    for world, yields in worlds:
        told += [tell(world, known, yields, asked.draws) for known in asked.known]
        if len(told) % 25 == 0:
            print(table(told), flush=True)
    print(table(told))


if __name__ == "__main__":
    main()
