# ruff: noqa: E501
"""Suggestions acted on: the error is made as small (or as large) as the advice says, and the world simulated again.

At that size unguided subs must bring 95 % of the best guided rate ("make guiding unnecessary") or half of what a perfect
mount brings. Printed: what they bring over that goal, by kind of suggestion; and for "repair first", the world without
that cause over the world without the cause that costs most there.

    python tests/worlds/suggestions.py --worlds 60 --seed 1
"""

import argparse
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from worlds.advice import advice
from worlds.simulate import simulate
from worlds.world import World, draw_world

GUIDED_SHARE, PERFECT_SHARE = 0.95, 0.5


@dataclass(frozen=True)
class Outcome:
    """One suggestion followed."""

    seed: int
    what: str
    sentence: str
    reached: float  # over the goal: 1 as promised


def with_error(world: World, what: str, scale: float) -> World:
    """Return a world with one error scaled."""
    if what == "polar error":
        return replace(world, polar_alt_arcmin=world.polar_alt_arcmin * scale,
                       polar_az_arcmin=world.polar_az_arcmin * scale)
    return replace(world, periodic=tuple((period, size * scale) for period, size in world.periodic))


def without_motion(world: World) -> World:
    """Return a world whose mount moves no star."""
    return replace(world, periodic=(), wander=0.0, jitter=0.0, polar_alt_arcmin=0.0, polar_az_arcmin=0.0)


def _best(world: World, method: str, **size: int) -> float:
    yields = simulate(world, **size)
    return float(yields[method].rate.max()) if method in yields else 0.0


def followed_through(world: World, **size: int) -> list[Outcome]:
    """Return what each suggestion of the advice with a size to reach brings in its world."""
    need, found = advice(world), []
    for change in need.changes:
        if change.what not in ("polar error", "periodic error") or change.needed is None or not change.present > 0:
            continue
        scale = float(change.needed / change.present)
        if not 0 < scale < 8:  # not "and more"
            continue
        changed = with_error(world, change.what, scale)
        alone = _best(changed, "unguided", **size)
        if "perfect mount" in change.sentence:
            goal = PERFECT_SHARE * _best(without_motion(world), "unguided", **size)
        else:
            goal = GUIDED_SHARE * _best(changed, "guided", **size)
        if goal > 0:
            found.append(Outcome(world.seed, change.what, change.sentence, alone / goal))
    return found


CURES = {"periodic error": {"periodic": ()}, "polar error": {"polar_alt_arcmin": 0.0, "polar_az_arcmin": 0.0},
         "jitter": {"jitter": 1e-4}, "wander": {"wander": 0.0}, "flexure between guider and camera": {"flexure": 0.0}}


def repaired(world: World, **size: int) -> tuple[str, float] | None:
    """Return the cause that the advice repairs first, and what that brings over the best single repair."""
    need = advice(world)
    if need.repair is None:
        return None

    def best(cure: dict[str, object]) -> float:
        return max(float(one.rate.max()) for one in simulate(replace(world, **cure), **size).values())

    reached = {cause: best(cure) for cause, cure in CURES.items()}
    return need.repair.cause, reached[need.repair.cause] / max(reached.values())


def main() -> None:
    """Print how near to what was promised the followed suggestions come."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--worlds", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    worlds = [draw_world(1000 * asked.seed + k) for k in range(asked.worlds)]
    found = [one for world in worlds for one in followed_through(world)]
    for kind in sorted({(one.what, "perfect" in one.sentence) for one in found}):
        shares = np.array([one.reached for one in found if (one.what, "perfect" in one.sentence) == kind])
        goal = "half of a perfect mount" if kind[1] else "guiding"
        print(f"{kind[0]:16s} against {goal:24s} n {len(shares):3d}: reached / promised median {np.median(shares):.2f}, "
              f"5 to 95 % {np.percentile(shares, 5):.2f} to {np.percentile(shares, 95):.2f}")
    repairs = [one for world in worlds if (one := repaired(world)) is not None]
    for cause, share in repairs:
        print(f"repair {cause}: brings {share:.2f} of the best single repair")
    for one in sorted(found, key=lambda one: -abs(np.log(max(one.reached, 1e-3))))[:8]:
        print(f"  world {one.seed}: {one.reached:.2f} of what was promised: {one.sentence}")


if __name__ == "__main__":
    main()
