"""What the column stands on, as a rotational spring.

East-west and north-south may differ: a pad that is no square, joists that run one way.
"""

import math
from dataclasses import dataclass
from typing import Annotated, Any

from astropy import units as u

from planner.fields import rows
from planner.pier.column.foot_plate import plate_stiffness, rod_stiffness
from planner.pier.column.footing import Footing

_NM_PER_RAD = u.N * u.m / u.rad


@dataclass(frozen=True, kw_only=True)
class FootingStiffness:
    """Rotational stiffness of the foot; None means rigid."""

    east_west: u.Quantity[u.N * u.m / u.rad] | None  # against tilting to the east or west
    north_south: u.Quantity[u.N * u.m / u.rad] | None
    parts: tuple[tuple[str, u.Quantity, u.Quantity], ...]  # what gives: name, east-west, north-south
    floor_frequency: Annotated[u.Quantity[u.Hz] | None, "of a suspended floor"]
    foot = rows("what gives under the column", lambda footing: footing.parts, name=(str, "what gives"),
                east_west=(_NM_PER_RAD, "stiffness against tilting that way"),
                north_south=(_NM_PER_RAD, "stiffness against tilting that way"))

    @property
    def softer(self) -> u.Quantity[u.N * u.m / u.rad] | None:
        """In the direction in which it gives more."""
        east, north = self.east_west, self.north_south
        return None if east is None or north is None else min(east, north)

    @property
    def softer_way(self) -> str:
        """Name of that direction; ``either way`` if both give alike."""
        east, north = self.east_west, self.north_south
        if east is None or north is None or abs(east / north - 1) < 1e-9:
            return "either way"
        return "east-west" if east < north else "north-south"


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

    `footing`: a slab counts as a pad of the foot plate's size, grown by the slab's thickness all around (load spread
    at 45 degrees, common practice): on the safe side. A suspended floor turns like a beam on two supports under a
    moment at its middle, K = 12 E I/span, the way the joists run; square to them a moment is taken to be carried by a
    third of that (common practice, no source). `column_width`: outer diameter or side of the column on the foot plate;
    without it the plate is taken as rigid.
    None for a rigid foot. The floor's frequency is that of the bare floor, π/(2 l²) √(E I/m) (EN 1995-1-1 eq.
    7.5).
    """
    parts: list[tuple[str, u.Quantity, u.Quantity]] = []
    if footing.kind in ("pad", "slab"):
        grown = 2 * footing.slab_thickness if footing.kind == "slab" else 0 * u.m
        width, length = footing.width + grown, footing.length + grown
        soil: dict[str, Any] = {"shear_modulus": footing.shear_modulus, "poisson_ratio": footing.poisson_ratio}
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
