"""The column: a steel or aluminium tube or a concrete pier, and what stands on it and pushes it."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from astropy import units as u

from planner.checks import Model, plain, quantity
from planner.errors import InvalidInputError
from planner.pier.column.concrete import mean_modulus

# Young's modulus and density. Steel: EN 1993-1-1 clause 3.2.6 and EN 1991-1-1 annex A; aluminium: EN 1999-1-1
# clause 3.2.5.
MODULUS = {"steel": 210 * u.GPa, "aluminium": 70 * u.GPa}
DENSITY = {"steel": 7850 * u.kg / u.m**3, "aluminium": 2700 * u.kg / u.m**3,
           "concrete": 2500 * u.kg / u.m**3}  # reinforced, EN 1991-1-1 annex A: 25 kN/m3
# Share of the cross-section that carries shear: solid, thin-walled tube (Timoshenko's coefficient, rounded).
SHEAR_SOLID, SHEAR_TUBE = 0.85, 0.5
# Poisson's ratio: metals, uncracked concrete (EN 1993-1-1 clause 3.2.6, EN 1992-1-1 clause 3.1.3).
POISSON = {"steel": 0.3, "aluminium": 0.3, "concrete": 0.2}


@dataclass(frozen=True, kw_only=True)
class Column(Model):
    """An upright column of even cross-section."""

    material: str = plain("choice", default="steel", choices=("steel", "aluminium", "concrete"),
                          remedy="Write steel, aluminium or concrete.")
    shape: str = plain("choice", default="round", choices=("round", "square"), remedy="Write round or square.")
    height: u.Quantity[u.m] = quantity("m", at_least=0.05, at_most=20, meaning="from the footing to the mount",
                                       remedy="Give the height of the column above its footing.")
    width: u.Quantity[u.mm] = quantity("mm", at_least=5, at_most=3000, meaning="outer diameter or side",
                                       remedy="Give the outer diameter, or the side of a square.")
    wall: u.Quantity[u.mm] | None = quantity("mm", default=None, more_than=0, at_most=1500,
                                             meaning="thickness of a tube's wall; solid if absent")
    fill_density: u.Quantity[u.kg / u.m**3] = quantity(
        "kg/m3", default="0 kg/m3", at_least=0, at_most=12000,
        meaning="of sand or the like in a tube: it damps and weighs, it does not stiffen")
    concrete_strength: u.Quantity[u.MPa] = quantity("MPa", default="25 MPa", at_least=12, at_most=90,
                                                    meaning="f_ck of the class, 25 MPa of C25/30")
    cement: str = plain("choice", default="N", choices=("R", "N", "S"), meaning="hardens rapidly, normally, slowly",
                        remedy="Write R, N or S.")

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield a wall that leaves no tube."""
        if self.wall is not None and self.wall >= self.width / 2:
            yield InvalidInputError("wall", self.wall, f"must be less than half the width, {self.width / 2:g}",
                                    "Leave it out for a solid column.")

    @property
    def modulus(self) -> u.Quantity[u.GPa]:
        """Young's modulus; of concrete that at 28 days, uncracked."""
        return mean_modulus(self.concrete_strength) if self.material == "concrete" else MODULUS[self.material]

    @property
    def area(self) -> u.Quantity[u.m**2]:
        """Of the material, fill apart."""
        factor = math.pi / 4 if self.shape == "round" else 1.0
        return factor * (self.width.to(u.m) ** 2 - self._hollow**2)

    @property
    def second_moment(self) -> u.Quantity[u.m**4]:
        """Second moment of area: π/64 (D⁴ - d⁴) or (b⁴ - c⁴)/12."""
        factor = math.pi / 64 if self.shape == "round" else 1 / 12
        return factor * (self.width.to(u.m) ** 4 - self._hollow**4)

    @property
    def stiffness(self) -> u.Quantity[u.N * u.m**2]:
        """Bending stiffness E I."""
        return (self.modulus * self.second_moment).to(u.N * u.m**2)

    @property
    def mass_per_length(self) -> u.Quantity[u.kg / u.m]:
        """Of the column with its fill."""
        factor = math.pi / 4 if self.shape == "round" else 1.0
        return self.area * DENSITY[self.material] + factor * self._hollow**2 * self.fill_density

    @property
    def mass(self) -> u.Quantity[u.kg]:
        """Of the whole column with its fill."""
        return (self.mass_per_length * self.height).to(u.kg)

    @property
    def shear_share(self) -> float:
        r"""What shear would add to the bending under a push at the top: :math:`6(1 + \nu) I/(\kappa A h^2)`.

        Euler and Bernoulli's beam leaves it out; above some 5 % the column is too stubby for it.
        """
        part = SHEAR_SOLID if self.wall is None else SHEAR_TUBE
        factor = 6 * (1 + POISSON[self.material]) / part
        return float((factor * self.second_moment / (self.area * self.height**2)).to_value(u.one))

    @property
    def section_modulus(self) -> u.Quantity[u.m**3]:
        """Second moment of area over half the width."""
        return 2 * self.second_moment / self.width.to(u.m)

    @property
    def _hollow(self) -> u.Quantity[u.m]:
        return 0 * u.m if self.wall is None else (self.width - 2 * self.wall).to(u.m)


