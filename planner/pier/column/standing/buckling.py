"""Whether the column itself bears: buckling, bending, a wall too thin, concrete that cracks."""

import math

from astropy import units as u

from planner.pier.column.concrete import tensile_strength
from planner.pier.column.model import Column, TopLoads
from planner.pier.column.standing.actions import LASTING, VARIABLE, Action, column_weight, top_weight

# Yield strength. Steel S235: EN 1993-1-1 table 3.1. Aluminium beside a weld, 6060: EN 1999-1-1 table 3.2b, from memory.
YIELD = {"steel": 235 * u.MPa, "aluminium": 50 * u.MPa}
IMPERFECTION = 0.49  # buckling curve c, EN 1993-1-1 table 6.1
# Of concrete, what cracks and creep leave of E I: EN 1992-1-1 clause 5.8.7.2(3), from memory.
CRACKED = 0.3
# Largest width over wall that does not buckle by itself before it yields, of S235: EN 1993-1-1 table 5.2, class 3.
SLENDER_ROUND, SLENDER_SQUARE = 90.0, 42.0


def critical_load(column: Column, *, centre: u.Quantity[u.m], foot_stiffness: u.Quantity | None) -> u.Quantity[u.N]:
    r"""Return the weight at a height above the top under which the column falls sideways by itself.

    .. math:: N = \beta^2\,\frac{EI}{L^2},\qquad
        \cos\beta\,(1 - \varepsilon f \beta^2) = \beta\sin\beta\,(\varepsilon + f)

    with :math:`\varepsilon` the height above the top over L and :math:`f = EI/(KL)` the give of the foot; Euler's
    :math:`\beta = \pi/2` for a weight on the top of a column on a rigid foot. E I of concrete is that of cracked
    concrete.

    Parameters
    ----------
    centre : Quantity [m], scalar
        Height of the weight above the column's top.
    foot_stiffness : Quantity [N m/rad], scalar, or None
        Rotational stiffness of the foot; rigid if None.

    References
    ----------
    .. [TGS] S. P. Timoshenko and J. M. Gere, Theory of Elastic Stability (1961), cantilever under its end load; the
       rigid piece above it and the spring below by the same differential equation.
    """
    from scipy.optimize import brentq

    length = column.height.to_value(u.m)
    bending = column.stiffness.to_value(u.N * u.m**2) * (CRACKED if column.material == "concrete" else 1.0)
    above = centre.to_value(u.m) / length
    give = 0.0 if foot_stiffness is None else bending / (foot_stiffness.value * length)

    def left_over(beta: float) -> float:
        return math.cos(beta) * (1 - above * give * beta**2) - beta * math.sin(beta) * (above + give)

    beta = math.pi / 2 if above + give == 0 else float(brentq(left_over, 0.0, math.pi / 2, xtol=1e-15, rtol=1e-13))
    return beta**2 * bending / length**2 * u.N


def falling_share(column: Column, loads: TopLoads, foot_stiffness: u.Quantity | None) -> float:
    """Return the weight that the column carries over its critical load.

    Half of the column's own weight counts as if it stood on top: as on a rigid rod that turns about its foot, on the
    safe side for one that bends.
    """
    critical = critical_load(column, centre=loads.centre.to(u.m), foot_stiffness=foot_stiffness)
    return float(((top_weight(loads) + column_weight(column) / 2) / critical).to_value(u.one))


def strength_share(column: Column, loads: TopLoads, action: Action, falling: float) -> float:
    r"""Return what thrust and bending take of a metal column's strength.

    .. math:: \frac{N}{\chi A f} + \frac{M}{W f}\,\frac{1}{1 - N/N_{cr}}

    Parameters
    ----------
    action : Action
        The push; it counts 1.5 times, weight 1.35 times.
    falling : float
        `falling_share`.

    Returns
    -------
    float
        Infinite where weight alone brings the column down.

    References
    ----------
    .. [EC3] EN 1993-1-1 clauses 6.3.1.2 and 6.3.3 with partial factor 1; the sum is on the safe side of 6.3.3.
    """
    near = LASTING * falling
    if near >= 1:
        return math.inf
    thrust = LASTING * (top_weight(loads) + column_weight(column))
    squash = (column.area * YIELD[column.material]).to(u.N)
    slender = math.sqrt(near * float(squash / thrust)) if near > 0 else 0.0
    phi = 0.5 * (1 + IMPERFECTION * (slender - 0.2) + slender**2)
    left = min(1 / (phi + math.sqrt(max(phi**2 - slender**2, 0.0))), 1.0)
    bending = VARIABLE * action.moment / (column.section_modulus * YIELD[column.material])
    return float(thrust / (left * squash)) + float(bending.to_value(u.one)) / (1 - near)


def crack_share(column: Column, loads: TopLoads, action: Action, falling: float) -> float:
    """Return the pull at the edge of a concrete column, less the weight's pressure, over what plain concrete bears."""
    near = LASTING * falling
    if near >= 1:
        return math.inf
    pull = VARIABLE * action.moment / (1 - near) / column.section_modulus - top_weight(loads) / column.area
    return max(float((pull / tensile_strength(column.concrete_strength)).to_value(u.one)), 0.0)


def thin_share(column: Column) -> float:
    """Return width over wall of a tube over the largest that its metal can use; 0 for a solid column."""
    if column.wall is None or column.material == "concrete":
        return 0.0
    limit = SLENDER_ROUND if column.shape == "round" else SLENDER_SQUARE
    scale = float((YIELD["steel"] / YIELD[column.material] * column.modulus / (210 * u.GPa)).to_value(u.one))
    if column.shape == "round":
        return float(column.width / column.wall) / (limit * scale)
    return float((column.width - 2 * column.wall) / column.wall) / (limit * math.sqrt(scale))
