"""Copper cables: the standard cross-sections, their resistance, the current they may carry, and their fuses."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import Model, plain, quantity
from planner.errors import InvalidInputError

# Largest resistance of plain flexible copper conductors (class 5) at 20 C, ohm per km, by cross-section in mm2.
# Source: IEC 60228:2004 table 3; 0.5 to 2.5 mm2 agree in four cable makers' tables, 4 mm2 and more from memory.
CLASS_5_OHM_PER_KM = {
    0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30, 10.0: 1.91, 16.0: 1.21,
}
# Largest steady current of a flexible cord in air at 30 C, A, by cross-section in mm2: the least of what is printed for
# 60 C cords. 0.5 to 1 mm2: the British flex table (3, 6, 10 A); 1.5 to 4 mm2: a cord maker's table after BS 6500 (15,
# 20, 27 A) and DIN VDE 0298-4 table 11, three cores (25 A, from memory); 6 to 16 mm2: BS 7671 table 4F1A, three cores.
CORD_AMPERE = {0.5: 3.0, 0.75: 6.0, 1.0: 10.0, 1.5: 15.0, 2.5: 20.0, 4.0: 25.0, 6.0: 34.0, 10.0: 47.0, 16.0: 63.0}
# Share left to each of so many loaded cables in one bundle (IEC 60364-5-52 table B.52.17, item 1, from memory).
BUNDLE_SHARE = {1: 1.0, 2: 0.80, 3: 0.70, 4: 0.65, 5: 0.60, 6: 0.57, 7: 0.54, 8: 0.52, 9: 0.50}
# Greatest temperature of an ordinary cord's conductor and the air of the table, C (BS 7671 table 4F1A).
CORD_LIMIT_C, TABLE_AIR_C = 60.0, 30.0
ARROW = " → "  # between the two ends of a cable
SERIES_MM2 = tuple(CLASS_5_OHM_PER_KM)
# Ratings of blade fuses, A (ISO 8820-3, from memory).
FUSE_AMPERE = (1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0)
# A steady current up to this share of a fuse's rating does not age it (common practice).
FUSE_LOADING = 0.8
# A blade fuse opens within 5 s at twice its rating (ISO 8820-3, from memory): what a dead short must reach.
FUSE_FAULT_FACTOR = 2.0

FUSE_RULE = (
    "A fuse stands at the source end of every cable that no fuse before it protects. Its rating is the smallest in the "
    f"series with the greatest current at most {100 * FUSE_LOADING:.0f} % of it, at most what that cable may carry, "
    f"and a dead short at the far end reaches {FUSE_FAULT_FACTOR:g} times it. Local codes decide."
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
    fuse_voltage: u.Quantity[u.V] = quantity("V", default="32 V", more_than=0, at_most=1000,
                                             meaning="a fuse breaks direct current up to it (ISO 8820-3, from memory)")
    fuse_breaking: u.Quantity[u.A] = quantity("A", default="1000 A", more_than=0, at_most=1e6,
                                              meaning="largest current that the fuse breaks (ISO 8820-3, from memory)")
    bundled: int = plain("whole", default=3, at_least=1, at_most=9,
                         meaning="loaded cables in one bundle, this one too (common practice at a mount)",
                         remedy="Count the cables that are tied together, 1 to 9.")

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield a cross-section that is not made."""
        if not math.isclose(_section(self), self.cross_section.value, rel_tol=1e-6):
            yield InvalidInputError("cross_section", self.cross_section, "must be of the standard series",
                                    f"The series is {', '.join(f'{area:g}' for area in SERIES_MM2)} mm2.")

    @property
    def called(self) -> str:
        """What the cable is called: its two ends."""
        return f"{self.source}{ARROW}{self.feeds}"


def ampacity(cable: Cable, *, temperature: u.Quantity[u.deg_C] = TABLE_AIR_C * u.deg_C) -> u.Quantity[u.A]:
    r"""Return the largest steady current of a flexible cord in its bundle and in the air about it.

    .. math:: I = I_{30}\,b\,\sqrt{(60 - t)/30}

    Parameters
    ----------
    cable : Cable
        Its cross-section gives :math:`I_{30}` (`CORD_AMPERE`), its bundle b (`BUNDLE_SHARE`).
    temperature : Quantity [deg_C], scalar
        Of the air. Cold air earns nothing: below 30 °C the root is 1.

    Returns
    -------
    Quantity [A], scalar
        0 from 60 °C on.
    """
    celsius = temperature.to_value(u.deg_C, u.temperature())
    air = min(1.0, float(np.sqrt(max(0.0, CORD_LIMIT_C - celsius) / (CORD_LIMIT_C - TABLE_AIR_C))))
    return CORD_AMPERE[_section(cable)] * BUNDLE_SHARE[cable.bundled] * air * u.A


def loop_resistance(cable: Cable, *, temperature: u.Quantity[u.deg_C] = 20 * u.deg_C) -> u.Quantity[u.ohm]:
    r"""Return the resistance of a cable there and back, connectors included.

    .. math:: R = 2\,l\,\rho_{20}\,\frac{230 + t}{250} + R_{connectors}

    Parameters
    ----------
    cable : Cable
        Its cross-section gives the largest resistance of the standard, :math:`\rho_{20}` (`CLASS_5_OHM_PER_KM`); a real
        cable may be a little better.
    temperature : Quantity [deg_C], scalar
        Of the conductor, -60 to 150 °C.

    Returns
    -------
    Quantity [ohm], scalar
        The factor is 1/1.064 at 5 °C, 1/0.893 at 50 °C, as the table prints it; (234.5 + t)/254.5 is the exact form,
        which differs by 0.4 % at most from -20 to 60 °C.

    References
    ----------
    .. [IEC60228] IEC 60228:2004, annex B; the form of the formula is from memory.
    """
    return loop_resistance_kernel(cable, temperature.to_value(u.deg_C, u.temperature())) * u.ohm


def loop_resistance_kernel(cable: Cable, celsius: float) -> float:
    """Compute `loop_resistance` on plain floats [ohm], for the many solves of a tree that is mended."""
    per_km = CLASS_5_OHM_PER_KM[_section(cable)] * (230 + celsius) / 250
    return float(2 * cable.length.value * per_km / 1000 + cable.connectors.value)


def _section(cable: Cable) -> float:
    """Return the standard cross-section nearest to the cable's [mm2]."""
    return min(SERIES_MM2, key=lambda area: abs(area - cable.cross_section.value))


def fuse_rating(current: u.Quantity[u.A], carries: u.Quantity[u.A]) -> u.Quantity[u.A] | None:
    """Return the rating of the fuse for a cable: the smallest of the series that the current loads to at most 80 %.

    `current`: greatest current of the cable. `carries`: what the cable may carry (`cable.ampacity`).
    None if that rating is more than the cable may carry: the fuse would not protect it.
    """
    wanted = current.to_value(u.A) / FUSE_LOADING
    rating = next((ampere for ampere in FUSE_AMPERE if ampere >= wanted * (1 - 1e-12)), None)
    return None if rating is None or rating > carries.to_value(u.A) else rating * u.A


def protects(rating: u.Quantity | None, carries: u.Quantity, fault: u.Quantity) -> bool:
    """Tell whether a fuse opens before the cable is too hot, and soon after a dead short at the cable's far end."""
    return rating is not None and bool(rating <= carries and fault >= FUSE_FAULT_FACTOR * rating)


def area_text(cross_section: u.Quantity[u.mm**2]) -> str:
    """Return a cross-section as people write it: ``2.5 mm²``."""
    return f"{cross_section.to_value(u.mm**2):g} mm²"
