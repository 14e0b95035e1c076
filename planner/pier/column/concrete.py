"""Concrete: its strength and stiffness by age, and when the mount may be bolted down."""

import math
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.checks import Rule, check, require_positive
from planner.errors import InvalidInputError
from planner.fields import Key, Many

# Coefficient s of EN 1992-1-1:2004 eq. 3.2 by class of cement: rapid, normal, slow.
CEMENT_COEFFICIENT = {"R": 0.20, "N": 0.25, "S": 0.38}
# Mean above characteristic strength, EN 1992-1-1:2004 table 3.1: f_cm = f_ck + 8 MPa.
MEAN_ABOVE_CHARACTERISTIC = 8 * u.MPa
# Share of the 28-day strength at which rods cast in may be tightened, and the least age for anything (common practice,
# no source): the maker of the anchors and the local code have the last word.
BOLT_SHARE, LEAST_AGE = 0.7, 7 * u.day
# Of anchors set into hardened concrete: tested in C20/25 and stronger (EN 1992-4 clause 1.2, from memory); glue wants
# concrete of 21 days (ACI 318-14 clause 17.1.2, from memory).
ANCHORS = ("cast-in", "glued", "expansion", "screw")
DRILLED_STRENGTH, GLUE_AGE = 20 * u.MPa, 21 * u.day
# The law of strength: from 3 days on (EN 1992-1-1:2004 clause 3.1.2(5)).
YOUNGEST = 3.0
# Fresh concrete of at least 5 °C, kept there until it has 5 MPa: EN 206 clause 5.2.9 and EN 13670 (formerly BS 8110).
COLD, FROST_STRENGTH = 5 * u.deg_C, 5 * u.MPa
HOT = 30 * u.deg_C  # fresh concrete not above it: common practice, no source; many local codes set 30 to 35 °C
_AGES = (3.0, 5.0, 7.0, 10.0, 14.0, 21.0, 28.0, 56.0, 90.0)
_MATURITY = Rule(unit=u.deg_C, at_least=0, at_most=80,
                 remedy="The law holds from 0 to 80 °C; concrete that freezes young is lost.")
_CURING = Rule(unit=u.deg_C, at_least=0, at_most=40,
               remedy="Concrete that freezes young or cures hotter than 40 °C is lost: keep it between 5 and 30 °C.")


@dataclass(frozen=True, kw_only=True)
class ConcreteAge:
    """Strength by age, and the day of the bolts."""

    age: Annotated[u.Quantity[u.day], "days at which the strength is told", Key("age_days"), Many()]
    strength_share: Annotated[np.ndarray, "of the 28-day mean, at each; null while too young"]
    mean_strength: Annotated[u.Quantity[u.MPa], "at each", Many()]
    modulus: Annotated[u.Quantity[u.GPa], "at each", Many()]
    anchor: Annotated[str, "that holds the foot plate"]
    bolt_share: Annotated[float | None, "of the 28-day strength on that day; null: never what the rods want"]
    bolt_age: Annotated[u.Quantity[u.day] | None, "when it bears bolts", Key("bolt_age_days")]
    temperature: Annotated[u.Quantity[u.deg_C], "of the concrete"]
    answer: Annotated[str, "in words"]
    weather: str  # what cold or heat asks for; empty if nothing

    @property
    def bolt_day(self) -> int | None:
        """First whole day on which the mount may be bolted down."""
        return None if self.bolt_age is None else math.ceil(self.bolt_age.to_value(u.day) - 1e-9)


def strength_share(age: u.Quantity[u.day], *, cement: str = "N") -> u.Quantity[u.one]:
    r"""Return the mean strength at an age over that at 28 days, cured at 20 °C.

    .. math:: \beta_{cc} = \exp\left[s\left(1 - \sqrt{28/t}\right)\right]

    Parameters
    ----------
    age : Quantity [day], any shape
        Temperature-adjusted age (see `maturity_factor`), more than 0.
    cement : str
        Class: R rapid, N normal, S slow hardening.

    Returns
    -------
    Quantity [dimensionless], same shape
        0.779 for class N at 7 days; more than 1 after 28 days.

    References
    ----------
    .. [EC2] EN 1992-1-1:2004 eq. 3.2 (the form of the equation is from memory).
    """
    days = require_positive("age", age, u.day, "Give the age in days.").value
    return np.exp(CEMENT_COEFFICIENT[cement] * (1 - np.sqrt(28 / days))) * u.one


