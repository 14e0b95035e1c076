"""The pier as a whole on its ground: tipping over, pressing into the soil, cracking its pad or slab."""

import math

import numpy as np
from astropy import units as u

from planner.pier.column.concrete import tensile_strength
from planner.pier.column.footing import Footing
from planner.pier.column.standing.actions import HOLDING, VARIABLE, Action

CONCRETE_WEIGHT = 24 * u.kN / u.m**3  # plain concrete, EN 1991-1-1 table A.1
# The weight must stay over the middle third of the pad's half: EN 1997-1 clause 6.5.4.
LARGEST_ECCENTRICITY = 1 / 3


def pad_weight(footing: Footing) -> u.Quantity[u.N]:
    """Return the weight of a pad; it must have a depth."""
    return (CONCRETE_WEIGHT * footing.width * footing.length * footing.depth).to(u.N)


def pad_tipping(footing: Footing, weight: u.Quantity[u.N], action: Action) -> float:
    """Return the moment about the pad's edge over what the weight holds; the soil beside the pad is not counted.

    `footing`: a pad with a depth. `weight`: on the pad: column and what it carries. `action`: it counts 1.5 times, the
    weight 0.9 times: EN 1990 table A1.2(A).
    """
    overturning = VARIABLE * (action.moment + action.force * footing.depth)
    holding = HOLDING * (weight + pad_weight(footing)) * min(footing.width, footing.length) / 2
    return float((overturning / holding).to_value(u.one))


def pad_pressure(footing: Footing, weight: u.Quantity[u.N], action: Action) -> u.Quantity[u.kPa]:
    """Return the even pressure on the part of the pad's underside that stays pressed: V/(B - 2e) L (EN 1997-1 annex D).

    Infinite where the weight leaves two thirds of the half-width.
    """
    whole = weight + pad_weight(footing)
    width, length = sorted((footing.width, footing.length))
    off = (action.moment + action.force * footing.depth) / whole
    if off > LARGEST_ECCENTRICITY * width:
        return np.inf * u.kPa
    return (whole / ((width - 2 * off) * length)).to(u.kPa)


def pad_cracking(footing: Footing, column_width: u.Quantity[u.mm], pressure: u.Quantity[u.kPa],
                 concrete_strength: u.Quantity[u.MPa]) -> float:
    """Return the depth that a plain pad needs so as not to crack over the depth that it has.

    d ≥ a/0.85 √(9 σ/f) with a from the column's side to the pad's edge: EN 1992-1-1 eq. 12.13, from memory.
    """
    beyond = max((max(footing.width, footing.length) - column_width) / 2, 0 * u.m)
    pull = tensile_strength(concrete_strength)
    needed = beyond / 0.85 * math.sqrt(9 * float((pressure / pull).to_value(u.one)))
    return float((needed / footing.depth).to_value(u.one))


def slab_reach_needed(footing: Footing, weight: u.Quantity[u.N], moment: u.Quantity[u.N * u.m]) -> u.Quantity[u.m]:
    """Return how far a slab must reach from the column to every side, so that its weight holds it: 0.9 W r = 1.5 M."""
    if footing.slab_thickness <= 0:
        return np.inf * u.m
    thick = float((CONCRETE_WEIGHT * footing.slab_thickness).to_value(u.Pa))
    held, overturning = HOLDING * weight.to_value(u.N), (VARIABLE * moment).to_value(u.N * u.m)
    roots = np.roots([4 * HOLDING * thick, 0.0, held, -overturning])  # one real root: the cubic rises
    return float(roots[np.argmin(abs(roots.imag))].real) * u.m


def slab_cracking(footing: Footing, moment: u.Quantity[u.N * u.m], concrete_strength: u.Quantity[u.MPa]) -> float:
    """Return the bending of a slab beside its foot plate over what plain concrete bears, on the plate's grown width."""
    width = min(footing.width, footing.length) + 2 * footing.slab_thickness
    bears = tensile_strength(concrete_strength) * width * footing.slab_thickness**2 / 6
    return float((VARIABLE * moment / bears).to_value(u.one)) if footing.slab_thickness > 0 else math.inf


def plate_tipping(footing: Footing, weight: u.Quantity[u.N], action: Action) -> float:
    """Return the moment about the edge of a foot plate that nothing holds down over what the weight on it holds."""
    holding = HOLDING * weight * min(footing.width, footing.length) / 2
    return float((VARIABLE * action.moment / holding).to_value(u.one)) if holding > 0 else math.inf


def tripod_tipping(footing: Footing, weight: u.Quantity[u.N], action: Action) -> float:
    """Return the moment about the line through two feet over what the weight holds, a fourth of the stance from it."""
    holding = HOLDING * weight * footing.stance / 4
    return float((VARIABLE * action.moment / holding).to_value(u.one)) if holding > 0 else math.inf


def foot_pressure(footing: Footing, weight: u.Quantity[u.N]) -> u.Quantity[u.kPa]:
    """Return the pressure under one of a tripod's three feet at rest."""
    return (weight / 3 / (math.pi / 4 * footing.foot_diameter**2)).to(u.kPa)


def tipping_force(footing: Footing, weight: u.Quantity[u.N], height: u.Quantity[u.m]) -> u.Quantity[u.N]:
    """Return the push at a height that just turns a tripod over."""
    return (weight * footing.stance / 4 / height).to(u.N)

