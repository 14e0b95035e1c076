# ruff: noqa: E501
"""Regret of following the advice: 1 - what it brings / the best of all methods and lengths in the same world.

    python tests/worlds/regret.py --worlds 300 --seed 1 [--scheduler ADDRESS] [--results FILE]

Where few subs are kept, 240 of them tell a length's yield to a tenth only, and the best of twenty such lengths is the
luckiest: what seems lost is chance. A world that seems to lose more than `DOUBTED` is judged again in six times as many
nights, and that counts.
"""

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from worlds.advice import advice, followed
from worlds.simulate import Yield, simulate
from worlds.world import World, draw_world

DOUBTED = 0.015
CLOSER = {"nights": 60, "subs": 1440}
RULES = {"guided 300 s else unguided 20 s": (300, 20), "guided 120 s else unguided 30 s": (120, 30),
         "unguided 30 s": (None, 30), "unguided 10 s": (None, 10)}


@dataclass(frozen=True)
class Case:
    """One world, the advice, what it brought and what the best would have."""

    world: World
    verdict: str
    method: str
    length: float
    regret: float
    rules: dict[str, float]
    predicted: float  # share of round subs of usual width
    simulated: float
    best: tuple[str, float]
    yields: dict[str, Yield]


def judge(world: World, **size: int) -> Case:
    """Return what following the advice costs in a world."""
    need = advice(world)
    method, length = followed(need)
    loop = (float(need.loop.exposure.to_value("s")), float(need.loop.gain)) if method == "guided" else None
    yields = simulate(world, (length,), loop=loop, **size)
    if loop:
        method = "guided as advised"
    best_method = max(yields, key=lambda name: yields[name].rate.max())
    top = yields[best_method].rate.max()

    def rate(name: str, seconds: float) -> float:
        return float(yields[name].rate[yields[name].length == seconds][0])

    rules = {}
    for name, (guided, alone) in RULES.items():
        how = ("guided", guided) if guided and world.guider else ("unguided", alone)
        rules[name] = 1 - rate(*how) / top if top else 0.0
    mine = yields[method]
    return Case(world, need.verdict, method, length, 1 - rate(method, length) / top if top else 0.0, rules,
                float((need.guided if loop else need.unguided).kept),
                float((mine.kept / mine.undisturbed)[mine.length == length][0]),
                (best_method, float(yields[best_method].length[yields[best_method].rate.argmax()])), yields)


def _row(name: str, values: list[float]) -> str:
    share = 100 * np.array(values)
    figures = (np.median(share), share.mean(), np.percentile(share, 95), share.max())
    return f"{name:44s}{len(share):5d}" + "".join(f"{figure:8.1f}" for figure in figures)


def table(cases: list[dict]) -> str:
    """Return the regret by stratum, the rules of thumb in the same strata, and kept against predicted."""
    strata = {"all": cases}
    for group in ("verdict", "kind", "guider"):
        for case in cases:
            strata.setdefault(f"{group}: {case[group]}", []).append(case)
    lines = [f"{'regret, %':44s}{'n':>5s}{'median':>8s}{'mean':>8s}{'95 %':>8s}{'worst':>8s}"]
    for name, some in strata.items():
        lines.append(_row(name, [case["regret"] for case in some]))
        lines += [_row(f"    {rule}", [case["rules"][rule] for case in some]) for rule in RULES]
    gap = 100 * np.array([case["predicted"] - case["simulated"] for case in cases])
    lines.append(f"kept, predicted - simulated, points: mean {gap.mean():.1f}, mean size {abs(gap).mean():.1f}, "
                 f"worst {gap[abs(gap).argmax()]:.1f}")
    return "\n".join(lines)


def explain(case: Case) -> str:
    """Return why a world lost, in three lines."""
    world = case.world
    text = (f"world {world.seed} ({world.kind}, {world.focal_mm:.0f} mm, {world.scale:.2f} arcsec/pix, seeing {world.seeing:.1f}, "
            f"wander {world.wander:.2f}, jitter {world.jitter:.2f}, dec {world.declination_deg:.0f}): regret {100 * case.regret:.1f} %\n"
            f"  advice {case.verdict}: {case.method} {case.length:g} s; best {case.best[0]} {case.best[1]:g} s; "
            f"kept {case.predicted:.2f} predicted, {case.simulated:.2f} simulated")
    for method, length in ((case.method, case.length), case.best):
        one = case.yields[method]
        at = int(np.flatnonzero(one.length == length)[0])
        text += f"\n  {method} {length:g} s: round {one.round[at]:.2f}, no outlier {one.small[at]:.2f}, no gust {one.undisturbed[at]:.2f}"
    return text


def judged(seed: int) -> dict:
    """Return the case of a seed as a row of the results."""
    case = judge(draw_world(seed))
    if case.regret > DOUBTED:
        case = judge(draw_world(seed), **CLOSER)
    return {"verdict": case.verdict, "kind": case.world.kind, "rules": case.rules, "story": explain(case),
            "guider": "with guider" if case.world.guider else "no guider", "regret": case.regret,
            "predicted": case.predicted, "simulated": case.simulated}


def main() -> None:
    """Print the table and the worst ten worlds."""
    from worlds import regret
    from worlds.spread import add_options, spread

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--worlds", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    add_options(parser)
    asked = parser.parse_args()
    seeds = [1000 * asked.seed + one for one in range(asked.worlds)]
    cases = list(spread(regret.judged, seeds, "regret", asked))  # by the module's name, as workers know it
    print(table(cases))
    for case in sorted(cases, key=lambda case: -case["regret"])[:10]:
        print(case["story"])


if __name__ == "__main__":
    main()
