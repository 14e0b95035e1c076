"""What the column stands on, as a rotational spring: a pad in the soil, a slab on the ground, a floor, a tripod.

East-west and north-south may differ: a pad that is no square, joists that run one way.
"""

import math
from dataclasses import dataclass

from astropy import units as u

from planner.checks import Model, plain, quantity
from planner.errors import InvalidInputError
from planner.pier.column.concrete import ANCHORS
from planner.pier.column.foot_plate import plate_stiffness, rod_stiffness

KINDS = ("rigid", "pad", "slab", "suspended floor", "tripod")
# Of clay that nobody has tested: 1500 psf, International Building Code (2012), table 1806.2 (sand 96, gravel 144 kPa).
CLAY_PRESSURE = "72 kPa"
_NM_PER_RAD = u.N * u.m / u.rad


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

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.kind == "suspended floor" and (self.joist_span is None or self.joist_stiffness is None):
            raise InvalidInputError("footing.kind", self.kind, "needs joist_span and joist_stiffness",
                                    "Give the span and E I of the joists that carry the column.")
        if self.rods in (1, 2):
            raise InvalidInputError("footing.rods", self.rods, "must be 0 or at least 3",
                                    "Two rods hold a plate one way only.")

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


@dataclass(frozen=True, kw_only=True)
class FootingStiffness:
    """Rotational stiffness of the foot; None means rigid."""

    east_west: u.Quantity[u.N * u.m / u.rad] | None  # against tilting to the east or west
    north_south: u.Quantity[u.N * u.m / u.rad] | None
    parts: tuple[tuple[str, u.Quantity, u.Quantity], ...]  # what gives: name, east-west, north-south
    floor_frequency: u.Quantity[u.Hz] | None  # of a suspended floor


def pad_stiffness(width: u.Quantity[u.m], length: u.Quantity[u.m], *, shear_modulus: u.Quantity[u.MPa],
                  poisson_ratio: float) -> u.Quantity[u.N * u.m / u.rad]:
    r"""Return the rocking stiffness of a rigid rectangular pad on elastic ground.

    .. math:: K = \frac{8\,G\,r^3}{3(1-\nu)},\qquad r = \left(\frac{l\,b^3}{3\pi}\right)^{1/4}

    Parameters
    ----------
    width : Quantity [m], any shape
        b, along the direction of the tilt.
    length : Quantity [m], any shape that broadcasts
        l, square to it.
    shear_modulus : Quantity [MPa], scalar
        Of the ground.
    poisson_ratio : float
        Of the ground.

    Returns
    -------
    Quantity [N m/rad], broadcast shape

    Notes
    -----
    Exact for a circle of radius r (Borowicka 1943); the circle that replaces the rectangle has the same second moment
    of area, which is within some 10 % for sides up to 1 : 4. Soil beside an embedded pad makes it stiffer: not counted.

    References
    ----------
    .. [RHW] F. E. Richart, J. R. Hall and R. D. Woods, Vibrations of Soils and Foundations (1970), rocking of a rigid
       circular footing and its equivalent radius; from memory.
    """
    radius = (length * width**3 / (3 * math.pi)) ** 0.25
    return circle_stiffness(radius, shear_modulus=shear_modulus, poisson_ratio=poisson_ratio)


def circle_stiffness(radius: u.Quantity[u.m], *, shear_modulus: u.Quantity[u.MPa], poisson_ratio: float
                     ) -> u.Quantity[u.N * u.m / u.rad]:
    """Return the rocking stiffness of a rigid circular footing, 8 G r³/(3(1 - ν)); see `pad_stiffness`."""
    return (8 * shear_modulus * radius**3 / (3 * (1 - poisson_ratio))).to(u.N * u.m) / u.rad


def tripod_stiffness(footing: Footing) -> u.Quantity[u.N * u.m / u.rad]:
    """Return the rocking stiffness of three feet on elastic ground: 3/2 k r², each k = 4 G a/(1 - ν).

    Its legs and joints are taken as rigid. Settlement of a rigid circle of radius a: [RHW]_ in `pad_stiffness`.
    """
    spring = 4 * footing.shear_modulus * footing.foot_diameter / 2 / (1 - footing.poisson_ratio)
    return (1.5 * spring * (footing.stance / 2) ** 2).to(u.N * u.m) / u.rad


def footing_stiffness(footing: Footing, column_width: u.Quantity[u.mm] | None = None) -> FootingStiffness:
    """Return the rotational stiffness of all that gives below the column, in series.

    Parameters
    ----------
    footing : Footing
        A slab counts as a pad of the foot plate's size, grown by the slab's thickness all around (load spread at
        45 degrees, common practice): on the safe side. A suspended floor turns like a beam on two supports under a
        moment at its middle, K = 12 E I/span, the way the joists run; square to them a moment is taken to be carried
        by a third of that (common practice, no source).
    column_width : Quantity [mm], scalar, optional
        Outer diameter or side of the column on the foot plate; without it the plate is taken as rigid.

    Returns
    -------
    FootingStiffness
        None for a rigid foot. The floor's frequency is that of the bare floor, π/(2 l²) √(E I/m) (EN 1995-1-1 eq. 7.5).
    """
    parts: list[tuple[str, u.Quantity, u.Quantity]] = []
    if footing.kind in ("pad", "slab"):
        grown = 2 * footing.slab_thickness if footing.kind == "slab" else 0 * u.m
        width, length = footing.width + grown, footing.length + grown
        soil = {"shear_modulus": footing.shear_modulus, "poisson_ratio": footing.poisson_ratio}
        parts.append(("soil", pad_stiffness(width, length, **soil), pad_stiffness(length, width, **soil)))
    if footing.joists is not None:
        span, bending = footing.joists
        along = (12 * bending / span).to(u.N * u.m) / u.rad
        pair = (along, along / 3) if footing.joists_run == "east-west" else (along / 3, along)
        parts.append(("joists", *pair))
    if footing.kind == "tripod":
        feet = tripod_stiffness(footing)
        parts.append(("soil", feet, feet))
    if footing.rods:
        rods = rod_stiffness(footing)
        parts.append(("rods under the foot plate", rods, rods))
        if footing.plate_thickness is not None and column_width is not None:
            plate = plate_stiffness(footing, column_width)
            parts.append(("foot plate", plate, plate))
    return FootingStiffness(east_west=_series([part[1] for part in parts]),
                            north_south=_series([part[2] for part in parts]),
                            parts=tuple(parts), floor_frequency=floor_frequency(footing))


def floor_frequency(footing: Footing) -> u.Quantity[u.Hz] | None:
    """Return the first natural frequency of a suspended floor without the column, or None for other footings."""
    if footing.joists is None:
        return None
    span, bending = footing.joists
    return (math.pi / (2 * span**2) * (bending / footing.floor_mass) ** 0.5).to(u.Hz)


def _series(springs: list[u.Quantity]) -> u.Quantity | None:
    """Return the stiffness of springs one on the other, None if there are none."""
    return 1 / sum(1 / spring for spring in springs) if springs else None
