"""What the column stands on: a pad in the soil, a slab on the ground, a floor, a tripod."""

from collections.abc import Iterator
from dataclasses import dataclass

from astropy import units as u

from planner.checks import Model, plain, quantity
from planner.errors import InvalidInputError
from planner.pier.column.concrete import ANCHORS

KINDS = ("rigid", "pad", "slab", "suspended floor", "tripod")
# Of clay that nobody has tested: 1500 psf, International Building Code (2012), table 1806.2 (sand 96, gravel 144 kPa).
CLAY_PRESSURE = "72 kPa"


@dataclass(frozen=True, kw_only=True)
class Footing(Model):
    """The ground, slab or floor under the column, and the rods that hold its foot plate."""

    kind: str = plain("choice", default="pad", choices=KINDS,
                      remedy="Write rigid, pad, slab, suspended floor or tripod.")
    width: u.Quantity[u.m] = quantity("m", default="0.8 m", more_than=0, at_most=20,
                                      meaning="east to west: of a pad, or of the foot plate on a slab")
    length: u.Quantity[u.m] = quantity("m", default="0.8 m", more_than=0, at_most=20,
                                       meaning="north to south, as the width")
    depth: u.Quantity[u.m] | None = quantity("m", default=None, more_than=0, at_most=10,
                                             meaning="of a pad, from its top to its underside")
    frost_depth: u.Quantity[u.m] | None = quantity("m", default=None, at_least=0, at_most=5,
                                                   meaning="to which the ground freezes here, by the local code")
    bearing_pressure: u.Quantity[u.kPa] = quantity(
        "kPa", default=CLAY_PRESSURE, more_than=0, at_most=20000,
        meaning="that the soil may bear; 72 clay, 96 sand, 144 gravel where nobody has tested it")
    slab_reach: u.Quantity[u.m] | None = quantity("m", default=None, more_than=0, at_most=50,
                                                  meaning="of a slab, from the column to its nearest edge")
    stance: u.Quantity[u.m] = quantity("m", default="1 m", more_than=0, at_most=10,
                                       meaning="of a tripod: diameter of the circle that its feet stand on")
    foot_diameter: u.Quantity[u.mm] = quantity("mm", default="50 mm", more_than=0, at_most=2000,
                                               meaning="of a tripod's foot, or of the board under it")
    staked: bool = plain("truth", default=False, meaning="a tripod's feet are staked or tied down")
    slab_thickness: u.Quantity[u.m] = quantity("m", default="0.12 m", at_least=0, at_most=3)
    shear_wave_speed: u.Quantity[u.m / u.s] = quantity(
        "m/s", default="180 m/s", more_than=30, at_most=4000,
        meaning="in the soil: 100 soft clay, 180 stiff clay, 250 dense sand, 400 gravel, over 800 rock",
        remedy="Give the speed of shear waves in the soil, e.g. 180 m/s.")
    soil_density: u.Quantity[u.kg / u.m**3] = quantity("kg/m3", default="1800 kg/m3", more_than=500, at_most=4000)
    poisson_ratio: float = plain("number", default=0.35, at_least=0, less_than=0.5, meaning="of the soil")
    joist_span: u.Quantity[u.m] | None = quantity("m", default=None, more_than=0, at_most=30,
                                                  meaning="of a suspended floor, wall to wall")
    joist_stiffness: u.Quantity[u.N * u.m**2] | None = quantity(
        "N m2", default=None, more_than=0, meaning="E I of all joists that carry the column, together")
    joists_run: str = plain("choice", default="east-west", choices=("east-west", "north-south"),
                            remedy="Write east-west or north-south.")
    floor_mass: u.Quantity[u.kg / u.m] = quantity("kg/m", default="50 kg/m", more_than=0, at_most=10000,
                                                  meaning="of those joists and their boards per length of joist")
    settlement: u.Quantity[u.mm] = quantity("mm", default="1 mm", at_least=0, at_most=500,
                                            meaning="of one edge of a pad against the other, over the years")
    embedded: bool = plain("truth", default=False,
                           meaning="a metal column is itself set in the concrete of its pad, without foot plate")
    rods: int = plain("whole", default=0, at_least=0, at_most=64, meaning="that hold the foot plate off the concrete")
    rod_diameter: u.Quantity[u.mm] = quantity("mm", default="16 mm", more_than=0, at_most=200,
                                              meaning="of the metal at the root of the thread")
    rod_free_length: u.Quantity[u.mm] = quantity("mm", default="50 mm", more_than=0, at_most=2000,
                                                 meaning="between concrete and plate")
    rod_circle: u.Quantity[u.mm] = quantity("mm", default="200 mm", more_than=0, at_most=5000,
                                            meaning="diameter of the circle the rods stand on")
    plate_thickness: u.Quantity[u.mm] | None = quantity("mm", default=None, more_than=0, at_most=500,
                                                        meaning="of the steel plate that the rods hold")
    anchor: str = plain("choice", default="cast-in", choices=ANCHORS, meaning="how the rods sit in the concrete",
                        remedy=f"Write {', '.join(ANCHORS[:-1])} or {ANCHORS[-1]}.")
    anchor_depth: u.Quantity[u.mm] | None = quantity("mm", default=None, more_than=0, at_most=3000,
                                                     meaning="of the rods in the concrete")

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield a floor without its joists, and rods that do not hold."""
        if self.kind == "suspended floor" and (self.joist_span is None or self.joist_stiffness is None):
            yield InvalidInputError("kind", self.kind, "needs joist_span and joist_stiffness",
                                    "Give the span and E I of the joists that carry the column.")
        if self.rods in (1, 2):
            yield InvalidInputError("rods", self.rods, "must be 0 or at least 3", "Two rods hold a plate one way only.")

    @property
    def joists(self) -> tuple[u.Quantity[u.m], u.Quantity[u.N * u.m**2]] | None:
        """Span and bending stiffness of a suspended floor; None for other footings."""
        if self.kind != "suspended floor" or self.joist_span is None or self.joist_stiffness is None:
            return None
        return self.joist_span, self.joist_stiffness

    @property
    def shear_modulus(self) -> u.Quantity[u.MPa]:
        """Of the soil at the tiny strains of a pier at rest: density times shear-wave speed squared."""
        return (self.soil_density * self.shear_wave_speed**2).to(u.MPa)
