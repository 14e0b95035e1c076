"""Concrete: its strength and stiffness by age, and when the mount may be bolted down."""

import math
from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import Rule, check, require_positive
from planner.errors import InvalidInputError

# Coefficient s of EN 1992-1-1:2004 eq. 3.2 by class of cement: rapid, normal, slow.
CEMENT_COEFFICIENT = {"R": 0.20, "N": 0.25, "S": 0.38}
# Mean above characteristic strength, EN 1992-1-1:2004 table 3.1: f_cm = f_ck + 8 MPa.
MEAN_ABOVE_CHARACTERISTIC = 8 * u.MPa
# Share of the 28-day strength at which a light load may be bolted on (common practice, no source): the maker of the
# anchors and the local code have the last word.
BOLT_SHARE = 0.7
_AGES = (1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 14.0, 21.0, 28.0, 56.0, 90.0)
_TEMPERATURE = Rule(unit=u.deg_C, at_least=0, at_most=80,
                    remedy="The law holds from 0 to 80 °C; concrete that freezes young is lost.")


@dataclass(frozen=True, kw_only=True)
class ConcreteAge:
    """Strength by age, and the day of the bolts."""

    age: u.Quantity[u.day]  # (ages,)
    strength_share: np.ndarray  # (ages,), of the 28-day mean
    mean_strength: u.Quantity[u.MPa]  # (ages,)
    modulus: u.Quantity[u.GPa]  # (ages,)
    bolt_share: float
    bolt_age: u.Quantity[u.day]
    temperature: u.Quantity[u.deg_C]
    answer: str

    @property
    def bolt_day(self) -> int:
        """First whole day on which the strength is there."""
        return math.ceil(self.bolt_age.to_value(u.day))


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
    return np.exp(_coefficient(cement) * (1 - np.sqrt(28 / days))) * u.one


def age_at_share(share: float, *, cement: str = "N") -> u.Quantity[u.day]:
    """Return the age at 20 °C at which the strength reaches a share of that at 28 days: `strength_share` inverted.

    Raises
    ------
    InvalidInputError
        If the share is not between 0 and the limit exp(s) that the law approaches.
    """
    coefficient = _coefficient(cement)
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
    celsius = check("temperature", temperature, _TEMPERATURE).value
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


def concrete_age(characteristic_strength: u.Quantity[u.MPa], *, cement: str = "N",
                 temperature: u.Quantity[u.deg_C] = 20 * u.deg_C, bolt_share: float = BOLT_SHARE) -> ConcreteAge:
    """Return the strength of a pour by age and the day on which the mount may be bolted down.

    Parameters
    ----------
    characteristic_strength : Quantity [MPa], scalar
        f_ck of the class.
    cement : str
        Class: R, N or S.
    temperature : Quantity [deg_C], scalar
        Mean of the concrete since it was poured.
    bolt_share : float
        Share of the 28-day strength that the bolts want.

    Returns
    -------
    ConcreteAge
        Stiffness follows strength to the power 0.3 (EN 1992-1-1 eq. 3.5, from memory).
    """
    require_positive("characteristic_strength", characteristic_strength, u.MPa, "Give f_ck, e.g. 25 MPa.")
    factor = maturity_factor(temperature)
    ages = np.array(_AGES) * u.day
    share = strength_share(ages * factor, cement=cement).value
    bolt_age = age_at_share(bolt_share, cement=cement) / factor
    mean = characteristic_strength + MEAN_ABOVE_CHARACTERISTIC
    answer = (f"Bolt the mount down after {math.ceil(bolt_age.value)} days at {temperature.value:.0f} °C: the concrete "
              f"then has {bolt_share:.0%} of its 28-day strength. Anchors that are glued or spread may want more.")
    return ConcreteAge(
        age=ages, strength_share=share, mean_strength=mean * share,
        modulus=mean_modulus(characteristic_strength) * share**0.3,
        bolt_share=bolt_share, bolt_age=bolt_age.to(u.day), temperature=temperature, answer=answer)


def _coefficient(cement: str) -> float:
    if cement not in CEMENT_COEFFICIENT:
        raise InvalidInputError("cement", cement, f"must be one of {', '.join(CEMENT_COEFFICIENT)}",
                                "R hardens rapidly, N normally, S slowly.")
    return CEMENT_COEFFICIENT[cement]
