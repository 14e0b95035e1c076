"""Whoever follows the advice about the 12 V tree: random trees, and a judge who shares no code with the adviser.

Run ``python -m tests.pier.following 1000 17`` for many; the suite follows a few.
"""

import sys
from dataclasses import replace

import numpy as np
from astropy import units as u

from planner.pier import Cable, Conditions, Hub, Load, PowerTree, Supply, judge_wiring
from tests.pier.circuits import dangers


def random_tree(draw):
    """A supply, a hub or two, some loads; cables and fuses as a beginner might have them, battery or mains."""
    hubs = [f"hub {n}" for n in range(draw.integers(0, 3))]
    names = [f"load {n}" for n in range(draw.integers(1, 6))]
    fuses = [None, None, 3.0, 5.0, 10.0, 30.0, 60.0]
    ends = [(draw.choice(["supply", *hubs[:n]]), hub) for n, hub in enumerate(hubs)]
    ends += [(draw.choice(["supply", *hubs]), name) for name in names]
    maybe = lambda value: value if draw.random() < 0.7 else None  # noqa: E731
    supply = Supply(
        name="supply", kind=str(draw.choice(["battery", "mains supply"])), voltage=draw.uniform(12.0, 14.0) * u.V,
        maximum_current=maybe(draw.uniform(3, 40) * u.A), capacity=maybe(draw.uniform(5, 200) * u.A * u.h),
        internal_resistance=draw.choice([0.0, draw.uniform(0.002, 0.03)]) * u.ohm,
        chemistry=str(draw.choice(["lead-acid", "lithium iron phosphate"])),
        charged_while_on=bool(draw.integers(0, 2)))
    cables = [Cable(source=str(source), feeds=str(feeds), length=float(np.exp(draw.uniform(-1, 3))) * u.m,
                    cross_section=draw.choice([0.5, 0.75, 1.0, 1.5, 2.5]) * u.mm**2, bundled=int(draw.integers(1, 6)),
                    fuse=None if (fuse := fuses[draw.integers(0, len(fuses))]) is None else fuse * u.A)
              for source, feeds in ends]
    return PowerTree(supply=supply, hubs=tuple(Hub(name=hub, power=0.5 * u.W) for hub in hubs),
                     loads=tuple(_random_load(draw, name) for name in names), cables=tuple(cables))


def _random_load(draw, name):
    more = [{}, {}, {"set_temperature": draw.uniform(-40, 0) * u.deg_C},
            {"heated_aperture": draw.uniform(50, 300) * u.mm, "behaviour": "resistive"}][draw.integers(0, 4)]
    behaviour = str(draw.choice(["constant power", "constant current", "resistive"]))
    return Load(**{"name": name, "power": 5 * u.W, "peak_power": draw.uniform(5, 60) * u.W, "behaviour": behaviour,
                   "minimum_voltage": draw.uniform(9.5, 11.8) * u.V, "maximum_voltage": draw.uniform(12.5, 16) * u.V,
                   **more})


def single(tree, judged, objection):
    """The tree with nothing changed but what the remedy of one objection names."""
    told = [line for line in judged.suggestions if line in objection.remedy]
    named = [line.partition(":")[0] for line in told]
    after, off = judged.mended, any(line.startswith("Take the devices off") for line in told)
    supply = after.supply if tree.supply.name in named else tree.supply
    return PowerTree(
        supply=replace(supply, charged_while_on=after.supply.charged_while_on if off else tree.supply.charged_while_on),
        hubs=tree.hubs,
        loads=tuple(new if new.name in named else old for old, new in zip(tree.loads, after.loads, strict=True)),
        cables=tuple(new if f"{new.source} → {new.feeds}" in named else old
                     for old, new in zip(tree.cables, after.cables, strict=True)))


# What an objection says, and what the judge calls the same.
SAME = {"may carry": "too hot", "open or age": "ages", "breaks": "cannot break", "Nothing protects": "nothing opens",
        "lets more": "nothing opens", "far end": "nothing opens", "arrive at the peak": "lacks", "reach it": "too much",
        "cooler": "not cold", "keep its glass": "dew", "must give": "too weak", "gives the": "too weak",
        "acid": "freezes", "charging": "freezes", "asts": "dry", "capacity of": "capacity"}


def about(one, found):
    """Those of some dangers that an objection speaks of: the same wrong of the same part."""
    words = next((there for here, there in SAME.items() if here in one.finding), "collapses")
    far = one.part.partition(" → ")[2]
    whose = (f"{far}:" if far else f"{one.part} ", "the ")
    return [text for text in found if words in text and text.startswith(whose)]


def follow(count, seed):
    """Return how many trees were good, mended and refused, and every danger that the advice left."""
    draw = np.random.default_rng(seed)
    tally, left = {"good": 0, "mended": 0, "refused": 0, "singly": 0}, []
    for number in range(count):
        night = Conditions(temperature=draw.uniform(-30, 35) * u.deg_C, humidity=draw.uniform(0.4, 0.99),
                           duration=draw.uniform(4, 14) * u.h)
        tree = random_tree(draw)
        judged, wrong = judge_wiring(tree, night), dangers(tree, night)
        if judged.verdict == "good":
            tally["good"] += 1
            left += [(number, "good", text) for text in wrong]
        elif judged.mended is None:
            tally["refused"] += 1
            if sum("cannot be done" in text for text in judged.suggestions) != 1:
                left.append((number, "refused", "not told once"))
        else:
            tally["mended"] += 1
            left += [(number, "again", one) for one in judge_wiring(judged.mended, night).objections]
            left += [(number, "mended", text) for text in dangers(judged.mended, night)]
            for one in judged.objections:
                tally["singly"] += 1
                after = about(one, dangers(single(tree, judged, one), night))
                left += [(number, "singly", one, text) for text in after]
        if judged.verdict != "unsafe" and any("short" in text or "hot" in text for text in wrong):
            left.append((number, judged.verdict, "what burns is not called unsafe"))
    return tally, left


if __name__ == "__main__":
    tally, left = follow(int(sys.argv[1]), int(sys.argv[2]))
    print(tally, len(left), *left[:12], sep="\n")
