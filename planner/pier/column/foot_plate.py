"""The foot plate and its rods: how far they give, and what share of their strength a push takes."""

import math

import numpy as np
from astropy import units as u

from planner.checks import given
from planner.pier.column.footing import Footing

STEEL = 210 * u.GPa  # Young's modulus, EN 1993-1-1 clause 3.2.6
PLATE_YIELD = 235 * u.MPa  # S235, EN 1993-1-1 table 3.1
# Rods of the weakest usual class, 4.6: ultimate strength, EN 1993-1-8 table 3.1; in tension 0.9 f A/1.25, table 3.4.
ROD_STRENGTH, ROD_FACTOR = 400 * u.MPa, 0.9 / 1.25
# Concrete cone: N = k √f h^1.5 in N, MPa and mm over 1.5; k cast in, drilled in, both in cracked concrete: EN 1992-4
# clause 7.2.1.4, from memory.
CONE_CAST_IN, CONE_DRILLED, CONE_FACTOR = 8.9, 7.7, 1.5
_NM = u.N * u.m


def rod_stiffness(footing: Footing) -> u.Quantity[u.N * u.m / u.rad]:
    """Return the rotational stiffness of a plate on upright rods: n/2 (E A/h) r², the same in every direction.

    The rods stretch and shorten; their sideways give moves the plate but does not tilt it, so it is not counted.
    """
    axial = STEEL * math.pi / 4 * footing.rod_diameter**2 / footing.rod_free_length
    return _rocking(footing, axial)


def plate_stiffness(footing: Footing, column_width: u.Quantity[u.mm]) -> u.Quantity[u.N * u.m / u.rad]:
    r"""Return the rotational stiffness of a foot plate that bends between the column's wall and its rods.

    Each rod is held by a strip that is clamped at the wall: lever m, thickness t, :math:`k = 3EI/m^3`; the plate as a
    whole :math:`K = \tfrac{n}{2} k r^2`. The strip is twice as wide as its lever (load spread at 45 degrees), at most
    the rod's part of the circle. On the safe side: finite elements find up to 1.5 times as much.

    Parameters
    ----------
    footing : Footing
        Its plate must have a thickness.
    column_width : Quantity [mm], scalar
        Outer diameter or side of the column.
    """
    lever, width = _strip(footing, column_width)
    return _rocking(footing, STEEL * width * given(footing.plate_thickness) ** 3 / (4 * lever**3))


def plate_share(footing: Footing, column_width: u.Quantity[u.mm], tension: u.Quantity[u.N]) -> float:
    """Return the bending stress at the wall over the plate's yield strength, the worst rod pulling by `tension`."""
    lever, width = _strip(footing, column_width)
    stress = 6 * tension * lever / (width * given(footing.plate_thickness) ** 2)
    return float((stress / PLATE_YIELD).to_value(u.one))


def rod_tension(footing: Footing, *, moment: u.Quantity[u.N * u.m], weight: u.Quantity[u.N]) -> u.Quantity[u.N]:
    """Return the pull of the worst rod under a moment, less its part of the weight; 0 if none pulls.

    n rods on a circle of diameter d: 4 M/(n d) - W/n.
    """
    pull = 4 * moment / (footing.rods * footing.rod_circle) - weight / footing.rods
    return max(pull.to(u.N), 0 * u.N)


def rod_share(footing: Footing, *, moment: u.Quantity[u.N * u.m], force: u.Quantity[u.N],
              weight: u.Quantity[u.N]) -> float:
    """Return what the worst rod carries over what it may: pull or thrust, and the bending of its free length.

    Clamped in the concrete and in the plate, a rod bends by V h/2.
    """
    diameter = footing.rod_diameter
    axial = 4 * moment / (footing.rods * footing.rod_circle) + weight / footing.rods
    bent = force / footing.rods * footing.rod_free_length / 2
    stress = axial / (math.pi / 4 * diameter**2) + bent / (math.pi / 32 * diameter**3)
    return float((stress / (ROD_FACTOR * ROD_STRENGTH)).to_value(u.one))


def cone_strength(footing: Footing, depth: u.Quantity[u.mm], concrete_strength: u.Quantity[u.MPa]) -> u.Quantity[u.N]:
    """Return what the concrete around one rod may bear before a cone of it comes out.

    Neighbours nearer than three depths share their cones, and an edge nearer than 1.5 depths cuts one: both in
    proportion. A glued rod may fail at its glue before: the maker has that figure.
    """
    factor = CONE_CAST_IN if footing.anchor == "cast-in" else CONE_DRILLED
    bare = factor * math.sqrt(concrete_strength.to_value(u.MPa)) * depth.to_value(u.mm) ** 1.5 / CONE_FACTOR * u.N
    spacing = footing.rod_circle * math.sin(math.pi / footing.rods)
    edge = (min(footing.width, footing.length) - footing.rod_circle) / 2 if footing.kind == "pad" else np.inf * u.mm
    shared = min((spacing / (3 * depth)).to_value(u.one), (edge / (1.5 * depth)).to_value(u.one), 1.0)
    return bare * max(shared, 0.0)


def _strip(footing: Footing, column_width: u.Quantity) -> tuple[u.Quantity, u.Quantity]:
    """Return lever and width of the strip of plate that holds one rod."""
    lever = max((footing.rod_circle - column_width) / 2, footing.rod_diameter)
    return lever, min(2 * lever, math.pi * footing.rod_circle / footing.rods)


def _rocking(footing: Footing, spring: u.Quantity) -> u.Quantity[u.N * u.m / u.rad]:
    """Return n/2 k r² for springs k on the rods' circle."""
    return (footing.rods / 2 * spring * (footing.rod_circle / 2) ** 2).to(_NM) / u.rad
