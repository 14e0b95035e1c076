"""What a pad of its own is worth against a slab, for wind and for people who walk."""

from dataclasses import dataclass, replace

from astropy import units as u

from planner.pier.column.footing import Footing
from planner.pier.column.model import Column, TopLoads
from planner.pier.column.motion import wind_bending
from planner.pier.column.standing.buckling import falling_share
from planner.pier.column.steps import person_tilt
from planner.pier.column.stiffness import footing_stiffness

OWN_PAD = 0.8 * u.m  # side of the pad that a slab is held against (common practice, no source)
PLATE_EDGE = 60 * u.mm  # of a foot plate beyond the circle of its rods


@dataclass(frozen=True, kw_only=True)
class Ground:
    """What wind and a person do to a column on one kind of ground."""

    gust: u.Quantity[u.arcsec]
    person: u.Quantity[u.arcsec]


def on_pad_and_slab(column: Column, footing: Footing, loads: TopLoads) -> tuple[Ground, Ground] | None:
    """Return the same column on a pad of its own and bolted to a slab; None if it stands on neither."""
    if footing.kind not in ("pad", "slab"):
        return None
    plate = max(footing.rod_circle.to(u.m) + PLATE_EDGE, column.width.to(u.m))
    pad = footing if footing.kind == "pad" else replace(footing, kind="pad", width=OWN_PAD, length=OWN_PAD)
    slab = footing if footing.kind == "slab" else replace(footing, kind="slab", width=plate, length=plate)
    return _on(column, pad, loads), _on(column, slab, loads)


def isolation_words(column: Column, footing: Footing, loads: TopLoads) -> str:
    """Return one sentence on pad against slab; empty if the column stands on neither."""
    both = on_pad_and_slab(column, footing, loads)
    if both is None:
        return ""
    pad, slab = both
    return (f"On a pad of its own a steady gust of {loads.wind_speed.value:g} m/s tilts it by {pad.gust.value:.2f}″, "
            f"on a slab of {footing.slab_thickness:g} by {slab.gust.value:.2f}″; a person {loads.person_distance:g} "
            f"away by {pad.person.value:.2f}″ and {slab.person.value:.2f}″. A pad also keeps away the "
            "shaking of a slab under steps, and of walls that stand on it.")


def _on(column: Column, footing: Footing, loads: TopLoads) -> Ground:
    spring = footing_stiffness(footing, column.width).softer
    gust = wind_bending(column, loads, spring, falling_share(column, loads, spring)).angle
    return Ground(gust=gust, person=person_tilt(footing, mass=loads.person, distance=loads.person_distance))
