"""The upright beam: its own frequencies and shapes with a mass on top and a foot that gives, and its bending at rest.

Euler and Bernoulli's beam, exact. Height is counted from the foot; `w` is the sideways deflection, its slope the angle
by which the top tilts. The mass on top is rigid; its centre lies a distance above the beam's end.
"""

from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from astropy import units as u

from planner.checks import require_not_negative, require_positive
from planner.errors import InvalidInputError
from planner.fields import Key, Many

_SCAN_STEP = 0.005  # in beta L: neighbouring frequencies of these beams are farther apart
_SHAPE_POINTS = 101


@dataclass(frozen=True, kw_only=True)
class Vibration:
    """Natural frequencies and the shape of the first mode."""

    frequency: Annotated[u.Quantity[u.Hz], "of each mode, rising", Key("frequencies_Hz"), Many()]
    height: u.Quantity[u.m]  # (points,), from the foot
    shape: np.ndarray  # (points,), deflection of the first mode, 1 at the top of the beam


@dataclass(frozen=True, kw_only=True)
class Bending:
    """What a load does to the top of the beam."""

    deflection: Annotated[u.Quantity[u.um], "of the top"]
    angle: Annotated[u.Quantity[u.arcsec], "by which the top tilts, and a star moves"]


def wave_numbers(*, mass_ratio: float = 0.0, centre_ratio: float = 0.0, inertia_ratio: float = 0.0,
                 foot_flexibility: float = 0.0, modes: int = 1) -> np.ndarray:
    r"""Return :math:`\beta L` of the first modes of a cantilever with a rigid mass on top and an elastic foot.

    The zeros of the determinant of the two conditions at the top,

    .. math:: w''' = -\lambda^4\mu(w + \varepsilon w'),\qquad
        w'' = \lambda^4[\,j\,w' + \varepsilon\mu(w + \varepsilon w')]

    on the two shapes that keep the conditions at the foot, :math:`w = 0` and :math:`f\,w'' = w'`, lengths in
    units of L.

    Parameters
    ----------
    mass_ratio : float
        Mass on top over the beam's own mass, :math:`\mu`, at least 0.
    centre_ratio : float
        Height of that mass's centre above the beam's end over the beam's length, :math:`\varepsilon`.
    inertia_ratio : float
        Moment of inertia about that centre over beam mass times length squared, :math:`j`.
    foot_flexibility : float
        E I/(K L) with K the foot's rotational stiffness, :math:`f`; 0 for a rigid foot.
    modes : int
        How many, at least 1.

    Returns
    -------
    ndarray, shape (modes,)
        1.8751 for the bare cantilever; frequency is (βL)² √(E I/m L⁴)/2π.

    Notes
    -----
    The scan starts at Dunkerley's bound: no frequency lies below one over the trace of flexibility times mass.

    References
    ----------
    .. [BLE] R. D. Blevins, Formulas for Natural Frequency and Mode Shape (1979), ch. 8 (from memory); with an equal
       mass on top (βL)² = 1.557298, Math. Problems in Engineering 2017, 1568019, table 1.
    """
    from scipy.optimize import brentq

    ratios = (mass_ratio, centre_ratio, inertia_ratio, foot_flexibility)
    low = 0.999 * _trace(*ratios) ** -0.25
    found: list[float] = []
    while len(found) < modes:
        grid = _scan(low)
        sign = np.sign(_determinant(grid, *ratios))
        for index in np.flatnonzero(sign[:-1] * sign[1:] < 0):
            found.append(brentq(_determinant, grid[index], grid[index + 1], args=ratios, xtol=1e-14))
        low = grid[-1]
    return np.array(found[:modes])