@dataclass(frozen=True, kw_only=True)
class TopLoads(Model):
    """What stands on the column and what pushes it."""

    mass: u.Quantity[u.kg] = quantity("kg", default="40 kg", at_least=0, at_most=5000,
                                      meaning="mount, tube and counterweights together; the balance's, where given")
    centre: u.Quantity[u.mm] = quantity("mm", default="300 mm", at_least=0, at_most=3000,
                                        meaning="height of their common centre above the column's top")
    gyration: u.Quantity[u.mm] = quantity("mm", default="0 mm", at_least=0, at_most=3000,
                                          meaning="radius of gyration of that mass about its centre")
    wind_speed: u.Quantity[u.m / u.s] = quantity("m/s", default="4 m/s", at_least=0, at_most=60,
                                                 meaning="gust at the telescope")
    wind_area: u.Quantity[u.m**2] = quantity("m2", default="0.2 m2", at_least=0, at_most=50,
                                             meaning="of telescope and mount, seen by the wind")
    sheltered: bool = plain("truth", default=False, meaning="the column itself stands out of the wind")
    push: u.Quantity[u.N] = quantity("N", default="10 N", at_least=0, at_most=2000, meaning="of a hand, sideways")
    push_height: u.Quantity[u.mm] = quantity("mm", default="300 mm", at_least=0, at_most=5000,
                                             meaning="of that hand above the column's top")
    unbalanced: u.Quantity[u.kg * u.mm] = quantity("kg mm", default="0 kg mm", at_least=0, at_most=1e6,
                                                   meaning="moment of a weight out of balance")
    storm: u.Quantity[u.m / u.s] = quantity(
        "m/s", default="30 m/s", at_least=0, at_most=100,
        meaning="gust that the pier must survive; your local code has the figure (30 m/s is assumed)")
    mount_frequency: u.Quantity[u.Hz] | None = quantity(
        "Hz", default=None, more_than=0, at_most=200,
        meaning="of mount and tube on a stand that does not give, as a tap on the tube shows it")
    damping: float = plain("number", default=0.01, at_least=0.001, less_than=0.5,
                           meaning="of column, foot and mount together, share of critical: 0.003 to 0.03 (EN 1991-1-4 "
                                   "table F.2: 0.002 of bare welded steel, 0.016 of concrete, from memory)")
    slew_rate: u.Quantity[u.deg / u.s] = quantity("deg/s", default="3 deg/s", at_least=0.01, at_most=60,
                                                  meaning="of the mount")
    sunny_side: u.Quantity[u.K] = quantity("K", default="2 K", at_least=0, at_most=60,
                                           meaning="warmer than the shady side of the column")
    person: u.Quantity[u.kg] = quantity("kg", default="80 kg", at_least=0, at_most=300)
    person_distance: u.Quantity[u.m] = quantity("m", default="1 m", more_than=0, at_most=100,
                                                meaning="of the observer from the column")