def age_at_share(share: float, *, cement: str = "N") -> u.Quantity[u.day]:
    """Return the age at 20 °C at which the strength reaches a share of that at 28 days: `strength_share` inverted.

    Raises InvalidInputError if the share is not between 0 and the limit exp(s) that the law approaches.
    """
    coefficient = CEMENT_COEFFICIENT[cement]
    if not 0 < share < math.exp(coefficient):
        raise InvalidInputError("share", share, f"must be more than 0 and less than {math.exp(coefficient):.2f}",
                                "Concrete of this cement does not grow beyond that.")
    return 28 / (1 - math.log(share) / coefficient) ** 2 * u.day


def maturity_factor(temperature: u.Quantity[u.deg_C]) -> u.Quantity[u.one]:
    r"""Return how many days at 20 °C one day at a temperature is worth.

    .. math:: \exp\left[-\left(\frac{4000}{273 + T} - 13.65\right)\right]

    Parameters
    ----------
    temperature : Quantity [deg_C], any shape
        Of the concrete, 0 to 80 °C.

    Returns
    -------
    Quantity [dimensionless], same shape
        1.00 at 20 °C, 0.48 at 5 °C.

    References
    ----------
    .. [EC2B] EN 1992-1-1:2004 annex B eq. B.10, from memory.
    """
    celsius = check("temperature", temperature, _MATURITY).value
    return np.exp(-(4000 / (273 + celsius) - 13.65)) * u.one


def mean_modulus(characteristic_strength: u.Quantity[u.MPa]) -> u.Quantity[u.GPa]:
    r"""Return the secant modulus of elasticity at 28 days.

    .. math:: E_{cm} = 22\,(f_{cm}/10)^{0.3}

    Parameters
    ----------
    characteristic_strength : Quantity [MPa], any shape
        f_ck of the class: 25 MPa of C25/30.

    Returns
    -------
    Quantity [GPa], same shape
        31.5 for C25/30; the table prints 31. For quartzite aggregate; limestone gives 10 %, sandstone 30 % less.

    References
    ----------
    .. [EC2T] EN 1992-1-1:2004 table 3.1, from memory.
    """
    mean = characteristic_strength + MEAN_ABOVE_CHARACTERISTIC
    return 22 * (mean.to_value(u.MPa) / 10) ** 0.3 * u.GPa


def tensile_strength(characteristic_strength: u.Quantity[u.MPa]) -> u.Quantity[u.MPa]:
    """Return the design strength in tension of plain concrete: 0.8 · 0.7 f_ctm/1.5, f_ctm = 0.3 f_ck^(2/3).

    Classes above C50/60 have f_ctm = 2.12 ln(1 + f_cm/10).

    References
    ----------
    .. [EC2P] EN 1992-1-1:2004 table 3.1 and clause 12.3.1, from memory.
    """
    strength = characteristic_strength.to_value(u.MPa)
    mean = 0.3 * strength ** (2 / 3) if strength <= 50 else 2.12 * math.log(1 + (strength + 8) / 10)
    return 0.8 * 0.7 * mean / 1.5 * u.MPa


