"""Copper cables: the standard cross-sections, their resistance, and the current they may carry."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import Model, plain, quantity, require_not_negative
from planner.errors import InvalidInputError

# Largest resistance of plain flexible copper conductors (class 5) at 20 C, ohm per km, by cross-section in mm2.
# Source: IEC 60228:2004 table 3; 0.5 to 2.5 mm2 agree in four cable makers' tables, 4 mm2 and more from memory.
CLASS_5_OHM_PER_KM = {
    0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30, 10.0: 1.91, 16.0: 1.21,
}
# Largest resistance of solid copper conductors (class 1), same source.
CLASS_1_OHM_PER_KM = {0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41}
# Largest steady current of a two-core flexible cord in air at 30 C, A, by cross-section in mm2. From memory: the
# cautious of the usual tables for flexible cords (BS 7671 table 4F3A, DIN VDE 0298-4). 16 mm2 scaled from 10 mm2 by
# the square root of the cross-section, on the safe side of both.
CORD_AMPERE = {0.5: 3.0, 0.75: 6.0, 1.0: 10.0, 1.5: 16.0, 2.5: 25.0, 4.0: 32.0, 6.0: 40.0, 10.0: 63.0, 16.0: 79.0}
SERIES_MM2 = tuple(CLASS_5_OHM_PER_KM)
# Ratings of blade fuses, A (ISO 8820-3, from memory).
FUSE_AMPERE = (1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0)
# A steady current up to this share of a fuse's rating does not age it (common practice).
FUSE_LOADING = 0.8
# A blade fuse opens within 5 s at twice its rating (ISO 8820-3, from memory): what a dead short must reach.
FUSE_FAULT_FACTOR = 2.0

FUSE_RULE = (
    "A fuse stands at the source end of every cable that grows thinner. Its rating is the smallest in the series with "
    f"the greatest current at most {FUSE_LOADING:.0%} of it, it is at most the current that cable may carry, and a "
    f"dead short at the far end reaches {FUSE_FAULT_FACTOR:g} times it. Local codes decide."
)


@dataclass(frozen=True, kw_only=True)
class Cable(Model):
    """Two conductors of equal cross-section from a source or hub to a hub or load."""

    source: str = plain("text", remedy="Name the supply or the hub the cable comes from.")
    feeds: str = plain("text", remedy="Name the hub or the load at its far end.")
    length: u.Quantity[u.m] = quantity("m", at_least=0, at_most=1000, meaning="one way",
                                       remedy="Give the length of the cable, one way.")
    cross_section: u.Quantity[u.mm**2] = quantity(
        "mm2", more_than=0, at_most=16, meaning="of one conductor",
        remedy=f"The standard series is {', '.join(f'{area:g}' for area in SERIES_MM2)} mm2.")
    connectors: u.Quantity[u.ohm] = quantity(
        "ohm", default="0.01 ohm", at_least=0, at_most=1,
        meaning="plugs, fuse holder and fuse together (common practice, no source)")
    fuse: u.Quantity[u.A] | None = quantity("A", default=None, more_than=0, at_most=1000,
                                            meaning="fitted at the source end, if any")

    def __post_init__(self) -> None:
        super().__post_init__()
        if _nearest_section(self.cross_section.value) is None:
            raise InvalidInputError(f"{self.called}.cross_section", self.cross_section,
                                    "must be of the standard series",
                                    f"The series is {', '.join(f'{area:g}' for area in SERIES_MM2)} mm2.")

    @property
    def called(self) -> str:
        """What the cable is called: its two ends."""
        return f"{self.source} → {self.feeds}"

    @property
    def may_carry(self) -> u.Quantity[u.A]:
        """Largest steady current of a flexible cord of this cross-section (see `CORD_AMPERE`)."""
        return CORD_AMPERE[_section(self.cross_section)] * u.A


def copper_temperature_factor(temperature: u.Quantity[u.deg_C]) -> u.Quantity[u.one]:
    r"""Return the factor by which a copper resistance at a temperature is multiplied to get that at 20 °C.

    .. math:: k = \frac{250}{230 + t}

    Parameters
    ----------
    temperature : Quantity [deg_C], any shape
        Of the conductor, -60 to 150 °C.

    Returns
    -------
    Quantity [dimensionless], same shape
        1.064 at 5 °C, 0.893 at 50 °C, as the table prints it; 254.5/(234.5 + t) is the exact form, which differs by
        0.4 % at most from -20 to 60 °C.

    References
    ----------
    .. [IEC60228] IEC 60228:2004, annex B; the form of the formula is from memory.
    """
    celsius = temperature.to_value(u.deg_C, u.temperature())
    return 250 / (230 + celsius) * u.one


def conductor_resistance(cross_section: u.Quantity[u.mm**2], *, temperature: u.Quantity[u.deg_C] = 20 * u.deg_C
                         ) -> u.Quantity[u.ohm / u.km]:
    """Return the largest resistance per length of one flexible copper conductor.

    Parameters
    ----------
    cross_section : Quantity [mm2], scalar
        One of the standard series.
    temperature : Quantity [deg_C], scalar
        Of the conductor.

    Returns
    -------
    Quantity [ohm/km], scalar
        The limit of the standard (class 5) brought to the temperature; a real cable may be a little better.

    Raises
    ------
    InvalidInputError
        If the cross-section is not in the series.
    """
    at_20 = CLASS_5_OHM_PER_KM[_section(cross_section)] * u.ohm / u.km
    return at_20 / copper_temperature_factor(temperature)


def loop_resistance(cable: Cable, *, temperature: u.Quantity[u.deg_C] = 20 * u.deg_C) -> u.Quantity[u.ohm]:
    """Return the resistance of a cable there and back, connectors included."""
    per_length = conductor_resistance(cable.cross_section, temperature=temperature)
    return (2 * cable.length * per_length).to(u.ohm) + cable.connectors


def voltage_drop(length: u.Quantity[u.m], cross_section: u.Quantity[u.mm**2], current: u.Quantity[u.A], *,
                 temperature: u.Quantity[u.deg_C] = 20 * u.deg_C) -> u.Quantity[u.V]:
    """Return the voltage lost there and back along a cable: 2 L I R.

    Parameters
    ----------
    length : Quantity [m], any shape
        One way.
    cross_section : Quantity [mm2], scalar
        One of the standard series.
    current : Quantity [A], any shape that broadcasts
        In the cable.
    temperature : Quantity [deg_C], scalar
        Of the conductor.

    Returns
    -------
    Quantity [V], broadcast shape
    """
    require_not_negative("length", length, u.m, "Give the length one way.")
    return (2 * length * current * conductor_resistance(cross_section, temperature=temperature)).to(u.V)


def _nearest_section(area: float) -> float | None:
    return next((standard for standard in SERIES_MM2 if np.isclose(area, standard, rtol=1e-6)), None)


def _section(cross_section: u.Quantity[u.mm**2]) -> float:
    """Return the standard cross-section [mm2], or raise `InvalidInputError`."""
    found = _nearest_section(cross_section.to_value(u.mm**2))
    if found is None:
        raise InvalidInputError("cross_section", cross_section, "must be of the standard series",
                                f"The series is {', '.join(f'{area:g}' for area in SERIES_MM2)} mm2.")
    return found