def vibration(*, length: u.Quantity[u.m], stiffness: u.Quantity[u.N * u.m**2], mass_per_length: u.Quantity[u.kg / u.m],
              top_mass: u.Quantity[u.kg] = 0 * u.kg, top_centre: u.Quantity[u.m] = 0 * u.m,
              top_inertia: u.Quantity[u.kg * u.m**2] = 0 * u.kg * u.m**2,
              foot_stiffness: u.Quantity[u.N * u.m] | None = None, modes: int = 2) -> Vibration:
    """Return the natural frequencies of an upright beam and the shape of its first mode.

    Parameters
    ----------
    length : Quantity [m], scalar
        From the foot to the top.
    stiffness : Quantity [N m2], scalar
        E I.
    mass_per_length : Quantity [kg/m], scalar
        Of the beam with its fill.
    top_mass, top_centre, top_inertia : Quantity [kg], [m], [kg m2], scalars
        Rigid mass on top, height of its centre above the top, moment of inertia about that centre.
    foot_stiffness : Quantity [N m per rad], scalar, or None
        Rotational stiffness of the foot; rigid if None.
    modes : int
        How many frequencies.

    Raises
    ------
    InvalidInputError
        If a length, stiffness or mass per length is not more than zero.
    """
    metre = require_positive("length", length, u.m, "Give the height of the column.").value
    bending = require_positive("stiffness", stiffness, u.N * u.m**2, "Give E I.").value
    linear = require_positive("mass_per_length", mass_per_length, u.kg / u.m, "Give the mass per length.").value
    beam_mass = linear * metre
    ratios = (require_not_negative("top_mass", top_mass, u.kg).value / beam_mass,
              require_not_negative("top_centre", top_centre, u.m).value / metre,
              require_not_negative("top_inertia", top_inertia, u.kg * u.m**2).value / (beam_mass * metre**2),
              0.0 if foot_stiffness is None else bending / (_foot(foot_stiffness) * metre))
    numbers = wave_numbers(mass_ratio=ratios[0], centre_ratio=ratios[1], inertia_ratio=ratios[2],
                           foot_flexibility=ratios[3], modes=modes)
    frequency = numbers**2 * np.sqrt(bending / (linear * metre**4)) / (2 * np.pi)
    place = np.linspace(0, 1, _SHAPE_POINTS)
    return Vibration(frequency=frequency * u.Hz, height=place * length.to(u.m),
                     shape=_mode_shape(place, numbers[0], ratios))


def bend(*, length: u.Quantity[u.m], stiffness: u.Quantity[u.N * u.m**2], force: u.Quantity[u.N] = 0 * u.N,
         force_height: u.Quantity[u.m] | None = None, moment: u.Quantity[u.N * u.m] = 0 * u.N * u.m,
         line_load: u.Quantity[u.N / u.m] = 0 * u.N / u.m, foot_stiffness: u.Quantity[u.N * u.m] | None = None
         ) -> Bending:
    r"""Return deflection and angle of the top under a sideways force, a moment and a load along the beam.

    .. math:: w = \frac{F L^3}{3EI} + \frac{M L^2}{2EI} + \frac{p L^4}{8EI} + \frac{M_0 L}{K},\qquad
        w' = \frac{F L^2}{2EI} + \frac{M L}{EI} + \frac{p L^3}{6EI} + \frac{M_0}{K}

    with M the moment at the top (a force above the top adds its lever) and M₀ that at the foot.

    Parameters
    ----------
    length, stiffness, foot_stiffness : Quantity
        As for `vibration`.
    force : Quantity [N], scalar
        Sideways, at `force_height` [m] above the foot; at the top if None. It must not act below the top.
    moment : Quantity [N m], scalar
        On the top.
    line_load : Quantity [N/m], scalar
        Even along the beam: the wind on the column itself.

    References
    ----------
    .. [TG] J. M. Gere and S. P. Timoshenko, Mechanics of Materials, table of cantilever deflections.
    """
    metre = require_positive("length", length, u.m, "Give the height of the column.").value
    bending = require_positive("stiffness", stiffness, u.N * u.m**2, "Give E I.").value
    push, along = force.to_value(u.N), line_load.to_value(u.N / u.m)
    arm = 0.0 if force_height is None else force_height.to_value(u.m) - metre
    if arm < -1e-9:
        raise InvalidInputError("force_height", force_height, f"must be at least the height of the column, {length:g}",
                                "Give the height above the foot.")
    twist = moment.to_value(u.N * u.m) + push * arm
    at_foot = twist + push * metre + along * metre**2 / 2
    rocking = 0.0 if foot_stiffness is None else at_foot / _foot(foot_stiffness)
    deflection = (push * metre**3 / 3 + twist * metre**2 / 2 + along * metre**4 / 8) / bending + rocking * metre
    slope = (push * metre**2 / 2 + twist * metre + along * metre**3 / 6) / bending + rocking
    return Bending(deflection=(deflection * u.m).to(u.um), angle=(slope * u.rad).to(u.arcsec))


