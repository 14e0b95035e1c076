"""What a person beside the column and a pad that settles do to it."""

import math

import numpy as np
from astropy import units as u

from planner.constants import STANDARD_GRAVITY
from planner.pier.column.concrete import mean_modulus
from planner.pier.column.footing import Footing

SLAB_CONCRETE = 25 * u.MPa  # C25/30
THIN = 20  # lengths l away a slab no longer shows: 1e-4 of the ground's own slope
SLAB_POISSON = 0.2  # uncracked, EN 1992-1-1 clause 3.1.3


def person_tilt(footing: Footing, *, mass: u.Quantity[u.kg], distance: u.Quantity[u.m]) -> u.Quantity[u.arcsec]:
    r"""Return by how much a person who stands beside the column tilts its foot.

    On the ground the slope of the surface beside a load (Boussinesq),

    .. math:: \theta = \frac{P\,(1 - \nu)}{2\pi\,G\,d^2}

    on a slab that lies on the ground and carries both (Hogg), with D its bending stiffness per width,

    .. math:: \theta = \frac{P\,l}{2\pi D}\int_0^\infty\frac{\alpha J_1(\alpha d/l)}{1 + \alpha^3}\,d\alpha,\qquad
        l^3 = D\,(1 - \nu)/G

    on a suspended floor the slope at the middle of the joists with the load where it tilts most,
    :math:`\theta = P\,l^2/(72\sqrt 3\,EI)`, wherever the person stands.

    Parameters
    ----------
    footing : Footing
        Under the column.
    mass : Quantity [kg], scalar
        Of the person.
    distance : Quantity [m], scalar
        From the column's middle. A slab that is hollow below, or cracked, tilts more.

    Returns
    -------
    Quantity [arcsec], scalar
        0 for a rigid footing.

    References
    ----------
    .. [HOG] A. H. A. Hogg, Phil. Mag. 25, 576 (1938), equilibrium of a thin plate on an elastic foundation of infinite
       depth; from memory.
    .. [TGE] S. P. Timoshenko and J. N. Goodier, Theory of Elasticity, concentrated force on a half-space (from memory).
    """
    weight = (mass * STANDARD_GRAVITY).to(u.N)
    if footing.kind == "rigid":
        return 0 * u.arcsec
    if footing.joists is not None:
        span, bending = footing.joists
        slope = weight * span**2 / (72 * math.sqrt(3) * bending)
    elif footing.kind == "slab" and distance < THIN * slab_length(footing):
        slope = weight * _slab_slope(footing, distance)
    else:
        slope = weight * (1 - footing.poisson_ratio) / (2 * math.pi * footing.shear_modulus * distance**2)
    return (slope.to_value(u.one) * u.rad).to(u.arcsec)


def settlement_tilt(footing: Footing) -> u.Quantity[u.arcsec]:
    """Return the tilt when one edge of a pad settles more than the other, the short way; 0 for other footings."""
    if footing.kind != "pad":
        return 0 * u.arcsec
    return np.arctan(footing.settlement / min(footing.width, footing.length)).to(u.arcsec)


def slab_length(footing: Footing) -> u.Quantity[u.m]:
    """Return the length l over which a slab spreads a load."""
    return (_slab_stiffness(footing) * (1 - footing.poisson_ratio) / footing.shear_modulus).to(u.m**3) ** (1 / 3)


def _slab_stiffness(footing: Footing) -> u.Quantity[u.N * u.m]:
    """Return the bending stiffness of a slab per width."""
    return mean_modulus(SLAB_CONCRETE) * footing.slab_thickness**3 / (12 * (1 - SLAB_POISSON**2))


def _slab_slope(footing: Footing, distance: u.Quantity) -> u.Quantity:
    """Return the slope of a slab per force at a distance from it."""
    from scipy.integrate import quad
    from scipy.special import j1

    reach = slab_length(footing)
    ratio = float((distance / reach).to_value(u.one))
    whole, _ = quad(lambda a: a * j1(a * ratio) / (1 + a**3), 0, 200, limit=2000)
    return (reach / (2 * math.pi * _slab_stiffness(footing))).to(1 / u.N) * whole
