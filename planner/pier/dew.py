"""Dew: when the air's water settles on a glass that looks at a clear sky, and what heat keeps it off."""

import math
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import constants
from astropy import units as u

from planner.checks import Rule, check, require_positive

# Magnus constants over water, -45 to 60 C: WMO Guide to Instruments and Methods of Observation (no. 8), annex 4.B.
MAGNUS_SLOPE, MAGNUS_ZERO_C, MAGNUS_HPA = 17.62, 243.12, 6.112
# Heat that night air takes from a warm surface: 5.7 + 3.8 v W per m2 and K for a wind of v m/s (W. H. McAdams, Heat
# Transmission, 3rd ed. 1954, from memory), here for the 0.5 m/s that reach the glass of a telescope on a calm night.
AIR_EXCHANGE = (5.7 + 3.8 * 0.5) * u.W / u.m**2 / u.K
# Emissivity of glass in the thermal infrared (common practice, no source).
GLASS_EMISSIVITY = 0.9
# Share of a heater band's power that reaches the glass; the rest warms tube and air (common practice, no source).
BAND_EFFICIENCY = 0.3
# The glass is kept this much above the dew point (common practice, no source: controllers hold 2 to 5 K).
DEW_MARGIN = 3 * u.K

_HUMIDITY = Rule(more_than=0, at_most=1, remedy="Give the relative humidity as a share, e.g. 0.8.")
_STEFAN_BOLTZMANN = constants.sigma_sb.to_value(u.W / u.m**2 / u.K**4)
_ZERO_C = 273.15


@dataclass(frozen=True, kw_only=True)
class HeaterNeed:
    """How near the dew is and what the heater has to do about it."""

    dew_point: Annotated[u.Quantity[u.deg_C], "of the air"]
    dew_margin: Annotated[u.Quantity[u.K], "air above dew point"]
    unheated: u.Quantity[u.deg_C]  # glass without heat, looking at a clear sky
    band_power: u.Quantity[u.W]  # what the band draws to warm the glass


def dew_point(temperature: u.Quantity[u.deg_C], humidity: float) -> u.Quantity[u.deg_C]:
    r"""Return the temperature at which the air's water vapour saturates over water.

    .. math:: t_d = \frac{243.12\,\gamma}{17.62 - \gamma},\quad \gamma = \ln U + \frac{17.62\,t}{243.12 + t}

    Parameters
    ----------
    temperature : Quantity [deg_C], any shape
        Of the air, -45 to 60 °C.
    humidity : float or array, shape that broadcasts
        Relative humidity :math:`U` as a share, more than 0 to 1.

    Returns
    -------
    Quantity [deg_C], broadcast shape

    Raises
    ------
    InvalidInputError
        If the humidity is not a share.

    References
    ----------
    .. [WMO8] WMO no. 8, Guide to Instruments and Methods of Observation, annex 4.B.
    """
    for share in np.ravel(humidity):
        check("humidity", float(share), _HUMIDITY)
    celsius = temperature.to_value(u.deg_C, u.temperature())
    gamma = np.log(humidity) + MAGNUS_SLOPE * celsius / (MAGNUS_ZERO_C + celsius)
    return MAGNUS_ZERO_C * gamma / (MAGNUS_SLOPE - gamma) * u.deg_C


def clear_sky_emissivity(dew: u.Quantity[u.deg_C]) -> u.Quantity[u.one]:
    r"""Return the emissivity of a clear night sky, as seen by a level surface.

    .. math:: \epsilon = 0.741 + 0.62\,(t_d/100)

    Parameters
    ----------
    dew : Quantity [deg_C], any shape
        Dew point at the ground, -13 to 24 °C in the fit.

    Returns
    -------
    Quantity [dimensionless], same shape

    References
    ----------
    .. [BF84] P. Berdahl and R. Fromberg, Solar Energy 29, 299 (1982): the night-time fit, from memory.
    """
    return (0.741 + 0.62 * dew.to_value(u.deg_C) / 100) * u.one


def sky_share(aperture: u.Quantity[u.mm], shield_length: u.Quantity[u.mm]) -> float:
    """Return the share of a glass's hemisphere that is open sky through a shield: sin² of its half-angle.

    Lambert's view factor from the centre of a disc to a coaxial opening of equal diameter; 1 without a shield.
    """
    half = aperture.to_value(u.mm) / 2
    return half**2 / (half**2 + shield_length.to_value(u.mm) ** 2)


def heater_power(aperture: u.Quantity[u.mm], *, temperature: u.Quantity[u.deg_C], humidity: float,
                 shield_length: u.Quantity[u.mm] = 0 * u.mm) -> HeaterNeed:
    r"""Return what keeps a glass a little above the dew point under a clear sky.

    .. math:: q = h\,(t_g - t) + \epsilon_g\,\sigma\,[T_g^4 - F\epsilon_s T^4 - (1 - F)\,T^4],\quad
        t_g = t_d + 3\,\mathrm{K}

    Parameters
    ----------
    aperture : Quantity [mm], scalar
        Diameter of the glass.
    temperature : Quantity [deg_C], scalar
        Of the air.
    humidity : float
        Relative humidity as a share.
    shield_length : Quantity [mm], scalar
        Of the dew shield or the tube in front of the glass: the part of the sky it hides counts as at air temperature.

    Returns
    -------
    HeaterNeed
        Zero power when the glass stays above that without help. A steady state: a heavy mirror lags behind.

    Notes
    -----
    The exchange with the air, the emissivity of glass and the band's efficiency are common practice; wind changes the
    answer by a factor of two. A controller with a sensor on the glass knows better.
    """
    require_positive("aperture", aperture, u.mm, "Give the diameter of the glass.")
    air = temperature.to_value(u.deg_C, u.temperature())
    dew = dew_point(temperature, humidity)
    seen = sky_share(aperture, shield_length)
    surroundings = (seen * float(clear_sky_emissivity(dew)) + 1 - seen) * (air + _ZERO_C) ** 4

    def loss(glass: float) -> float:
        """Return the heat a glass at that temperature [deg_C] loses, W per m2."""
        radiated = GLASS_EMISSIVITY * _STEFAN_BOLTZMANN * ((glass + _ZERO_C) ** 4 - surroundings)
        return AIR_EXCHANGE.value * (glass - air) + radiated

    wanted = float(dew.value + DEW_MARGIN.value)
    area = math.pi / 4 * aperture.to_value(u.m) ** 2
    into_glass = max(0.0, loss(wanted) * area)
    roots = np.roots([GLASS_EMISSIVITY * _STEFAN_BOLTZMANN, 0, 0, AIR_EXCHANGE.value, loss(-_ZERO_C)])  # of loss(T)
    unheated = float(roots[np.isreal(roots)].real.max()) - _ZERO_C  # the other real one is negative
    return HeaterNeed(
        dew_point=dew, dew_margin=(air - dew.value) * u.K, unheated=unheated * u.deg_C,
        band_power=into_glass / BAND_EFFICIENCY * u.W)