def _scan(low: float) -> np.ndarray:
    """Return where to look for the next frequencies: in equal ratios up to 1, in equal steps from there on."""
    steps = np.arange(max(low, 1.0), low + 4, _SCAN_STEP)
    if low >= 1:
        return steps
    return np.concatenate([np.exp(np.arange(np.log(low), 0.0, _SCAN_STEP)), steps])


def _foot(foot_stiffness: u.Quantity) -> float:
    """Return the foot's stiffness [N m per rad]; the radian may be written or not."""
    unit = u.N * u.m
    value = foot_stiffness * u.rad if foot_stiffness.unit.is_equivalent(unit / u.rad) else foot_stiffness
    return require_positive("foot_stiffness", value, unit, "Give the rotational stiffness, or none for rigid.").value


def _trace(mu: float, eps: float, inertia: float, flexibility: float) -> float:
    """Return the trace of flexibility times mass: a bound from above on 1/(beta L)^4 of the first mode."""
    own = 1 / 12 + flexibility / 3
    top = mu * (1 / 3 + eps + eps**2 + flexibility * (1 + eps) ** 2)
    return own + top + inertia * (1 + flexibility)


def _shapes(place: float | np.ndarray, number: float | np.ndarray, flexibility: float) -> Any:
    """Return the two shapes that keep the conditions at the foot, and three derivatives: shape (2, 4, ...)."""
    x = number * place
    sin, cos, sinh, cosh = np.sin(x), np.cos(x), np.sinh(x), np.cosh(x)
    lean = 2 * number * flexibility
    first = [cos - cosh - lean * sinh, -sin - sinh - lean * cosh, -cos - cosh - lean * sinh, sin - sinh - lean * cosh]
    second = [sin - sinh, cos - cosh, -sin - sinh, -cos - cosh]
    return [[value * number**order for order, value in enumerate(one)] for one in (first, second)]


def _conditions(number: float | np.ndarray, mu: float, eps: float, inertia: float, flexibility: float
                ) -> list[tuple[Any, Any]]:
    """Return what is left of the two conditions at the top for each shape: shear and moment."""
    left = []
    for w, slope, bend_, shear in _shapes(1.0, number, flexibility):
        centre = w + eps * slope
        left.append((shear + number**4 * mu * centre, bend_ - number**4 * (inertia * slope + eps * mu * centre)))
    return left


def _determinant(number: float | np.ndarray, mu: float, eps: float, inertia: float, flexibility: float) -> float:
    """Return the frequency equation's left side, freed of its growth with cosh."""
    (shear_a, bend_a), (shear_b, bend_b) = _conditions(number, mu, eps, inertia, flexibility)
    return (shear_a * bend_b - shear_b * bend_a) / (number**5 * np.cosh(number) ** 2)


def _mode_shape(place: np.ndarray, number: float, ratios: tuple[float, float, float, float]) -> np.ndarray:
    (shear_a, _), (shear_b, _) = _conditions(number, *ratios)
    first, second = (shape[0] for shape in _shapes(place, number, ratios[3]))
    shape = shear_b * first - shear_a * second
    return shape / shape[-1]
