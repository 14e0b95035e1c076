"""Whoever follows the advice about the column: random piers, judged by the handbooks' statics of `tests.pier.statics`.

Run ``python -m tests.pier.standing 1000 17`` for many; the suite follows a few.
"""

import sys
from dataclasses import replace

import numpy as np
from astropy import units as u

from planner.pier import Column, Footing, TopLoads, judge_standing
from tests.pier.statics import faults


def drawn(dice):
    """A random column on a random footing with random loads, much of it wrong."""
    material = dice.choice(["steel", "aluminium", "concrete"])
    width = dice.uniform(60, 400)
    wall = None if material == "concrete" or dice.random() < 0.2 else dice.uniform(1, width / 3) * u.mm
    column = Column(material=material, shape=dice.choice(["round", "square"]), height=dice.uniform(0.2, 3) * u.m,
                    width=width * u.mm, wall=wall, concrete_strength=dice.choice([12, 25, 40]) * u.MPa)
    unknown = {key: None for key in ("depth", "frost_depth", "plate_thickness", "anchor_depth", "slab_reach")
               if dice.random() < 0.4}
    footing = Footing(**{
        "kind": dice.choice(["rigid", "pad", "slab", "suspended floor", "tripod"]), "joist_span": 4 * u.m,
        "width": dice.uniform(0.2, 1.5) * u.m, "length": dice.uniform(0.2, 1.5) * u.m,
        "joist_stiffness": 1e6 * u.N * u.m**2, "depth": dice.uniform(0.1, 1.5) * u.m,
        "frost_depth": dice.uniform(0, 1.2) * u.m, "bearing_pressure": dice.uniform(40, 300) * u.kPa,
        "shear_wave_speed": dice.uniform(80, 500) * u.m / u.s, "stance": dice.uniform(0.5, 1.5) * u.m,
        "foot_diameter": dice.uniform(20, 200) * u.mm, "rods": int(dice.choice([0, 3, 4, 6])),
        "rod_diameter": dice.uniform(6, 25) * u.mm, "rod_free_length": dice.uniform(5, 100) * u.mm,
        "rod_circle": dice.uniform(100, 500) * u.mm, "plate_thickness": dice.uniform(3, 30) * u.mm,
        "anchor": dice.choice(["cast-in", "glued", "expansion", "screw"]), "slab_reach": dice.uniform(0.2, 3) * u.m,
        "anchor_depth": dice.uniform(20, 300) * u.mm, **unknown})
    loads = TopLoads(mass=dice.uniform(5, 120) * u.kg, centre=dice.uniform(100, 600) * u.mm,
                     push=dice.uniform(0, 500) * u.N, wind_area=dice.uniform(0.05, 1) * u.m**2,
                     mount_frequency=None if dice.random() < 0.5 else dice.uniform(4, 12) * u.Hz)
    return column, footing, loads


# What each sentence of the advice changes, by words that it holds.
FIELDS = (("Make the pad", ("width", "length", "depth")), ("pad of its own", ("kind",)), ("Set it on a pad", ("kind",)),
          ("foot plate of", ("plate_thickness",)),
          (" rods ", ("rods", "rod_diameter", "rod_circle", "anchor_depth")), ("building authority", ("frost_depth",)),
          ("slab reaches", ("slab_reach",)), ("a board", ("foot_diameter",)), ("Stake or tie", ("staked",)))
WORDS = {"tipping": "tip", "bearing": "sink", "bending": "yield", "cracking": "crack", "buckling": "buckle",
         "shaking": "shake", "rods": "rod", "anchor depth": "cone", "frost": "frost", "cover below the rods": "through"}


def single(column, footing, standing, objection):
    """The pier with nothing changed but what the remedy of one objection says."""
    (after, foot), told = standing.mended, objection.remedy
    changed = {key: getattr(foot, key) for words, keys in FIELDS if words in told for key in keys}
    metal = {"wall": after.wall, "width": after.width} if " tube of " in told or "concrete column of" in told else {}
    poured = {"concrete_strength": after.concrete_strength} if "Pour C25" in told else {}
    return replace(column, **metal, **poured), replace(footing, **changed)


def left_singly(column, footing, loads, standing):
    """Each objection that its own remedy, made alone, does not remove."""
    names = {check.finding: check.name for check in standing.checks}
    found = []
    for one in standing.objections:
        pier = single(column, footing, standing, one)
        name = names[one.finding]
        still = any(check.name == name and check.share > 1 for check in judge_standing(*pier, loads).checks)
        known = all(getattr(pier[1], key) is not None for key in ("depth", "plate_thickness", "anchor_depth",
                                                                  "frost_depth"))
        failing = known and name in WORDS and WORDS[name] in faults(*pier, loads)
        found += [(name, one.remedy)] if still or failing else []
    return found


def follow(count, seed):
    """Return how many piers had something against them, and everything that the advice left or did not see."""
    dice, tally, left = np.random.default_rng(seed), {"good": 0, "mended": 0, "singly": 0}, []
    for number in range(count):
        column, footing, loads = drawn(dice)
        standing = judge_standing(column, footing, loads)
        if not standing.objections:
            tally["good"] += 1
            left += [(number, "unseen", fault) for fault in faults(column, footing, loads)]
            continue
        tally["mended"] += 1
        if standing.mended is None or not standing.suggestions or not all(one.remedy for one in standing.objections):
            left.append((number, "no remedy", standing.objections))
            continue
        tally["singly"] += len(standing.objections)
        left += [(number, "objects again", one) for one in judge_standing(*standing.mended, loads).objections]
        left += [(number, "left", fault) for fault in faults(*standing.mended, loads)]
        left += [(number, "singly", *one) for one in left_singly(column, footing, loads, standing)]
    return tally, left


if __name__ == "__main__":
    tally, left = follow(int(sys.argv[1]), int(sys.argv[2]))
    print(tally, len(left), *left[:12], sep="\n")