def concrete_age(characteristic_strength: u.Quantity[u.MPa], *, cement: str = "N",
                 temperature: u.Quantity[u.deg_C] = 20 * u.deg_C, anchor: str = "cast-in") -> ConcreteAge:
    """Return the strength of a pour by age and the day on which the mount may be bolted down.

    `characteristic_strength`: f_ck of the class. `cement`: class: R, N or S. `temperature`: mean of the concrete since
    it was poured, 0 to 40 °C. Above 20 °C it is counted as 20 °C: warm concrete is early, not stronger. `anchor`: how
    the rods sit in it: one of `ANCHORS`.
    Stiffness follows strength to the power 0.3 (EN 1992-1-1 eq. 3.5, from memory). Nothing is said of
    concrete whose age at 20 °C is less than 3 days.
    Raises InvalidInputError if a value breaks its rule.
    """
    require_positive("characteristic_strength", characteristic_strength, u.MPa, "Give f_ck, e.g. 25 MPa.")
    celsius = check("temperature", temperature, _CURING)
    factor = min(float(maturity_factor(celsius)), 1.0)
    grown = np.array(_AGES) * factor
    law = strength_share(grown * u.day, cement=cement).value
    share = np.where(grown >= 0.99 * YOUNGEST, law, np.nan)
    mean = characteristic_strength + MEAN_ABOVE_CHARACTERISTIC
    wanted = _wanted_share(characteristic_strength, anchor)
    bolts = None if wanted is None else _bolt_age(wanted, cement, factor, anchor)
    reached = None if bolts is None else float(strength_share(bolts * factor, cement=cement))
    return ConcreteAge(
        age=np.array(_AGES) * u.day, strength_share=share, mean_strength=mean * share,
        modulus=mean_modulus(characteristic_strength) * share**0.3, anchor=anchor, bolt_share=reached, bolt_age=bolts,
        temperature=celsius, answer=_answer(celsius, anchor, reached, bolts), weather=_weather(celsius))


def _wanted_share(characteristic_strength: u.Quantity, anchor: str) -> float | None:
    """Return the share of the 28-day mean strength that the rods want; None if it is never reached."""
    if anchor == "cast-in":
        return BOLT_SHARE
    if characteristic_strength < DRILLED_STRENGTH:
        return None
    needed = DRILLED_STRENGTH + MEAN_ABOVE_CHARACTERISTIC
    return max(float(needed / (characteristic_strength + MEAN_ABOVE_CHARACTERISTIC)), BOLT_SHARE)


def _bolt_age(share: float, cement: str, factor: float, anchor: str) -> u.Quantity[u.day]:
    by_strength = age_at_share(share, cement=cement) / factor
    return max(by_strength.to(u.day), LEAST_AGE, GLUE_AGE if anchor == "glued" else LEAST_AGE)


def _answer(celsius: u.Quantity, anchor: str, share: float | None, bolts: u.Quantity | None) -> str:
    if bolts is None or share is None:
        return (f"Concrete weaker than C20/25 takes rods that are cast in, no {anchor} anchors: those are tested in "
                f"{DRILLED_STRENGTH:g} and more.")
    day = math.ceil(bolts.value - 1e-9)
    at = f"{day} days after pouring, if the concrete has stayed at {celsius.value + 0:.3g} °C"
    if anchor == "cast-in":
        return (f"Bolt the mount down no sooner than {at}: it then has {100 * share:.0f} % of its 28-day strength. "
                "Load before the seventh day needs tested cubes.")
    if anchor == "glued":
        return (f"Drill for glued anchors no sooner than {at}: glue wants concrete of 21 days. Then wait as long as "
                "the glue's data sheet says for the temperature in the hole.")
    return (f"Drill for {anchor} anchors no sooner than {at}: they are tested in concrete of 20 MPa and more. They "
            "bear as soon as they have their torque.")


def _weather(celsius: u.Quantity) -> str:
    told = f"{celsius.value + 0:.3g} °C"
    if celsius > HOT:
        return (f"{told} is hot for young concrete: above {HOT.value:.0f} °C it sets before it is worked in, dries, "
                "cracks and ends weaker. The days told here hold only if it never dried.")
    if celsius >= COLD:
        return ""
    return (f"{told} is too cold for concrete: pour none below {COLD.value:.0f} °C. Keep it warm, "
            f"insulated and off frozen ground until it has {FROST_STRENGTH:g}: concrete that freezes before is lost. "
            "The days told here hold only if it never froze; have cubes tested that lay beside it.")
